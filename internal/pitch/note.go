package pitch

import (
	"fmt"
	"math"
	"strconv"
)

// NoteName names a note number for the key: "C4" for 60 in C. The octave
// number is the one written: note 59 is "Cb4" in Gb, note 60 "B#3" in C#.
func NoteName(note int, k Key) string { return k.Spell(ClassOf(note)).Note(note) }

// Note writes a note number under this name, which must be one of its spellings:
// "Cb4" for 59, "B#3" for 60.
func (name Name) Note(note int) string {
	natural := note - int(name.Alter)
	octave := (natural-floorMod(natural, 12))/12 - 1
	return name.String() + strconv.Itoa(octave)
}

// ParseNote reads a note name with its octave, as in "C4" (60), "Bb3", "F#-1",
// and returns its number, 0…127. Octaves start at C, and "Cb4" is 59.
func ParseNote(s string) (int, error) {
	name, rest, err := ParseName(s)
	if err != nil {
		return 0, fmt.Errorf("unknown note %q: %w", s, err)
	}
	octave, err := strconv.Atoi(rest)
	if err != nil || rest[0] == '+' {
		return 0, fmt.Errorf("unknown note %q: after the name write an octave number -1 to 9, as in C4", s)
	}
	note := 12*(octave+1) + naturals[name.Letter] + int(name.Alter)
	if octave < -1 || octave > 9 || note < 0 || note > 127 {
		return 0, fmt.Errorf("note %q is out of range C-1 to G9", s)
	}
	return note, nil
}

// Frequency returns the equal-tempered frequency of a note number in hertz,
// with A4, number 69, at 440 Hz (ISO 16:1975). Fractions of a note are allowed.
func Frequency(note float64) float64 {
	return 440 * math.Exp2((note-69)/12)
}
