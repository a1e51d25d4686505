package voicing

import "math/bits"

// motion counts what a step from one voicing to the next does; see the package
// documentation for each.
type motion struct {
	moved, struck, lacking, leap, parallel, bass int
}

// motionOf compares p with v. Hot path: no allocation; O(1) between voicings of
// equally many notes.
func motionOf(p, v *candidate) (m motion) {
	held := p.pitches.And(v.pitches)
	m.struck = int(v.N) - held.Len()
	if p.N == v.N { // pairing in order moves least
		m.moved = distances(p.packed, v.packed)
	} else {
		m.moved = Movement(p.Notes(), v.Notes())
	}
	m.lacking = lacking(p, v, held)
	high, low := p.top(), v.top()
	topMoves := distance(high, low)
	if high != 0 && low != 0 {
		m.leap = max(0, topMoves-Fourth)
	}
	if p.Bass != NoBass && v.Bass != NoBass {
		m.bass = distance(p.Bass, v.Bass)
		if m.bass != 0 && topMoves != 0 && (low > high) == (v.Bass > p.Bass) &&
			(high-p.Bass)%12 == 0 && (low-v.Bass)%12 == 0 && high != 0 && low != 0 {
			m.parallel = 1
		}
	}
	return m
}

// lacking counts how many of two different held pitch classes are lacking,
// where p has three different ones to hold and v three notes to hold them with.
// (A v of three notes but two classes is no way out: it would be rewarded for
// doubling.)
func lacking(p, v *candidate, held Pitches) int {
	if p.classes.Len() < 3 || v.N < 3 {
		return 0
	}
	lowest := bits.TrailingZeros64(held[0])
	if held[0] == 0 {
		if held[1] == 0 {
			return 2
		}
		lowest = 64 + bits.TrailingZeros64(held[1])
	}
	if held.Without(octaves[lowest%12]) == (Pitches{}) {
		return 1
	}
	return 0
}

// octaves holds every note of each pitch class.
var octaves = func() (all [12]Pitches) {
	for n := range uint8(128) {
		all[n%12].Add(n)
	}
	return all
}()

// packed gives the upper notes in one word, the lowest in its lowest byte.
func packed(v *Voicing) (w uint64) {
	for i, n := range v.Upper {
		w |= uint64(n) << (8 * i)
	}
	return w
}

// distances sums the distances between the bytes of two words, each 0…127:
// eight at once. With the top bit of each byte of a set, a−b borrows nothing
// from the next byte, and the bit stays where a ≥ b.
func distances(a, b uint64) int {
	const tops, ones = 0x8080808080808080, 0x0101010101010101
	d := (a | tops) - b
	below := ^d & tops >> 7 // one where a < b
	mask := below * 0xff
	d ^= tops              // a−b modulo 256
	d = (d ^ mask) + below // without its sign: no byte is beyond 127
	const pairs = 0x00ff00ff00ff00ff
	d = d&pairs + d>>8&pairs
	return int(d * 0x0001000100010001 >> 48)
}

// top gives the highest upper note, or 0 where there is none.
func (v *Voicing) top() uint8 {
	if v.N == 0 {
		return 0
	}
	return v.Upper[v.N-1]
}
