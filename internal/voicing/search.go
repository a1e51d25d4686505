package voicing

import (
	"cmp"
	"math"
	"slices"
)

// search is the working memory of solve.
type search struct {
	forward  [][]float64 // least cost of reaching a candidate
	back     [][]int32   // from which candidate of the stage before
	backward [][]float64 // least cost from a candidate to the end of the open line, its own included
	steps    [][]float64 // of each stage: the cost of every step to the next, row by row; empty where too many
	closing  []float64   // of a loop: the least step from the last stage to a first candidate
	room     int         // how many steps the table may hold
	order    []int32
	chosen   []int32
	best     []int32
}

// solve chooses one candidate a stage so that the sum of their totals and of
// the steps between them is least; in a loop the last leads to the first. Ties
// go to the earlier candidate. The result is valid until the next call.
func (s *search) solve(e *Engine, stages []stage, loop bool) []int32 {
	n := len(stages)
	s.forward, s.back, s.backward = grow(s.forward, n), grow(s.back, n), grow(s.backward, n)
	s.chosen, s.best = grow(s.chosen, n)[:n], grow(s.best, n)[:n]
	e.prune(stages, loop)
	for i := range stages {
		k := len(stages[i].candidates)
		s.forward[i] = grow(s.forward[i], k)[:k]
		s.back[i] = grow(s.back[i], k)[:k]
		s.backward[i] = grow(s.backward[i], k)[:k]
	}
	s.tabulate(e, stages, loop)
	s.suffixes(e, stages)
	if !loop {
		s.descend(e, stages)
		return s.best
	}

	// The cheapest open line from each first candidate and the cheapest step back
	// to it bound from below every loop through it.
	first := stages[0].candidates
	s.order, s.closing = s.order[:0], grow(s.closing, len(first))[:len(first)]
	for i := range first {
		s.order = append(s.order, int32(i))
		s.closing[i] = 0
		if n > 1 {
			s.closing[i] = math.Inf(1)
			for c := range stages[n-1].candidates {
				s.closing[i] = min(s.closing[i], s.step(e, stages, n-1, c, i))
			}
		}
	}
	bound := func(start int32) float64 { return s.backward[0][start] + s.closing[start] }
	slices.SortFunc(s.order, func(a, b int32) int {
		return cmp.Or(cmp.Compare(bound(a), bound(b)), cmp.Compare(a, b))
	})
	limit := math.Inf(1)
	for _, start := range s.order {
		if bound(start) >= limit {
			break
		}
		if total := s.through(e, stages, start, limit); total < limit {
			limit = total
			copy(s.best, s.chosen)
		}
	}
	return s.best
}

// maxSteps bounds the table of steps: 32 MiB. What is beyond it is computed anew
// each time it is asked for.
const maxSteps = 4 << 20

// tabulate fills steps, in a loop also those from the last stage to the first.
func (s *search) tabulate(e *Engine, stages []stage, loop bool) {
	n := len(stages)
	s.steps = grow(s.steps, n)
	room := s.room
	for i := range n {
		s.steps[i] = s.steps[i][:0]
		if i == n-1 && (!loop || n == 1) {
			continue
		}
		here, next := stages[i].candidates, stages[(i+1)%n].candidates
		if room -= len(here) * len(next); room < 0 {
			continue
		}
		for c := range here {
			for d := range next {
				s.steps[i] = append(s.steps[i], e.step(&here[c], &next[d]).Total)
			}
		}
	}
}

// step gives the cost of the step from candidate c of stage i to candidate d of
// the next.
func (s *search) step(e *Engine, stages []stage, i, c, d int) float64 {
	next := stages[(i+1)%len(stages)].candidates
	if len(s.steps[i]) > 0 {
		return s.steps[i][c*len(next)+d]
	}
	return e.step(&stages[i].candidates[c], &next[d]).Total
}

