package voicing

import (
	"cmp"
	"slices"

	"bedd/internal/pitch"
)

// chain is the search for the best way from a voicing to fuller or thinner ones,
// a note at a time: the longest, of those the one whose rungs rate best together.
// It tries all, but none that has already cost more than the best, and none
// through a voicing that was reached for less. Where more voicings are rated than
// maxChain it goes on from each only to the best.
type chain struct {
	e     *Engine
	to    int       // the number of notes to reach
	enter pitch.Set // classes that may enter
	rate  func(Voicing) (rungRate, bool)

	rated   map[Voicing]ratedRung
	reached map[Voicing]rungRate
	now     []Voicing
	best    []Voicing
	sum     rungRate // of best
	over    bool     // not all were tried
}

// maxChain bounds the voicings that one chain rates. The default range has some
// hundred, two octaves of seven voices some thousand.
const maxChain = 1 << 12

type ratedRung struct {
	v     Voicing
	rate  rungRate
	stand bool
}

func (c *chain) follow(from Voicing) {
	c.rated, c.reached = map[Voicing]ratedRung{}, map[Voicing]rungRate{}
	c.extend(from, rungRate{})
}

// extend tries every way on from v, which the rungs so far reach at a sum.
func (c *chain) extend(v Voicing, sum rungRate) {
	if longer := cmp.Compare(len(c.now), len(c.best)); longer > 0 || longer == 0 && sum.compare(c.sum) < 0 {
		c.best, c.sum = append(c.best[:0], c.now...), sum
	}
	if int(v.N) == c.to {
		return
	}
	for _, next := range c.next(v) {
		total := sum.plus(next.rate)
		if n := len(c.best); n > 0 && int(c.best[n-1].N) == c.to && total.compare(c.sum) >= 0 {
			return // those that follow rate no better
		}
		if before, ok := c.reached[next.v]; ok && before.compare(total) <= 0 {
			continue
		}
		c.reached[next.v] = total
		c.now = append(c.now, next.v)
		c.extend(next.v, total)
		c.now = c.now[:len(c.now)-1]
		if c.over {
			return
		}
	}
}

// next gives the voicings of one note more or less that stand, the best rated
// first.
func (c *chain) next(v Voicing) (list []ratedRung) {
	offer := func(w Voicing) {
		r, known := c.rated[w]
		if !known {
			r.v = w
			r.rate, r.stand = c.rate(w)
			c.rated[w] = r
		}
		if r.stand {
			list = append(list, r)
		}
	}
	if int(v.N) > c.to {
		for i := range v.Notes() {
			offer(v.without(i))
		}
	} else {
		sounding := v.Pitches()
		for n := c.e.s.Low; n <= c.e.s.High; n++ {
			if c.enter.Has(class(n)) && !sounding.Has(n) {
				offer(v.with(n))
			}
		}
	}
	slices.SortStableFunc(list, func(a, b ratedRung) int { return a.rate.compare(b.rate) })
	c.over = c.over || len(c.rated) > maxChain
	return list
}
