package voicing

import (
	"math/bits"

	"bedd/internal/pitch"
)

// group is the candidates of one chord that have the same pitch classes, each
// equally often. What a step between two groups costs at least depends on the
// classes alone, and there are far fewer groups than candidates.
type group struct {
	counts uint64    // how often each class occurs, four bits a class
	near   uint64    // how far each class is from the nearest of these, four bits a class
	set    pitch.Set // the classes
	least  float64   // the least own cost

	reach float64 // least cost of all that comes before, by the bounds
	going float64 // least cost of all that follows, by the bounds

	low, high int32 // where its survivors are
}

func countsOf(c *candidate) (counts uint64) {
	for _, n := range c.Notes() {
		counts += 1 << (4 * class(n))
	}
	return counts
}

func groupOf(counts uint64) group {
	g := group{counts: counts}
	for k := range pitch.Class(12) {
		if counts>>(4*k)&15 != 0 {
			g.set = g.set.Add(k)
		}
	}
	for k := range pitch.Class(12) {
		away := 0
		for away < 6 && !g.set.Has(up(k, away)) && !g.set.Has(up(k, -away)) {
			away++
		}
		g.near |= uint64(away) << (4 * k)
	}
	return g
}

// leastMotion bounds from below every step from a candidate of p to one of v,
// both of n notes, in one word: see motionWord.
//
// Movement pairs each note with a note of the other voicing, so none moves less
// than to the other's nearest class; this holds seen from either side. A note
// is held only beside itself, so no class is held more often than the one or the
// other has it, and no class that only one of them has.
func leastMotion(p, v *group, n int) uint16 {
	from, to, held := 0, 0, 0
	for s := p.set; s != 0; s &= s - 1 {
		k := 4 * bits.TrailingZeros16(uint16(s))
		count := int(p.counts >> k & 15)
		from += count * int(v.near>>k&15)
		held += min(count, int(v.counts>>k&15))
	}
	for s := v.set.Minus(p.set); s != 0; s &= s - 1 {
		k := 4 * bits.TrailingZeros16(uint16(s))
		to += int(v.counts>>k&15) * int(p.near>>k&15)
	}
	lacking := 0
	if n >= 3 {
		lacking = max(0, 2-(p.set&v.set).Len())
	}
	return motionWord(max(from, to), n-held, lacking)
}

// motionWord packs semitones moved (at most 6 a note), strikes and lacking held
// classes.
func motionWord(moved, struck, lacking int) uint16 {
	return uint16(moved<<5 | struck<<2 | lacking)
}

// motionWords is how many there are.
const motionWords = (6*MaxUpper + 1) << 5

// groupPrices gives the price of every motionWord.
func (e *Engine) groupPrices(dst []float64) []float64 {
	dst = grow(dst, motionWords)[:motionWords]
	w := &e.perMotion
	for i := range dst {
		dst[i] = w.Movement*float64(i>>5) + w.Strike*float64(i>>2&7) + w.FewHeld*float64(i&3)
	}
	return dst
}
