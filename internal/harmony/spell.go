package harmony

import (
	"math/bits"
	"slices"

	"bedd/internal/pitch"
)

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

// rootName spells a root as the key does, or, where it is not in the key's
// scale, under its other name if more of the chord's tones are then names of the
// key, and no double accidental is in the way: in C, Db is a chord and C#dim is
// one.
func (q quality) rootName(k pitch.Key, root pitch.Class) pitch.Name {
	own := k.Spell(root)
	scale := k.Scale()
	step := int8(1)
	switch {
	case own.Alter == 0 || slices.Contains(scale[:], own):
		return own
	case own.Alter < 0:
		step = -1
	}
	other := own.Up(pitch.Interval{Steps: step})
	if q.namesIn(k, other) > q.namesIn(k, own) {
		return other
	}
	return own
}

// namesIn counts the tones above the root whose names are the key's own; a root
// with a double accidental counts two less.
func (q quality) namesIn(k pitch.Key, root pitch.Name) int {
	count := 0
	if root.Alter < -1 || root.Alter > 1 {
		count = -2
	}
	scale := k.Scale()
	for rest := q; rest != 0; rest &= rest - 1 {
		n := root.Up(tones[bits.TrailingZeros32(uint32(rest))].Interval)
		if slices.Contains(scale[:], n) {
			count++
		}
	}
	return count
}

// bassName spells a bass as a tone of the chord where it is one, but never calls
// a natural of the key by an accidental's name: E7#5/C, not E7#5/B#.
func (q quality) bassName(root pitch.Name, bass pitch.Class, k pitch.Key) pitch.Name {
	own := k.Spell(bass)
	if own.Alter == 0 {
		return own
	}
	for i, t := range tones {
		if n := root.Up(t.Interval); q&(1<<i) != 0 && n.Class() == bass {
			return plain(n, k)
		}
	}
	return own
}
