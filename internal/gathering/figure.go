package gathering

import (
	"fmt"
	"strings"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// A figure has this many notes at most, and two at least.
const maxFigure = 64

// ParseFigure reads a melodic figure as MIDI note numbers: 2 to 64 notes by
// name or by degree of the key, with blanks or bars between them.
//
// A name with an octave is that note (C4 is 60). A name without one, or a degree,
// is the nearest to the note before by its letters, a fourth at most, as in
// LilyPond's relative octaves; the first is between C4 and B4. After it ' goes an
// octave up, a comma one down, as often as they stand there: in C, 1 5 is C4 G3 and
// 1 5' is C4 G4.
func ParseFigure(s string, k pitch.Key, n harmony.Numbers) ([]int, error) {
	if n == harmony.Relative && k.Minor {
		k = k.Relative()
	}
	var notes []int
	last := staff{letter: 0, octave: 4}
	for i, word := range strings.FieldsFunc(s, func(c rune) bool { return c == '|' || c == ' ' || c == '\t' }) {
		place, err := figureNote(word, k, last, i == 0)
		if err != nil {
			return nil, fmt.Errorf("note %d of the figure, %q: %w", i+1, clip(word), err)
		}
		note := place.note()
		if note < 0 || note > 127 {
			return nil, fmt.Errorf("note %d of the figure, %q: it lies beyond the notes C-1 to G9", i+1, clip(word))
		}
		if len(notes) == maxFigure {
			return nil, fmt.Errorf("a figure has at most %d notes", maxFigure)
		}
		notes, last = append(notes, note), place
	}
	if len(notes) < 2 {
		return nil, fmt.Errorf("a figure has at least two notes: write names or degrees with blanks between them, as in G4 C5 B4 or 5 1 7")
	}
	return notes, nil
}

// staff is a note by its place on the staff.
type staff struct {
	letter, octave int
	alter          int
}

func (p staff) note() int {
	return 12*(p.octave+1) + int(pitch.Name{Letter: int8(p.letter)}.Class()) + p.alter
}

// near puts a name beside another note, a fourth from it at most.
func near(name pitch.Name, last staff) staff {
	p := staff{letter: int(name.Letter), octave: last.octave, alter: int(name.Alter)}
	switch steps := p.letter - last.letter; {
	case steps > 3:
		p.octave--
	case steps < -3:
		p.octave++
	}
	return p
}

func figureNote(word string, k pitch.Key, last staff, first bool) (staff, error) {
	body := strings.TrimRight(word, "',’")
	marks := word[len(body):]
	var name pitch.Name
	if body != "" && 'A' <= body[0] && body[0] <= 'G' {
		n, rest, err := pitch.ParseName(body)
		switch {
		case err != nil:
			return staff{}, err
		case rest != "":
			if marks != "" {
				return staff{}, fmt.Errorf("an octave is a number or marks, not both")
			}
			note, err := pitch.ParseNote(body)
			if err != nil {
				return staff{}, err
			}
			natural := note - int(n.Alter)
			return staff{letter: int(n.Letter), octave: natural/12 - 1, alter: int(n.Alter)}, nil
		}
		name = n
	} else {
		degree := strings.TrimLeft(body, "b#♭♯")
		if len(degree) != 1 || degree[0] < '1' || degree[0] > '7' {
			return staff{}, fmt.Errorf("a note is a name, as in C4 or Bb, or a degree 1 to 7, after b or # where needed")
		}
		name = k.Scale()[degree[0]-'1']
		for _, c := range strings.TrimSuffix(body, degree) {
			if c == 'b' || c == '♭' {
				name.Alter--
			} else {
				name.Alter++
			}
		}
		if name.Alter < -2 || name.Alter > 2 {
			return staff{}, fmt.Errorf("it is no note in %v: at most two flats or sharps are read", k)
		}
	}
	p := near(name, last)
	if first {
		p.octave = last.octave
	}
	for _, c := range marks {
		if c == ',' {
			p.octave--
		} else {
			p.octave++
		}
	}
	return p, nil
}
