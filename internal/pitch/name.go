package pitch

import (
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"
)

// Name is a spelled pitch without its octave. Names that sound alike but are
// written differently, such as C# and Db, are different values. The zero
// value is C.
type Name struct {
	Letter int8 // 0…6 for C D E F G A B
	Alter  int8 // sharps when positive, flats when negative
}

const letters = "CDEFGAB"

// naturals holds the semitones of the letters above C.
var naturals = [7]int{0, 2, 4, 5, 7, 9, 11}

// ParseName reads a note name at the start of s and returns what follows it.
//
// A name is a capital letter A to G and at most two accidentals of one kind:
// b, ♭, 𝄫 or #, ♯, x, 𝄪. As many as fit are taken, so that "Bbb9" is Bbb
// followed by "9". A third accidental of the same kind is an error.
func ParseName(s string) (n Name, rest string, err error) {
	if s == "" {
		return Name{}, s, errors.New("no note name: write a capital letter A to G, then b or # where needed")
	}
	letter := strings.IndexByte(letters, s[0])
	if letter < 0 {
		first, _ := utf8.DecodeRuneInString(s)
		return Name{}, s, fmt.Errorf("%q does not start a note name: write a capital letter A to G, then b or # where needed", first)
	}
	alter, rest := accidentals(s[1:])
	if alter < -2 || alter > 2 {
		return Name{}, s, fmt.Errorf("%q has more than two accidentals: write at most bb or ##", s[:len(s)-len(rest)])
	}
	return Name{Letter: int8(letter), Alter: int8(alter)}, rest, nil
}

// accidentals reads a run of sharps or a run of flats, whichever comes first,
// and stops after the third, which no name has.
func accidentals(s string) (alter int, rest string) {
	for -3 < alter && alter < 3 {
		r, size := utf8.DecodeRuneInString(s)
		step := 0
		switch r {
		case '#', '♯':
			step = 1
		case 'x', '𝄪':
			step = 2
		case 'b', '♭':
			step = -1
		case '𝄫':
			step = -2
		}
		if step == 0 || step*alter < 0 {
			break
		}
		alter += step
		s = s[size:]
	}
	return alter, s
}

// Class returns the pitch class the name sounds.
func (n Name) Class() Class {
	return ClassOf(naturals[n.Letter] + int(n.Alter))
}

// String writes the name in ASCII: "Bb", "F#", "F##".
func (n Name) String() string {
	sign, count := "#", int(n.Alter)
	if count < 0 {
		sign, count = "b", -count
	}
	return letters[n.Letter:n.Letter+1] + strings.Repeat(sign, count)
}

// Interval is a spelled distance upwards: a major third is 2 steps of the
// alphabet and 4 semitones. Both are negative for a distance downwards.
type Interval struct {
	Steps     int8
	Semitones int8
}

// Up returns the name at the interval above n. The result may carry more than
// two accidentals: a diminished seventh above Cb is Bbbb.
func (n Name) Up(i Interval) Name {
	steps := int(n.Letter) + int(i.Steps)
	letter := floorMod(steps, 7)
	octaves := (steps - letter) / 7
	alter := naturals[n.Letter] + int(n.Alter) + int(i.Semitones) - naturals[letter] - 12*octaves
	return Name{Letter: int8(letter), Alter: int8(alter)}
}

// To returns the interval from n up to the next m, 0…6 steps, so that
// n.Up(n.To(m)) is m. With equal letters the steps are 0 and the semitones are
// the difference of the accidentals.
func (n Name) To(m Name) Interval {
	steps := int(m.Letter) - int(n.Letter)
	semitones := naturals[m.Letter] + int(m.Alter) - naturals[n.Letter] - int(n.Alter)
	if steps < 0 {
		steps += 7
		semitones += 12
	}
	return Interval{Steps: int8(steps), Semitones: int8(semitones)}
}

// fifths returns the place of the name on the line of fifths: … Bb -2, F -1,
// C 0, G 1, D 2 …
func (n Name) fifths() int {
	return [7]int{0, 2, 4, -1, 1, 3, 5}[n.Letter] + 7*int(n.Alter)
}

// nameAtFifths is the inverse of fifths.
func nameAtFifths(place int) Name {
	const fromF = "FCGDAEB"
	i := floorMod(place+1, 7)
	return Name{
		Letter: int8(strings.IndexByte(letters, fromF[i])),
		Alter:  int8((place + 1 - i) / 7),
	}
}
