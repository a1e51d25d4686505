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
// scale, under its other name if the chord then has more names of the key or
// fewer that are hard to read: in C, Db is a chord and C#dim is one.
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

// namesIn counts the tones above the root whose names are the key's own, less
// what is hard to read: two for a root with a double accidental, one for another
// tone with one, one for a white key's root under a black key's name.
func (q quality) namesIn(k pitch.Key, root pitch.Name) int {
	scale := k.Scale()
	count := 0
	for rest := q; rest != 0; rest &= rest - 1 {
		n := root.Up(tones[bits.TrailingZeros32(uint32(rest))].Interval)
		switch {
		case slices.Contains(scale[:], n):
			count++
		case n == root && double(n):
			count -= 2
		case double(n), n == root && n.Alter != 0 && !black.Has(n.Class()):
			count--
		}
	}
	return count
}

var black = pitch.SetOf(1, 3, 6, 8, 10)

func double(n pitch.Name) bool { return n.Alter < -1 || n.Alter > 1 }

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
