package voicing

import "math"

// smallWork is how many comparisons are fewer than what bounds and a beam cost.
const smallWork = 1 << 14

// direct is the working memory of the direct search: for each stage in turn, what
// reaching each of its candidates costs, its own cost included, and from which one
// before.
type direct struct {
	at   []float64
	from []int32
}

// directWork bounds the steps that a direct search compares.
func directWork(stages []stage, loop bool) int {
	work := 0
	for i := 1; i < len(stages); i++ {
		work += len(stages[i-1].candidates) * len(stages[i].candidates)
	}
	first, last := len(stages[0].candidates), len(stages[len(stages)-1].candidates)
	if loop {
		return first * (work + last)
	}
	return work + first
}

// direct puts the best path into best and its cost into cost, by plain dynamic
// programming over all candidates; a loop is searched from each first candidate.
// Of equal costs the first candidate counts, see the package documentation.
func (s *search) direct(e *Engine, stages []stage, loop bool, lead *candidate) {
	size := 0
	for i := range stages {
		size += len(stages[i].candidates)
	}
	d := &s.reached
	d.at, d.from = grow(d.at, size)[:size], grow(d.from, size)[:size]
	if loop {
		s.directLoop(e, stages)
	} else {
		s.directLine(e, stages, lead)
	}
}

func (s *search) directLine(e *Engine, stages []stage, lead *candidate) {
	d, first := &s.reached, stages[0].candidates
	start := d.at[:len(first)]
	limit := math.Nextafter(e.nearest(stages, lead), math.Inf(1)) // as good must not be lost
	if lead != nil && lead.N == first[0].N {
		var nothing [1]float64
		e.reach(first, []candidate{*lead}, nothing[:], limit, start, d.from[:len(first)])
	} else {
		for c := range first {
			start[c] = e.onwards(0, lead, &first[c])
		}
	}
	d.spread(e, stages, limit)
	end := 0
	ends := d.at[len(d.at)-len(stages[len(stages)-1].candidates):]
	for c, cost := range ends {
		if cost < ends[end] {
			end = c
		}
	}
	s.cost = ends[end]
	d.trace(stages, end, s.best)
}

func (s *search) directLoop(e *Engine, stages []stage) {
	d, first, last := &s.reached, stages[0].candidates, stages[len(stages)-1].candidates
	start, ends := d.at[:len(first)], d.at[len(d.at)-len(last):]
	for c := range start {
		start[c] = math.Inf(1)
	}
	s.cost = math.Inf(1)
	for f := range first {
		start[f] = first[f].total
		d.spread(e, stages, s.cost)
		end := -1
		for c, cost := range ends {
			if cost < s.cost {
				if cost += e.stepTotal(&last[c], &first[f]); cost < s.cost {
					s.cost, end = cost, c
				}
			}
		}
		if end >= 0 {
			d.trace(stages, end, s.best)
		}
		start[f] = math.Inf(1)
	}
}

// nearest gives what it costs to go on to whatever is cheapest next, chord by
// chord: no less than the best line.
func (e *Engine) nearest(stages []stage, before *candidate) float64 {
	cost := 0.0
	for i := range stages {
		here := stages[i].candidates
		least, next := math.Inf(1), 0
		for c := range here {
			if total := e.onwards(cost, before, &here[c]); total < least {
				least, next = total, c
			}
		}
		cost, before = least, &here[next]
	}
	return cost
}

// onwards adds the step from p, if not nil, to v and v's own cost to a cost.
func (e *Engine) onwards(cost float64, p, v *candidate) float64 {
	switch {
	case p == nil:
	case e.onlyMoves && p.N == v.N:
		cost += e.perMotion.Movement * float64(distances(p.packed, v.packed))
	default:
		cost += e.stepTotal(p, v)
	}
	return cost + v.total
}

// spread finds what it costs to reach the candidates of every stage from those
// of the first, as far as that is less than limit.
func (d *direct) spread(e *Engine, stages []stage, limit float64) {
	low := 0
	for i := 1; i < len(stages); i++ {
		before, here := stages[i-1].candidates, stages[i].candidates
		middle := low + len(before)
		high := middle + len(here)
		e.reach(here, before, d.at[low:middle], limit, d.at[middle:high], d.from[middle:high])
		low = middle
	}
}

// reach finds what it costs to reach each of here from the best of before, the
// first of equal ones, and its own cost; +Inf where that step does not end below
// limit. Known is the cost of before. All have equally many notes.
//
// A step costs at least what its movement does, and both sums are rounded alike,
// so that nothing better is passed over. What is best for one candidate is often
// good for the next, and then most others cost too much by themselves.
func (e *Engine) reach(here, before []candidate, known []float64, limit float64, at []float64, from []int32) {
	perSemitone, moves := e.perMotion.Movement, e.onlyMoves
	good := 0
	for c := range here {
		v := &here[c]
		total := known[good] + perSemitone*float64(distances(before[good].packed, v.packed))
		if !moves {
			total = known[good] + e.stepTotal(&before[good], v)
		}
		best, found := min(limit, math.Nextafter(total, math.Inf(1))), -1
		for p, cost := range known {
			if cost >= best {
				continue
			}
			total := cost + perSemitone*float64(distances(before[p].packed, v.packed))
			if total >= best {
				continue
			}
			if !moves {
				if total = cost + e.stepTotal(&before[p], v); total >= best {
					continue
				}
			}
			best, found = total, p
		}
		at[c], from[c] = math.Inf(1), int32(found)
		if found >= 0 {
			at[c], good = best+v.total, found
		}
	}
}

// trace reads the path to candidate end of the last stage into path.
func (d *direct) trace(stages []stage, end int, path []Voicing) {
	low := len(d.at)
	for i := len(stages) - 1; i >= 0; i-- {
		low -= len(stages[i].candidates)
		path[i] = stages[i].candidates[end].Voicing
		end = int(d.from[low+end])
	}
}
