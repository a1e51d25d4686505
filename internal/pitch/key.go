package pitch

import (
	"fmt"
	"strings"
)

// Key is a tonic and a mode, major or minor. The zero value is C major.
type Key struct {
	Tonic Name
	Minor bool
}

// ParseKey reads "C", "Eb", "F# major", "F#m", "A minor". The tonic is a
// capital letter with at most one accidental; a small letter is not read as
// minor. After the tonic, with or without a blank: nothing, M, maj or major
// for major; m, min or minor for minor.
func ParseKey(s string) (Key, error) {
	tonic, rest, err := ParseName(strings.TrimSpace(s))
	if err != nil {
		return Key{}, fmt.Errorf("unknown key %q: %w", s, err)
	}
	if tonic.Alter < -1 || tonic.Alter > 1 {
		return Key{}, fmt.Errorf("unknown key %q: a key has at most one sharp or flat in its name", s)
	}
	switch strings.TrimLeft(rest, " ") {
	case "", "M", "maj", "major":
		return Key{Tonic: tonic}, nil
	case "m", "min", "minor":
		return Key{Tonic: tonic, Minor: true}, nil
	}
	return Key{}, fmt.Errorf("unknown key %q: after the tonic write nothing or major, m or minor, as in Eb, F#m, A minor", s)
}

// String writes the key as ParseKey reads it: "Eb", "F#m".
func (k Key) String() string {
	if k.Minor {
		return k.Tonic.String() + "m"
	}
	return k.Tonic.String()
}

var (
	majorScale = [7]int8{0, 2, 4, 5, 7, 9, 11}
	minorScale = [7]int8{0, 2, 3, 5, 7, 8, 10}
)

// Scale returns the seven names from the tonic up; minor is natural minor.
func (k Key) Scale() [7]Name {
	semitones := majorScale
	if k.Minor {
		semitones = minorScale
	}
	var scale [7]Name
	for i := range scale {
		scale[i] = k.Tonic.Up(Interval{Steps: int8(i), Semitones: semitones[i]})
	}
	return scale
}

// Classes returns the pitch classes of the scale.
func (k Key) Classes() Set {
	var s Set
	for _, n := range k.Scale() {
		s = s.Add(n.Class())
	}
	return s
}

// Signature returns the number of sharps, or of flats as a negative number.
// The 30 keys that can be written have -7…7; a key beyond them, such as
// G# major (8), gives the number its scale would need.
func (k Key) Signature() int {
	if k.Minor {
		return k.Tonic.fifths() - 3
	}
	return k.Tonic.fifths()
}

// Relative returns the key with the same signature in the other mode.
func (k Key) Relative() Key {
	if k.Minor {
		return Key{Tonic: k.Tonic.Up(Interval{Steps: 2, Semitones: 3})}
	}
	return Key{Tonic: k.Tonic.Up(Interval{Steps: 5, Semitones: 9}), Minor: true}
}

// Spell returns the name of a class in the key: the scale's own name where
// there is one, else the one nearest to the scale on the line of fifths. One
// class is equally far on both sides: it is the flat sixth in major (Ab in C)
// and the raised seventh in minor (G# in A minor).
func (k Key) Spell(c Class) Name {
	const scaleMiddle = 2 // the scale's middle fifth is the major tonic's second
	middle := k.Signature() + scaleMiddle
	lowest := middle - 6
	if k.Minor {
		lowest = middle - 5
	}
	return spellFrom(lowest, c)
}

// spellFrom returns the name of the class among the twelve names from the
// given place up the line of fifths, which hold every class once. A class is
// 7 × place modulo 12, and 7 × 7 leaves 1, so its place is 7 × class.
func spellFrom(lowest int, c Class) Name {
	return nameAtFifths(lowest + floorMod(7*int(c)-lowest, 12))
}

// Transpose returns the key that many semitones higher, or lower when
// negative, under its practical name, of at most six accidentals: major Db F#
// Ab B, minor C# Eb F# G# Bb. A key of at most six accidentals moved by whole
// octaves keeps its own name.
func (k Key) Transpose(semitones int) Key {
	if signature := k.Signature(); floorMod(semitones, 12) == 0 && -6 <= signature && signature <= 6 {
		return k
	}
	lowest := -5 // on the line of fifths: Db Ab … B F#
	if k.Minor {
		lowest = -3 // Eb Bb … C# G#
	}
	c := k.Tonic.Class().Up(semitones)
	return Key{Tonic: spellFrom(lowest, c), Minor: k.Minor}
}
