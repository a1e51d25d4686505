package voicing

import (
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// SafeUse is what a safe note is good for.
type SafeUse uint8

// The uses, in the order in which safe notes are listed.
const (
	HeldOver  SafeUse = iota // rests on the chord and on the next one
	Tone                     // rests on the chord
	Neighbour                // a step from a note that rests, to which it goes on
)

// String names the use in small letters.
func (u SafeUse) String() string {
	return [...]string{HeldOver: "held", Tone: "tone", Neighbour: "neighbour"}[u]
}

// SafeNote is a note for the player's right hand: To is where a neighbour goes
// on to, the note itself where it may rest.
type SafeNote struct {
	Note, To uint8
	Use      SafeUse
}

// SafeNotes appends to dst what a right hand may play between low and high,
// inclusive, while v sounds under chord c, and next follows with voicing w; the
// zero next means that nothing is known to follow.
//
// First come the notes that rest on both chords, then those that rest on this
// one, then neighbours, each part ascending. What rests is a tone of the chord or
// a note that the bed sounds, in any octave, unless it lies a semitone above
// another of them: against that it is a minor ninth. A tone that the bed suspends,
// sounding the note a semitone above in its place, does not rest. Neighbours are the other notes
// of the key, and those tones, that lie a step from a note that rests; but where
// the chord alters a note of the key, that one is left out: over Fm in C, A
// contradicts its Ab. They go to the nearest, down rather than up where both are as near, as suspensions do
// (common practice, no source).
// Hot path: no allocation when dst has room for high−low+1 more; O(high−low).
func SafeNotes(dst []SafeNote, c harmony.Chord, v *Voicing, next harmony.Chord, w *Voicing, key pitch.Key, low, high uint8) []SafeNote {
	heard := heardUnder(c, v)
	rest := restful(c, heard)
	held := rest.Intersect(restful(next, heardUnder(next, w)))
	if next.IsZero() {
		held = 0
	}
	dst = appendResting(dst, held, HeldOver, low, high)
	dst = appendResting(dst, rest.Minus(held), Tone, low, high)
	passing := unaltered(c, key).Union(heard).Union(c.Classes()).Minus(rest)
	for n := int(low); n <= int(high); n++ {
		if !passing.Has(pitch.ClassOf(n)) {
			continue
		}
		for _, step := range [4]int{-1, 1, -2, 2} {
			if to := n + step; to >= int(low) && to <= int(high) && rest.Has(pitch.ClassOf(to)) {
				dst = append(dst, SafeNote{uint8(n), uint8(to), Neighbour})
				break
			}
		}
	}
	return dst
}

// unaltered gives the notes of the key whose letter no tone of the chord bears
// with another accidental.
func unaltered(c harmony.Chord, key pitch.Key) (s pitch.Set) {
	var room [12]harmony.Tone
	tones := c.Tones(room[:0])
	for _, own := range key.Scale() {
		altered := false
		for _, tone := range tones {
			name := c.Root.Up(pitch.Interval{Steps: tone.Interval.Steps % 7, Semitones: tone.Interval.Semitones % 12})
			altered = altered || name.Letter == own.Letter && name != own
		}
		if !altered {
			s = s.Add(own.Class())
		}
	}
	return s
}

// heardUnder gives the tones of c and what v sounds, without what v suspends.
func heardUnder(c harmony.Chord, v *Voicing) pitch.Set {
	tones, sounding := c.Classes(), v.Classes()
	suspended := sounding.Minus(tones).Transpose(-1).Minus(sounding)
	return tones.Minus(suspended).Union(sounding)
}

// restful gives the classes of s that do not lie a semitone above another. The
// third rests beside the sharp ninth that the chord's own name asks for.
func restful(c harmony.Chord, s pitch.Set) pitch.Set {
	third := pitch.Set(0)
	var room [12]harmony.Tone
	for _, tone := range c.Tones(room[:0]) {
		if k := c.Root.Class().Up(int(tone.Interval.Semitones)); tone.Role == harmony.Third && c.Classes().Has(k.Up(-1)) {
			third = third.Add(k)
		}
	}
	return s.Minus(s.Transpose(1)).Union(third.Intersect(s))
}

func appendResting(dst []SafeNote, s pitch.Set, use SafeUse, low, high uint8) []SafeNote {
	for n := int(low); n <= int(high); n++ {
		if s.Has(pitch.ClassOf(n)) {
			dst = append(dst, SafeNote{uint8(n), uint8(n), use})
		}
	}
	return dst
}
