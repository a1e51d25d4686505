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
	s.suffixes(e, stages)
	if !loop {
		s.descend(e, stages)
		return s.best
	}

	// The cheapest open line from each first candidate bounds from below every
	// loop through it, because the closing step costs at least nothing.
	first := stages[0].candidates
	s.order = s.order[:0]
	for i := range first {
		s.order = append(s.order, int32(i))
	}
	slices.SortFunc(s.order, func(a, b int32) int {
		return cmp.Or(cmp.Compare(s.backward[0][a], s.backward[0][b]), cmp.Compare(a, b))
	})
	limit := math.Inf(1)
	for _, start := range s.order {
		if s.backward[0][start] >= limit {
			break
		}
		if total := s.through(e, stages, start, limit); total < limit {
			limit = total
			copy(s.best, s.chosen)
		}
	}
	return s.best
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
						least = min(least, e.step(&here[c], &next[d]).Total+s.backward[i+1][d])
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
				cost += e.step(&stages[i-1].candidates[s.best[i-1]], &here[c]).Total
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
	before, reach := stages[0].candidates[start:start+1], s.forward[0][:1]
	reach[0] = first.total
	for i := 1; i < n; i++ {
		here := stages[i].candidates
		for c := range here {
			s.forward[i][c] = math.Inf(1)
			tail := s.backward[i][c] // own cost and all that must follow
			for b := range before {
				if reach[b]+tail >= limit {
					continue
				}
				cost := reach[b] + e.step(&before[b], &here[c]).Total
				if cost+tail < limit && cost+here[c].total < s.forward[i][c] {
					s.forward[i][c] = cost + here[c].total
					s.back[i][c] = int32(b)
				}
			}
		}
		before, reach = here, s.forward[i]
	}
	least := math.Inf(1)
	for c := range before {
		if reach[c] >= limit || reach[c] >= least {
			continue
		}
		if cost := reach[c] + e.step(&before[c], first).Total; cost < least {
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
