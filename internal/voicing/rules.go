package voicing

import (
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// lowestNote[i] is the lowest MIDI note that may carry an interval of i
// semitones above it before the sound turns muddy: up to a major seventh a
// published table (a music technology glossary's, whose middle C is called C3), but
// for its tritone, which is doubtful there and taken from the handbooks, as are the
// ninths and tenths (Pease & Pullig, Modern Jazz Voicings, 2001, an octave below
// second and third; both from memory). Handbooks differ by a step or two.
//
// What they tell by ear follows from roughness: TestLowestNotesAreThoseOfRoughness
// finds each, but for semitone and minor ninth, within a minor third of where two
// tones of six harmonics reach one and the same roughness (Sethares 1993).
var lowestNote = [17]uint8{0, 52, 51, 48, 47, 45, 46, 37, 41, 41, 41, 41, 0, 40, 39, 36, 34}

// LowestNote gives the lowest MIDI note that may carry an interval of the given
// semitones above it; octaves and what is wider than a major tenth may stand
// anywhere.
func LowestNote(semitones int) uint8 {
	if semitones < 0 || semitones >= len(lowestNote) {
		return 0
	}
	return lowestNote[semitones]
}

// Three upper notes inside clusterSpan semitones, two whole tones side by side,
// stand no lower than clusterFloor: above it they are the add 2 of many a pad,
// below it a cluster. By ear.
const (
	clusterSpan  = 4
	clusterFloor = 60
)

// tonality is what the rules need of one chord in its key.
type tonality struct {
	tones    pitch.Set // the chord's own tones, with its bass
	identity pitch.Set
	lacks    pitch.Set // identity tones that a pedal point shuts out
	borrowed pitch.Set // identity tones that are not in the key
	rivals   pitch.Set // classes that would contradict a tone: see rivalsOf
	bare     pitch.Set // other tones besides the bass
	colours  pitch.Set // notes of the key that may be added
	cheap    pitch.Set // tones that a voicing may repeat at half the price: see cheapDoublings
	bass     pitch.Class
	root     pitch.Class
	flatNine bool // the name asks for a minor ninth over the root
	key      pitch.Key
}

// tonality gives what the rules need of c under the settings.
func (s *Settings) tonality(c harmony.Chord, key pitch.Key) tonality {
	palette := s.Palette
	if s.Plain {
		palette &^= AnyColour
	}
	if s.PedalPoint == NoPedalPoint {
		return tonalityWith(c, key, palette)
	}
	c.Bass = s.PedalPoint.name(key)
	t := tonalityWith(c, key, palette)
	t.clearOfPedal()
	return t
}

// tonalityWith gives what the rules need of c under a palette, over its own bass.
func tonalityWith(c harmony.Chord, key pitch.Key, palette Palette) tonality {
	t := tonality{
		tones:    c.Classes(),
		identity: c.Identity(),
		rivals:   rivalsOf(c),
		cheap:    cheapDoublings(c),
		bass:     c.BassClass(),
		root:     c.Root.Class(),
		key:      key,
	}
	t.withoutThird(c, palette)
	t.identity = t.identity.Without(t.bass)
	t.bare = t.tones.Minus(t.identity).Without(t.bass)
	t.flatNine = c.Altered().Has(up(t.root, 1))
	t.borrowed = t.identity
	for _, n := range key.Scale() {
		t.borrowed = t.borrowed.Without(n.Class())
		if c := n.Class(); palette.has(int(c-t.root)) && t.accepts(c) {
			t.colours = t.colours.Add(c)
		}
	}
	return t
}

// missing gives the identity tones that are not among classes.
func (t *tonality) missing(classes pitch.Set) pitch.Set {
	return t.identity.Minus(classes).Union(t.lacks)
}

// weight is how much a missing identity tone counts: two on the tonic, for
// without its third the key itself is neither major nor minor. By ear.
func (t *tonality) weight() int {
	if t.root == t.key.Tonic.Class() {
		return 2
	}
	return 1
}

// accepts reports whether class c may be added as a colour. Over a foreign bass,
// such as a pedal point, it is held to both: a tritone from what sounds below is
// harsh, and one from the root makes another chord of it though the root may be
// shut out (B over F/C is no F).
func (t *tonality) accepts(c pitch.Class) bool {
	return !t.tones.Has(c) && !t.tones.Has(up(c, -1)) && c != up(t.bass, 6) && c != up(t.root, 6) && !t.rivals.Has(c)
}

// cheapDoublings gives the tones that handbooks double first: the root and the
// perfect fifth, or in a diminished triad, whose root leads on, the third (Kostka
// & Payne; Piston; from memory).
func cheapDoublings(c harmony.Chord) pitch.Set {
	root := c.Root.Class()
	cheap, third := pitch.SetOf(root), root
	var room [12]harmony.Tone
	for _, tone := range c.Tones(room[:0]) {
		k := up(root, int(tone.Interval.Semitones))
		switch {
		case tone.Role == harmony.Third:
			third = k
		case tone.Role == harmony.Fifth && k == up(root, 7):
			cheap = cheap.Add(k)
		case tone.Role == harmony.Fifth && k == up(root, 6) && third == up(root, 3):
			return pitch.SetOf(third)
		}
	}
	return cheap
}

// rivalsOf gives the classes that would make another chord of c: the other
// third, any third where it is suspended, the plain fifth beside an altered one,
// the other seventh, and a major seventh over a minor third, which holds an
// augmented triad, or over a suspended fourth, a tritone away, and a sixth over a
// suspended fourth, which is the chord of that fourth over its fifth.
func rivalsOf(c harmony.Chord) (s pitch.Set) {
	root := c.Root.Class()
	var room [12]harmony.Tone
	for _, tone := range c.Tones(room[:0]) {
		switch tone.Role {
		case harmony.Third, harmony.Suspension:
			s = s.Add(up(root, 3)).Add(up(root, 4))
			switch tone.Interval.Semitones {
			case 3:
				s = s.Add(up(root, 11))
			case 5:
				s = s.Add(up(root, 9)).Add(up(root, 11))
			}
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
	return all.Len() == 3 && triadElsewhere(all, t.root)
}

// triadElsewhere reports whether s holds a major or minor triad on another root.
func triadElsewhere(s pitch.Set, root pitch.Class) bool {
	for r := range pitch.Class(12) {
		if r != root && s.Has(r) && s.Has(up(r, 7)) && (s.Has(up(r, 3)) || s.Has(up(r, 4))) {
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
		if v.N > 1 && v.Upper[v.N-2] < clusterFloor && note-v.Upper[v.N-2] <= clusterSpan {
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

// stands reports whether the notes of v keep the rules on spacing.
func (t *tonality) stands(v *Voicing) bool {
	built := Voicing{Bass: v.Bass}
	for _, n := range v.Notes() {
		if !t.fits(&built, n) {
			return false
		}
		built.Upper[built.N] = n
		built.N++
	}
	return true
}

// keeps reports whether the whole of v keeps the hard rules, with at most
// colours colours and at least need identity tones.
func (t *tonality) keeps(v *Voicing, colours, need int) bool {
	classes := v.Classes()
	extra := classes.Minus(t.tones)
	return extra.Len() <= colours && extra.Minus(t.colours) == 0 && t.stands(v) && !t.otherTriad(v) &&
		(classes&t.identity).Len() >= need
}
