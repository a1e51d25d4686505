package voicing

import (
	"math/bits"

	"bedd/internal/pitch"
)

// MaxUpper is the largest number of upper notes in a voicing.
const MaxUpper = 7

// NoBass as a voicing's bass means that the bass is switched off.
const NoBass = 0

// Pitches is a set of MIDI note numbers 0…127.
type Pitches [2]uint64

// Add puts note into the set.
func (p *Pitches) Add(note uint8) { p[note>>6&1] |= 1 << (note & 63) }

// Remove takes note out of the set.
func (p *Pitches) Remove(note uint8) { p[note>>6&1] &^= 1 << (note & 63) }

// Has reports whether note is in the set.
func (p Pitches) Has(note uint8) bool { return p[note>>6&1]>>(note&63)&1 != 0 }

// Len counts the notes.
func (p Pitches) Len() int { return bits.OnesCount64(p[0]) + bits.OnesCount64(p[1]) }

// And gives the notes in both sets.
func (p Pitches) And(q Pitches) Pitches { return Pitches{p[0] & q[0], p[1] & q[1]} }

// Without gives the notes of p that are not in q.
func (p Pitches) Without(q Pitches) Pitches { return Pitches{p[0] &^ q[0], p[1] &^ q[1]} }

// Append adds the notes to buf in ascending order.
func (p Pitches) Append(buf []uint8) []uint8 {
	for half, word := range p {
		for ; word != 0; word &= word - 1 {
			buf = append(buf, uint8(half<<6+bits.TrailingZeros64(word)))
		}
	}
	return buf
}

// Voicing is the exact pitches of one chord: a bass, or [NoBass], and N upper
// notes in Upper, strictly ascending MIDI note numbers.
type Voicing struct {
	Bass  uint8
	N     uint8
	Upper [MaxUpper]uint8
}

// Of makes a voicing of a bass and ascending upper notes, at most [MaxUpper].
func Of(bass uint8, upper ...uint8) Voicing {
	v := Voicing{Bass: bass, N: uint8(len(upper))}
	copy(v.Upper[:], upper)
	return v
}

// Notes gives the upper notes, ascending; the slice shares the voicing's memory.
func (v *Voicing) Notes() []uint8 { return v.Upper[:v.N] }

// Pitches gives the upper notes as a set.
func (v *Voicing) Pitches() (p Pitches) {
	for _, n := range v.Notes() {
		p.Add(n)
	}
	return p
}

// Classes gives the pitch classes of the upper notes.
func (v *Voicing) Classes() (s pitch.Set) {
	for _, n := range v.Notes() {
		s = s.Add(class(n))
	}
	return s
}

func class(note uint8) pitch.Class { return pitch.Class(note % 12) }

// with gives v and one more upper note, kept ascending.
func (v Voicing) with(note uint8) Voicing {
	i := int(v.N)
	for ; i > 0 && v.Upper[i-1] > note; i-- {
		v.Upper[i] = v.Upper[i-1]
	}
	v.Upper[i] = note
	v.N++
	return v
}

// without gives v less its upper note at index i.
func (v Voicing) without(i int) Voicing {
	copy(v.Upper[i:], v.Upper[i+1:v.N])
	v.N--
	v.Upper[v.N] = 0
	return v
}

// Ladder is one chord's voicings from thin to full, each contained in the
// next: rung r sounds the bass and the first r notes of Entry.
type Ladder struct {
	Bass    uint8
	Low     uint8           // the thinnest rung
	High    uint8           // the fullest rung, the number of notes in Entry
	Entry   [MaxUpper]uint8 // upper notes in the order in which they enter
	Dropped bool            // rungs that were asked for keep no voicing under the hard rules
}

// Rung gives the voicing of r upper notes; r is held inside Low…High.
func (l *Ladder) Rung(r int) Voicing {
	r = min(max(r, int(l.Low)), int(l.High))
	v := Voicing{Bass: l.Bass}
	for _, n := range l.Entry[:r] {
		v = v.with(n)
	}
	return v
}

// Lost gives the numbers of voices thin…full that the ladder does not reach:
// [Engine] finds none that keep the hard rules and nest.
func (l *Ladder) Lost(thin, full int) (lost []int) {
	for r := thin; r <= full; r++ {
		if r < int(l.Low) || r > int(l.High) {
			lost = append(lost, r)
		}
	}
	return lost
}

// Movement gives the least total movement, in semitones, that pairs the notes
// of the shorter of two ascending lists with different notes of the longer.
// It does not allocate for lists of up to 16 notes.
func Movement(a, b []uint8) int {
	if len(a) > len(b) {
		a, b = b, a
	}
	if len(a) == len(b) { // pairing in order moves least
		sum := 0
		for i := range a {
			sum += distance(a[i], b[i])
		}
		return sum
	}
	// best[i] is the least movement of the first i notes of a into the notes of b
	// seen so far; in order is enough, since crossing pairs never move less.
	var room [17]int
	best := append(room[:0], make([]int, len(a)+1)...)
	const far = 1 << 20
	for i := 1; i < len(best); i++ {
		best[i] = far
	}
	for _, n := range b {
		for i := len(a); i > 0; i-- {
			best[i] = min(best[i], best[i-1]+distance(a[i-1], n))
		}
	}
	return best[len(a)]
}

func distance(a, b uint8) int {
	if a > b {
		return int(a - b)
	}
	return int(b - a)
}
