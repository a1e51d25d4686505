package voicing

import "math"

// densities is one chord's voicings at each number of upper notes from thin to
// full; where its ladder does not reach, the nearest rung.
type densities [MaxUpper + 1]candidate

// spread writes l out.
func (d *densities) spread(l *Ladder, thin, full int) {
	for r := thin; r <= full; r++ {
		d[r] = candidateOf(l.Rung(r))
	}
}

// neighbour is what sounds before or after a chord.
type neighbour struct {
	at    *densities
	after bool
}

// climber is the working memory of climb.
type climber struct {
	price [MaxUpper + 1][]float64 // of a voicing and the best ladder below it
	below [MaxUpper + 1][]uint16  // the next voicing of that ladder
}

// climb finds the best ladder of l among its neighbours: the sum over densities
// r of RungWeight[r] times what its voicing costs by itself, counted times over,
// and with each neighbour at r. It gives what it costs. Of equal ladders it gives
// the one whose fuller voicings come first, those of the lower bass and then of
// the lower notes.
//
// A ladder is a path through l from rung to rung, and its price a sum over its
// rungs, so the best is found exactly, rung by rung.
// Hot path: no allocation once the engine has met lattices as large.
func (e *Engine) climb(l *lattice, times float64, near []neighbour) (Ladder, float64) {
	for r := l.low; r <= l.high; r++ {
		e.priceRung(l, r, times, near)
		if r == l.low {
			continue
		}
		price, under := e.climber.price[r], e.climber.price[r-1]
		from := grow(e.climber.below[r], len(price))[:len(price)]
		for i := range price {
			least := math.Inf(1)
			for _, b := range l.rungs[r].below[i*r : (i+1)*r] {
				if b != none && under[b] < least {
					least, from[i] = under[b], b
				}
			}
			price[i] += least
		}
		e.climber.below[r] = from
	}
	at, least := uint16(0), math.Inf(1)
	for i, price := range e.climber.price[l.high] {
		if price < least {
			at, least = uint16(i), price
		}
	}
	return l.ladder(e, at), least
}

// priceRung prices the voicings of rung r by themselves and with neighbours, at
// every density that it stands for.
func (e *Engine) priceRung(l *lattice, r int, times float64, near []neighbour) {
	thinnest, fullest := r, r
	if r == l.low {
		thinnest = e.s.Thin
	}
	if r == l.high {
		fullest = e.s.Full
	}
	voicings := &l.rungs[r]
	price := grow(e.climber.price[r], len(voicings.words))[:len(voicings.words)]
	weight := 0.0
	for d := thinnest; d <= fullest; d++ {
		weight += e.s.RungWeight[d]
	}
	for i, own := range voicings.own {
		price[i] = weight * times * own
	}
	for d := thinnest; d <= fullest; d++ {
		weight := e.s.RungWeight[d]
		for _, n := range near {
			if n.after {
				e.addSteps(price, voicings, &n.at[d], 0, weight)
			} else {
				e.addSteps(price, voicings, &n.at[d], weight, 0)
			}
		}
	}
	e.climber.price[r] = price
}

// ladder reads off the climber the ladder whose fullest voicing is number at.
func (l *lattice) ladder(e *Engine, at uint16) Ladder {
	out := Ladder{Bass: uint8(l.rungs[l.high].words[at] >> bassByte), Low: uint8(l.low), High: uint8(l.high),
		Dropped: l.low > e.s.Thin || l.high < e.s.Full}
	for r := l.high; r > l.low; r-- {
		below := e.climber.below[r][at]
		out.Entry[r-1] = l.rungs[r].pitches[at].Without(l.rungs[r-1].pitches[below]).lowest()
		at = below
	}
	thin := l.rungs[l.low].voicing(int(at))
	copy(out.Entry[:], thin.Notes())
	return out
}
