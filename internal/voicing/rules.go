package voicing

import (
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// lowestNote[i] is the lowest MIDI note that may carry an interval of i
// semitones above it before the sound turns muddy. Jazz arranging handbook
// (Pease & Pullig, Modern Jazz Voicings, 2001; from memory). Handbooks differ by
// a step or two.
var lowestNote = [13]uint8{0, 52, 51, 48, 46, 46, 46, 34, 41, 41, 41, 41, 0}

// LowestNote gives the lowest MIDI note that may carry an interval of the given
// semitones above it; octaves and anything wider may stand anywhere.
func LowestNote(semitones int) uint8 {
	if semitones < 0 || semitones >= len(lowestNote) {
		return 0
	}
	return lowestNote[semitones]
}

// tonality is what the rules need of one chord in its key.
type tonality struct {
	tones    pitch.Set // the chord's own tones, with its bass
	identity pitch.Set
	rivals   pitch.Set // classes that would contradict a tone: see rivalsOf
	bare     pitch.Set // other tones besides the bass
	colours  pitch.Set // notes of the key that may be added
	bass     pitch.Class
	root     pitch.Class
	flatNine bool // the name asks for a minor ninth over the root
}

func tonalityOf(c harmony.Chord, key pitch.Key, plain bool) tonality {
	t := tonality{
		tones:    c.Classes(),
		identity: c.Identity(),
		bass:     c.BassClass(),
		root:     c.Root.Class(),
	}
	t.rivals = rivalsOf(c)
	t.identity = t.identity.Without(t.bass)
	t.bare = t.tones.Minus(t.identity).Without(t.bass)
	t.flatNine = c.Altered().Has(up(t.root, 1))
	if plain {
		return t
	}
	for _, n := range key.Scale() {
		if c := n.Class(); t.accepts(c) {
			t.colours = t.colours.Add(c)
		}
	}
	return t
}

// accepts reports whether class c may be added as a colour.
func (t *tonality) accepts(c pitch.Class) bool {
	return !t.tones.Has(c) && !t.tones.Has(up(c, -1)) && c != up(t.bass, 6) && !t.rivals.Has(c)
}

// rivalsOf gives the classes that would make another chord of c: the other
// third, any third where it is suspended, the plain fifth beside an altered one,
// the other seventh.
func rivalsOf(c harmony.Chord) (s pitch.Set) {
	root := c.Root.Class()
	var room [12]harmony.Tone
	for _, tone := range c.Tones(room[:0]) {
		switch tone.Role {
		case harmony.Third, harmony.Suspension:
			s = s.Add(up(root, 3)).Add(up(root, 4))
		case harmony.Fifth:
			s = s.Add(up(root, 7))
		case harmony.Seventh:
			s = s.Add(up(root, 10)).Add(up(root, 11))
		}
	}
	return s.Minus(c.Classes())
}

// otherTriad reports whether the bass and the upper notes of v are, all
// together, a major or minor triad on another root than the chord's.
func (t *tonality) otherTriad(v *Voicing) bool {
	all := v.Classes().Add(t.bass)
	if all.Len() != 3 {
		return false
	}
	for root := range pitch.Class(12) {
		if root != t.root && all.Has(root) && all.Has(up(root, 7)) && (all.Has(up(root, 3)) || all.Has(up(root, 4))) {
			return true
		}
	}
	return false
}

func up(c pitch.Class, semitones int) pitch.Class { return c.Up(semitones) }

// clash reports whether two notes stand a semitone or a minor ninth apart; the
// minor ninth over the root is let through where the chord's name asks for it.
func (t *tonality) clash(low, high uint8) bool {
	switch high - low {
	case 1:
		return true
	case 13:
		return !(t.flatNine && class(low) == t.root)
	}
	return false
}

// fits reports whether note may be the next upper note above those of v.
// Hot path: no allocation; O(voices).
func (t *tonality) fits(v *Voicing, note uint8) bool {
	below := v.Bass
	if v.N > 0 {
		below = v.Upper[v.N-1]
		if note-below > 12 {
			return false
		}
	}
	if below != NoBass && (note <= below || below < LowestNote(int(note-below))) {
		return false
	}
	if v.Bass != NoBass && t.clash(v.Bass, note) {
		return false
	}
	for _, n := range v.Notes() {
		if t.clash(n, note) {
			return false
		}
	}
	return true
}

// keeps reports whether the whole of v keeps the hard rules, with at most
// colours colours and at least need identity tones.
func (t *tonality) keeps(v *Voicing, colours, need int) bool {
	built := Voicing{Bass: v.Bass}
	for _, n := range v.Notes() {
		if !t.fits(&built, n) {
			return false
		}
		built.Upper[built.N] = n
		built.N++
	}
	classes := v.Classes()
	extra := classes.Minus(t.tones)
	return extra.Len() <= colours && extra.Minus(t.colours) == 0 && !t.otherTriad(v) &&
		(classes&t.identity).Len() >= need
}
