// Package harmony has chords and progressions: parse, spell, number, compare,
// route between keys.
package harmony

import "bedd/internal/pitch"

// Role is what a tone does in its chord.
type Role uint8

// The roles, in the order Tones lists them.
const (
	RootTone Role = iota
	Suspension
	Third
	Fifth
	Sixth
	Seventh
	Ninth
	Eleventh
	Thirteenth
)

// String names the role in small letters.
func (r Role) String() string {
	names := [...]string{"root", "suspension", "third", "fifth", "sixth", "seventh", "ninth", "eleventh", "thirteenth"}
	if int(r) < len(names) {
		return names[r]
	}
	return "no role"
}

// Tone is one tone of a chord: how far above the root it is spelled, and what
// it does there. Ninths, elevenths and thirteenths lie above the octave: a
// ninth is 8 steps and 14 semitones.
type Tone struct {
	Interval pitch.Interval
	Role     Role
}

// Chord is a root, the tones above it, and a bass, which is the root unless
// the chord is written with a slash. Chords are equal when they are spelled
// alike and have the same tones in the same roles. The zero value is not a
// chord: it has no tones.
type Chord struct {
	Root pitch.Name
	Bass pitch.Name

	quality quality
}

// IsZero reports whether c is the zero Chord, which sounds nothing.
func (c Chord) IsZero() bool {
	return c == Chord{}
}

// Tones appends the chord's tones to buf, the root first, then in the order of
// their roles. A slash bass is not one of them.
// Hot path: no allocation when buf has room for 12.
func (c Chord) Tones(buf []Tone) []Tone {
	for i, t := range tones {
		if c.quality&(1<<i) != 0 {
			buf = append(buf, t)
		}
	}
	return buf
}

// Classes returns what the chord sounds: its tones, and its bass.
func (c Chord) Classes() pitch.Set {
	if c.IsZero() {
		return 0
	}
	return c.sounding(c.quality).Add(c.BassClass())
}

// Identity returns the tones that tell the chord apart besides its root: the
// third or the suspension in its place, an altered fifth, the seventh or
// sixth, and the ninth, eleventh or thirteenth that names it or is altered or
// added. The root, a plain fifth, a slash bass, and the tones that a taller
// chord only implies (the ninth of C13) are not among them.
func (c Chord) Identity() pitch.Set {
	q := c.quality &^ (unison | perfectFifth)
	if q&sevenths != 0 && q&(perfectEleventh|majorThirteenth) != 0 {
		q &^= majorNinth
	}
	return c.sounding(q)
}

// Altered returns the tones that are asked for although they rub: b5, #5, b9,
// #9, #11 and b13.
func (c Chord) Altered() pitch.Set {
	return c.sounding(c.quality & alterations)
}

func (c Chord) sounding(q quality) pitch.Set {
	return q.classes().Transpose(int(c.Root.Class()))
}

// BassClass returns the class of the chord's lowest note.
func (c Chord) BassClass() pitch.Class {
	return c.Bass.Class()
}

// SoundsLike reports whether both chords have the same classes over the same
// bass, however they are spelled.
func (c Chord) SoundsLike(d Chord) bool {
	return c.Classes() == d.Classes() && c.BassClass() == d.BassClass()
}

// Slash reports whether the bass is another note than the root.
func (c Chord) Slash() bool {
	return c.Bass != c.Root
}

// Transpose moves the chord by the interval between the tonics, up or down
// alike: from F to G, Bb becomes C. Names that would need more than two
// accidentals are respelled.
func (c Chord) Transpose(from, to pitch.Key) Chord {
	move := from.Tonic.To(to.Tonic)
	root := plain(c.Root.Up(move), to)
	bass := root
	if c.Slash() {
		bass = plain(root.Up(c.Root.To(c.Bass)), to)
	}
	return Chord{Root: root, Bass: bass, quality: c.quality}
}

// plain returns n, or what k calls it when n has more than two accidentals.
func plain(n pitch.Name, k pitch.Key) pitch.Name {
	if n.Alter < -2 || n.Alter > 2 {
		return k.Spell(n.Class())
	}
	return n
}
