package harmony

import "bedd/internal/pitch"

// Spell gives the name of a pitch class under the chord in a key: a tone of the
// chord as the chord spells it, its bass as written, any other note as the key
// does. In C, the third of Abm is Cb. No allocation.
func (c Chord) Spell(class pitch.Class, k pitch.Key) pitch.Name {
	if c.BassClass() == class {
		return c.Bass
	}
	for i, t := range tones {
		if c.quality&(1<<i) != 0 {
			if name := c.Root.Up(pitch.Interval{Steps: t.Interval.Steps % 7, Semitones: t.Interval.Semitones % 12}); name.Class() == class {
				return name
			}
		}
	}
	return k.Spell(class)
}
