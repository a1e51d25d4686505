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
	outer := outerMotion(p.Bass, p.top(), v.Bass, v.top())
	outer.moved, outer.struck, outer.lacking = m.moved, m.struck, lacking(p, v, held)
	return outer
}

// outerMotion compares outer notes: a bass, or NoBass, and a top note, or 0, with
// those that follow. It is the same backwards.
func outerMotion(bass, top, nextBass, nextTop uint8) (m motion) {
	topMoves := 0
	if top != 0 && nextTop != 0 {
		topMoves = distance(top, nextTop)
		m.leap = max(0, topMoves-Fourth)
	}
	if bass == NoBass || nextBass == NoBass {
		return m
	}
	m.bass = distance(bass, nextBass)
	if m.bass != 0 && topMoves != 0 && (nextTop > top) == (nextBass > bass) &&
		(top-bass)%12 == 0 && (nextTop-nextBass)%12 == 0 {
		m.parallel = 1
	}
	return m
}

// lacking counts how many of two different held pitch classes are lacking, where
// both have three notes. (Fewer classes are no way out: that would reward
// doubling.)
func lacking(p, v *candidate, held Pitches) int {
	if p.N < 3 || v.N < 3 {
		return 0
	}
	lowest := held.first()
	switch {
	case lowest < 0:
		return 2
	case held.Without(octaves[lowest%12]) == Pitches{}:
		return 1
	}
	return 0
}

// first gives the lowest note, or -1 of an empty set.
func (p Pitches) first() int {
	switch {
	case p[0] != 0:
		return bits.TrailingZeros64(p[0])
	case p[1] != 0:
		return 64 + bits.TrailingZeros64(p[1])
	}
	return -1
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

// addSteps adds to the price of each voicing of a rung before times what
// stepTotal gives from other to it, and after times what it gives from it to
// other. What depends on the outer notes alone is looked up.
// Hot path: no allocation.
func (e *Engine) addSteps(price []float64, r *rung, other *candidate, before, after float64) {
	if int(other.N) != r.voices {
		for i := range price {
			c := candidateOf(r.voicing(i))
			price[i] += before*e.stepTotal(other, &c) + after*e.stepTotal(&c, other)
		}
		return
	}
	w := &e.perMotion
	weight := before + after
	perSemitone, perStrike := weight*w.Movement, weight*w.Strike
	perLacking := 0.0
	if r.voices >= 3 {
		perLacking = weight * w.FewHeld
	}
	topByte := 8 * (r.voices - 1)
	outer := &e.outer
	for i := range outer {
		outer[i].bass = -1
	}
	words, pitches := r.words[:len(price)], r.pitches[:len(price)]
	for i, word := range words {
		held := pitches[i].And(other.pitches)
		cost := perSemitone*float64(distances(word&upperBytes, other.packed)) + perStrike*float64(r.voices-held.Len())
		if lowest := held.first(); lowest < 0 {
			cost += 2 * perLacking
		} else if held.Without(octaves[lowest%12]) == (Pitches{}) {
			cost += perLacking
		}
		bass := uint8(word >> bassByte)
		o := &outer[bass/12%2]
		if o.bass != int16(bass) {
			o.set(e, bass, other, weight)
		}
		price[i] += cost + o.price[word>>topByte&127]
	}
}

// outerPrices is what a step costs by its outer notes, over one bass, for each
// top note.
type outerPrices struct {
	bass  int16
	price [128]float64
}

func (o *outerPrices) set(e *Engine, bass uint8, other *candidate, weight float64) {
	o.bass = int16(bass)
	w := &e.perMotion
	for top := e.s.Low; top <= e.s.High; top++ {
		m := outerMotion(other.Bass, other.top(), bass, top)
		o.price[top] = weight * (w.Leap*float64(m.leap) + w.Parallel*float64(m.parallel) + w.BassMove*float64(m.bass))
	}
}

// lowest gives the lowest note of a set that has one.
func (p Pitches) lowest() uint8 { return uint8(p.first()) }
