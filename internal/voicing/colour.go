package voicing

import (
	"fmt"
	"strings"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Palette is what may be done to a chord besides its own tones: which notes of
// the key may be added, and whether its third is replaced or left out. The zero
// value is plain: chord tones only.
type Palette uint8

// The colours. What is added is a note of the key that keeps the hard rules, no
// more of them at once than [Settings.Colours]; where the key has none, nothing
// is added. The last two are carried out on every chord that has a third over a
// perfect fifth, unless that third is its bass.
const (
	AddNinth    Palette = 1 << iota // add 2 or 9
	AddEleventh                     // add 4 or 11
	AddSixth                        // 6 or 13
	AddSeventh                      // the key's seventh
	Suspend                         // the key's fourth for the third, or its second where the fourth rubs
	OpenFifths                      // no third: root and fifth, doubled

	AnyColour = AddNinth | AddEleventh | AddSixth | AddSeventh
)

// colourWords are the words of ParsePalette, the one that String writes first.
var colourWords = []struct {
	word string
	p    Palette
}{
	{"any", AnyColour}, {"plain", 0},
	{"9", AddNinth}, {"11", AddEleventh}, {"6", AddSixth}, {"7", AddSeventh},
	{"sus", Suspend}, {"open", OpenFifths},
	{"2", AddNinth}, {"add2", AddNinth}, {"add9", AddNinth}, {"4", AddEleventh}, {"13", AddSixth},
}

// ParsePalette reads "any", "plain", or some of 9, 11, 6, 7, sus and open with
// blanks or commas between them. 2, add2 and add9 are 9; 4 is 11; 13 is 6. A
// suspended chord is not open: sus and open together are open where nothing can
// be suspended.
func ParsePalette(s string) (Palette, error) {
	words := strings.FieldsFunc(s, func(c rune) bool { return c == ' ' || c == ',' })
	if len(words) == 0 {
		return 0, fmt.Errorf("no colour is named: %s", colourHint)
	}
	var p Palette
	for _, w := range words {
		one, ok := colourNamed(w)
		switch {
		case !ok:
			return 0, fmt.Errorf("colour %q is not known: %s", w, colourHint)
		case one == 0 && len(words) > 1:
			return 0, fmt.Errorf("plain stands alone, not beside other colours: %q", s)
		}
		p |= one
	}
	return p, nil
}

const colourHint = "use any, plain, or some of 9, 11, 6, 7, sus, open"

func colourNamed(word string) (Palette, bool) {
	for _, c := range colourWords {
		if c.word == word {
			return c.p, true
		}
	}
	return 0, false
}

// String writes the palette as ParsePalette reads it.
func (p Palette) String() string {
	if p == 0 {
		return "plain"
	}
	var words []string
	for _, c := range colourWords {
		if c.p != 0 && p&c.p == c.p {
			words = append(words, c.word)
			p &^= c.p
		}
	}
	return strings.Join(words, " ")
}

// has reports whether the palette may add the note that lies that many
// semitones, −11…11, from the root. Thirds and fifths are in no palette: a chord
// that is written without one stays without.
func (p Palette) has(semitones int) bool {
	return p&[12]Palette{
		1: AddNinth, 2: AddNinth, 5: AddEleventh, 6: AddEleventh,
		8: AddSixth, 9: AddSixth, 10: AddSeventh, 11: AddSeventh,
	}[(semitones+12)%12] != 0
}

// withoutThird carries out Suspend and OpenFifths: it takes the third of c out
// of t, or puts the key's fourth or second in its place.
func (t *tonality) withoutThird(c harmony.Chord, palette Palette) {
	if palette&(Suspend|OpenFifths) == 0 {
		return
	}
	third, ok := thirdOverFifth(c)
	if !ok || third == t.bass {
		return
	}
	open := *t
	open.tones, open.identity = t.tones.Without(third), t.identity.Without(third)
	open.rivals = t.rivals.Add(up(t.root, 3)).Add(up(t.root, 4))
	if palette&Suspend != 0 {
		scale := t.key.Classes()
		for _, semitones := range [2]int{5, 2} {
			if s := up(t.root, semitones); scale.Has(s) && open.accepts(s) {
				open.tones, open.identity = open.tones.Add(s), open.identity.Add(s)
				if *t = open; semitones == 5 {
					t.rivals = t.rivals.Add(up(t.root, 11)) // a tritone from the fourth
				}
				return
			}
		}
	}
	if palette&OpenFifths != 0 {
		*t = open
	}
}

// thirdOverFifth gives the third of a chord that has a perfect fifth.
func thirdOverFifth(c harmony.Chord) (third pitch.Class, ok bool) {
	hasThird, hasFifth := false, false
	var room [12]harmony.Tone
	for _, tone := range c.Tones(room[:0]) {
		switch {
		case tone.Role == harmony.Third:
			third, hasThird = up(c.Root.Class(), int(tone.Interval.Semitones)), true
		case tone.Role == harmony.Fifth && tone.Interval.Semitones == 7:
			hasFifth = true
		}
	}
	return third, hasThird && hasFifth
}
