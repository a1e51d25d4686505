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
	first, last := stages[0].candidates, stages[len(stages)-1].candidates
	start := d.at[:len(first)]
	s.cost = math.Inf(1)
	if !loop {
		switch {
		case lead != nil && lead.N == first[0].N:
			var nothing [1]float64
			e.reach(first, []candidate{*lead}, nothing[:], s.cost, start, d.from[:len(first)])
		case lead != nil:
			for c := range first {
				start[c] = e.stepTotal(lead, &first[c]) + first[c].total
			}
		default:
			for c := range first {
				start[c] = first[c].total
			}
		}
		d.spread(e, stages, s.cost)
		end := 0
		for c, cost := range d.at[size-len(last):] {
			if cost < s.cost {
				s.cost, end = cost, c
			}
		}
		d.trace(stages, end, s.best)
		return
	}
	for c := range start {
		start[c] = math.Inf(1)
	}
	for f := range first {
		start[f] = first[f].total
		d.spread(e, stages, s.cost)
		end := -1
		for c, cost := range d.at[size-len(last):] {
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
	perSemitone := e.perMotion.Movement
	moves := e.perMotion == Weights{Movement: perSemitone} // nothing else costs anything
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
