package voicing

import "math"

// smallWork is how many comparisons are fewer than what bounds and a scout cost.
const smallWork = 1 << 14

// direct is a search by plain dynamic programming over all candidates: for each
// stage in turn, what reaching each of its candidates costs, its own cost included,
// and from which one before. Of equal costs the first candidate counts, see the
// package documentation.
type direct struct {
	at   []float64
	from []int32
	path []int32 // the best path: which candidate of each stage
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

func (d *direct) clear(stages []stage) {
	size := 0
	for i := range stages {
		size += len(stages[i].candidates)
	}
	d.at, d.from = grow(d.at, size)[:size], grow(d.from, size)[:size]
	d.path = grow(d.path, len(stages))[:len(stages)]
}

// line finds the best line and gives its cost, with the step from lead, if not nil.
func (d *direct) line(e *Engine, stages []stage, lead *candidate) float64 {
	d.clear(stages)
	first := stages[0].candidates
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
	d.trace(stages, end)
	return ends[end]
}

// loop finds the best loop and gives its cost: a line from each first candidate
// in turn.
func (d *direct) loop(e *Engine, stages []stage) float64 {
	d.clear(stages)
	first, last := stages[0].candidates, stages[len(stages)-1].candidates
	start, ends := d.at[:len(first)], d.at[len(d.at)-len(last):]
	for c := range start {
		start[c] = math.Inf(1)
	}
	least := math.Inf(1)
	for f := range first {
		start[f] = first[f].total
		d.spread(e, stages, least)
		end := -1
		for c, cost := range ends {
			if cost < least {
				if cost += e.stepTotal(&last[c], &first[f]); cost < least {
					least, end = cost, c
				}
			}
		}
		if end >= 0 {
			d.trace(stages, end)
		}
		start[f] = math.Inf(1)
	}
	return least
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

// trace reads the path to candidate end of the last stage.
func (d *direct) trace(stages []stage, end int) {
	low := len(d.at)
	for i := len(stages) - 1; i >= 0; i-- {
		low -= len(stages[i].candidates)
		d.path[i] = int32(end)
		end = int(d.from[low+end])
	}
}