// suffixes fills backward.
func (s *search) suffixes(e *Engine, stages []stage) {
	for i := len(stages) - 1; i >= 0; i-- {
		here := stages[i].candidates
		for c := range here {
			least := 0.0
			if i+1 < len(stages) {
				least = math.Inf(1)
				next := stages[i+1].candidates
				for d := range next {
					if s.backward[i+1][d] < least { // a step costs at least nothing
						least = min(least, s.step(e, stages, i, c, d)+s.backward[i+1][d])
					}
				}
			}
			s.backward[i][c] = here[c].total + least
		}
	}
}

// descend reads the best open line off backward into best.
func (s *search) descend(e *Engine, stages []stage) {
	for i := range stages {
		here := stages[i].candidates
		least := math.Inf(1)
		for c := range here {
			cost := s.backward[i][c]
			if cost >= least {
				continue
			}
			if i > 0 {
				cost += s.step(e, stages, i-1, int(s.best[i-1]), c)
			}
			if cost < least {
				least, s.best[i] = cost, int32(c)
			}
		}
	}
}

// through finds the best loop whose first candidate is start into chosen, and
// gives its cost, or +Inf when none costs less than limit.
func (s *search) through(e *Engine, stages []stage, start int32, limit float64) float64 {
	n := len(stages)
	first := &stages[0].candidates[start]
	if n == 1 {
		s.chosen[0] = start
		return first.total
	}
	for b := range s.forward[0] {
		s.forward[0][b] = math.Inf(1)
	}
	s.forward[0][start] = first.total
	for i := 1; i < n; i++ {
		here, reach := stages[i].candidates, s.forward[i-1]
		for c := range here {
			s.forward[i][c] = math.Inf(1)
		}
		for b := range reach {
			if reach[b] >= limit {
				continue
			}
			for c := range here {
				tail := s.backward[i][c] + s.closing[start] // own cost and all that must follow
				if reach[b]+tail >= limit {
					continue
				}
				cost := reach[b] + s.step(e, stages, i-1, b, c)
				if cost+tail < limit && cost+here[c].total < s.forward[i][c] {
					s.forward[i][c] = cost + here[c].total
					s.back[i][c] = int32(b)
				}
			}
		}
	}
	least, reach := math.Inf(1), s.forward[n-1]
	for c := range reach {
		if reach[c] >= limit || reach[c] >= least {
			continue
		}
		if cost := reach[c] + s.step(e, stages, n-1, c, int(start)); cost < least {
			least, s.chosen[n-1] = cost, int32(c)
		}
	}
	if least >= limit {
		return math.Inf(1)
	}
	for i := n - 1; i > 1; i-- {
		s.chosen[i-1] = s.back[i][s.chosen[i]]
	}
	s.chosen[0] = start
	return least
}

// prune drops candidates that no best path can use: their own cost and the
// least own cost of every other stage already exceed a path that is known,
// the one that starts from the cheapest first candidate and takes the cheapest
// step each time. Order is kept.
func (e *Engine) prune(stages []stage, loop bool) {
	known, floor := 0.0, 0.0
	var first, at *candidate
	for i := range stages {
		least, own := math.Inf(1), math.Inf(1)
		var pick *candidate
		for c := range stages[i].candidates {
			cand := &stages[i].candidates[c]
			own = min(own, cand.total)
			cost := cand.total
			if at != nil {
				cost += e.step(at, cand).Total
			}
			if cost < least {
				least, pick = cost, cand
			}
		}
		known += least
		floor += own
		if at = pick; i == 0 {
			first = pick
		}
	}
	if loop && len(stages) > 1 {
		known += e.step(at, first).Total
	}
	for i := range stages {
		all := stages[i].candidates
		own := math.Inf(1)
		for c := range all {
			own = min(own, all[c].total)
		}
		kept := all[:0]
		for c := range all {
			// A hair of slack keeps ties safe from rounding.
			if all[c].total-own+floor <= known+1e-9 {
				kept = append(kept, all[c])
			}
		}
		stages[i].candidates = kept
	}
}
