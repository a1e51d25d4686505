package page

import (
	"fmt"
	"net/url"
	"slices"
	"strconv"

	"bedd/internal/glance"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// transposing is how a reader wants the chords: by how many semitones their names
// are moved, −11…11, or 0 for everything as it sounds. A guitar with a capo at the
// third fret reads three semitones lower, a clarinet in Bb two higher.
type transposing int

// parseTransposing reads it from a page's query: transpose=-3.
func parseTransposing(query url.Values) (transposing, error) {
	text := query.Get("transpose")
	if text == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < -11 || n > 11 {
		return 0, fmt.Errorf("transpose is a number of semitones, -11…11")
	}
	return transposing(n), nil
}

// unreadable stands for a chord whose name cannot be read: a chord in the wrong
// key would be worse than none.
const unreadable = "?"

// model gives what the reader sees. Where the names are moved, the key that sounds
// stays beside the one that is read, and what belongs to the keyboard is left out.
// Songs and what is being chosen stay in the keys that sound.
func (t transposing) model(m glance.Model) glance.Model {
	if t == 0 {
		return m
	}
	m.Notes, m.Missing, m.Foot, m.FootAt, m.News, m.Fingers = nil, nil, "", 0, nil, unreadable
	from, err := pitch.ParseKey(m.Key)
	if err != nil {
		m.Chord, m.Next, m.Landing = unreadable, unreadable, nil
		return m
	}
	to := from.Transpose(int(t))
	m.Fingers = to.String()
	m.Chord, m.Next = moved(m.Chord, from, to), moved(m.Next, from, to)
	m.Landing = slices.Clone(m.Landing) // other readers have it as it is
	for i, c := range m.Landing {
		m.Landing[i] = moved(c, from, to)
	}
	return m
}

func moved(symbol string, from, to pitch.Key) string {
	chord, err := harmony.ParseChord(symbol)
	if err != nil {
		return unreadable
	}
	return chord.Transpose(from, to).Symbol()
}
