package voicing

import (
	"cmp"
	"math"
	"slices"
)

// search finds the path of least cost through the candidates of some stages. It
// is the working memory of solve.
//
// A path is looked for at a price of at most a limit. Every candidate whose
// bound (see bounds.go) lies beyond the limit is left out, for no path through
// it costs as little; the rest is searched exactly, forward, by dynamic
// programming. If there is no path, the limit rises; a path once found under a
// limit is the best of all. The limit never rises above the price of a path
// that a beam has found beforehand.
type search struct {
	small  int // comparisons up to which a problem is solved directly
	budget int // steps that one search may compare
	room   int // steps that may still be compared

	turned []stage // a loop from another chord on
	layers []layer
	prices []float64  // of each motionWord
	pairs  [][]uint16 // motionWords from the groups of each layer to those of the next
	bass   []float64  // the least price of the bass's move from each layer to the next
	hash   groupHash
	beams  [][]beamPath
	now    []*candidate // the path that the beam improves

	order  []int32   // groups near a candidate, by keys
	keys   []float64 // what they cost at least, with the step
	moved  []uint16  // semitones of the step at least
	starts []start
	chosen []int32
	bounds []float64

	best   []Voicing
	cost   float64
	line   float64 // the price of the best line under a limit, or -Inf
	limit  float64 // a price that the best loop does not exceed
	closed int32   // the number of a best loop's first candidate in its list, or -1

	reached direct
}

// maxWork bounds the comparisons of one search: about half a second.
const maxWork = 40 << 20

// slack keeps ties safe from rounding.
const slack = 1e-9

// layer is one stage under search. A loop has one more at its end: the first
// once more, without its own costs.
type layer struct {
	from   []candidate // the stage's
	again  bool        // the first once more
	ids    []uint16    // the group of each candidate
	groups []group

	kept     []candidate // survivors, by group
	origin   []int32     // where each is in from
	going    []float64   // least cost of all that follows a survivor, by the bounds or exact
	forward  costs       // of reaching a survivor from any first
	backward costs       // of going on from it to the end
	part     costs       // as forward, from some of the first
}

func (l *layer) own(c *candidate) float64 {
	if l.again {
		return 0
	}
	return c.total
}

// solve chooses one candidate a stage so that the sum of their totals and of
// the steps between them is least; in a loop the last leads to the first, and a
// line may start with a step from lead, if not nil. It reports whether that is
// proved within the budget. Of equal paths it always gives the same, see the package
// documentation. The result is valid until the next call.
//
// A loop is sought from the chord on where the search opens best.
func (s *search) solve(e *Engine, stages []stage, loop bool, lead *candidate) (path []Voicing, proved bool) {
	at := 0
	if loop {
		at = opening(stages)
	}
	if at == 0 {
		return s.find(e, stages, loop, lead)
	}
	s.turned = append(append(s.turned[:0], stages[at:]...), stages[:at]...)
	path, proved = s.find(e, s.turned, loop, lead)
	slices.Reverse(path[:len(path)-at])
	slices.Reverse(path[len(path)-at:])
	slices.Reverse(path)
	return path, proved
}

// opening gives the stage of a loop from which the first three steps have the
// fewest pairs of candidates. Later steps matter less: there most of what came
// before is too dear.
func opening(stages []stage) (at int) {
	n, fewest := len(stages), math.MaxInt
	for i := range n {
		pairs := 0
		for j := i; j < i+min(3, n); j++ {
			pairs += len(stages[j%n].candidates) * len(stages[(j+1)%n].candidates)
		}
		if pairs < fewest {
			fewest, at = pairs, i
		}
	}
	return at
}

// find is solve, from the first stage on.
func (s *search) find(e *Engine, stages []stage, loop bool, lead *candidate) (path []Voicing, proved bool) {
	n := len(stages)
	s.best = grow(s.best, n)[:n]
	s.room = s.budget
	if directWork(stages, loop) <= s.small {
		if loop {
			s.cost = s.reached.loop(e, stages)
		} else {
			s.cost = s.reached.line(e, stages, lead)
		}
		for i, c := range s.reached.path {
			s.best[i] = stages[i].candidates[c].Voicing
		}
		return s.best, true
	}
	if lead != nil {
		e.lead(&stages[0], lead)
	}
	if n == 1 { // nothing moves
		s.best[0] = cheapest(stages[0].candidates).Voicing
		return s.best, true
	}
	s.lay(e, stages, loop)
	floor := s.bound(e)
	s.scout(e, loop)
	// Most of the work lies under the last limit: too low a one costs little, too
	// high a one much. Where a line was found but no loop, one is not far.
	for gap := max((s.cost-floor)/4, slack); ; {
		limit := min(floor+gap, s.cost)
		s.line = math.Inf(-1)
		found := s.under(e, limit, loop)
		if s.room <= 0 {
			return s.best, false
		}
		if found || limit >= s.cost {
			return s.best, true
		}
		gap += max(min(gap, 3*(limit-s.line)), slack)
	}
}

func cheapest(all []candidate) *candidate {
	least := &all[0]
	for i := range all {
		if all[i].total < least.total {
			least = &all[i]
		}
	}
	return least
}

// lay makes the layers.
func (s *search) lay(e *Engine, stages []stage, loop bool) {
	n := len(stages)
	if loop {
		n++
	}
	s.layers = grow(s.layers, n)[:n]
	for i := range s.layers {
		l := &s.layers[i]
		l.from, l.again = stages[i%len(stages)].candidates, i == len(stages)
	}
	s.prices = e.groupPrices(s.prices)
}

// under looks for the best path of at most limit. If there is one it is put
// into best, its price into cost, and under reports true.
func (s *search) under(e *Engine, limit float64, loop bool) bool {
	for i := range s.layers {
		s.layers[i].keep(limit)
	}
	first := &s.layers[0]
	first.forward.clear(first)
	for c := range first.kept {
		first.forward.at[c] = first.own(&first.kept[c])
	}
	if !s.sweep(e, limit+slack, forward) {
		return false
	}
	last := len(s.layers) - 1
	end := s.layers[last].forward.least(&s.layers[last])
	s.trace(forward, end)
	s.line = s.layers[last].forward.at[end]
	if !loop || s.joined() {
		s.take(s.line)
		return true
	}
	return s.close(e, min(limit, s.shut(e, end)))
}

// shut gives the price of a loop near the path in chosen, which ends at survivor
// end of the last layer and began elsewhere: one of the two ends stands for both.
func (s *search) shut(e *Engine, end int32) float64 {
	n := len(s.best)
	at := func(i int) *candidate { return &s.layers[i].kept[s.chosen[i]] }
	middle := 0.0
	for i := 1; i < n; i++ {
		if middle += at(i).total; i > 1 {
			middle += e.stepTotal(at(i-1), at(i))
		}
	}
	price := func(v *candidate) float64 {
		return v.total + e.stepTotal(v, at(1)) + middle + e.stepTotal(at(n-1), v)
	}
	return min(price(at(0)), price(&s.layers[n].kept[end]))
}

// trace reads the path that a sweep found to survivor end of the last layer
// into chosen.
func (s *search) trace(d direction, end int32) {
	s.chosen = grow(s.chosen, len(s.layers))[:len(s.layers)]
	for i := len(s.layers) - 1; i >= 0; i-- {
		s.chosen[i] = end
		end = s.layers[i].costs(d).from[end]
	}
}

// joined reports whether the path in chosen ends where it began.
func (s *search) joined() bool {
	last := len(s.layers) - 1
	return s.layers[0].kept[s.chosen[0]].Voicing == s.layers[last].kept[s.chosen[last]].Voicing
}

// take makes chosen the best path.
func (s *search) take(cost float64) {
	s.cost = cost
	for i := range s.best {
		s.best[i] = s.layers[i].kept[s.chosen[i]].Voicing
	}
}

// keep makes the list of survivors: those whose bound is at most limit.
func (l *layer) keep(limit float64) {
	for g := range l.groups {
		l.groups[g].low, l.groups[g].high = 0, 0
	}
	n := int32(0)
	for c := range l.from {
		if g := &l.groups[l.ids[c]]; l.own(&l.from[c])+g.reach+g.going <= limit+slack {
			g.high++
			n++
		}
	}
	l.kept, l.going, l.origin = grow(l.kept, int(n))[:n], grow(l.going, int(n))[:n], grow(l.origin, int(n))[:n]
	at := int32(0)
	for g := range l.groups {
		g := &l.groups[g]
		g.low, g.high, at = at, at, at+g.high
	}
	for c := range l.from {
		if g := &l.groups[l.ids[c]]; l.own(&l.from[c])+g.reach+g.going <= limit+slack {
			l.kept[g.high], l.going[g.high], l.origin[g.high] = l.from[c], g.going, int32(c)
			g.high++
		}
	}
}

// close finds the best loop of at most limit among the survivors of forward.
//
// The best path from some first candidates to the same ones costs no more than
// any loop through one of them. If it ends where it began it is the best of these
// loops; if not, they are parted in two, so that where it began and where it
// ended are apart, and each part is searched by itself.
func (s *search) close(e *Engine, limit float64) bool {
	s.limit = limit
	first, last := &s.layers[0], &s.layers[len(s.layers)-1]
	last.backward.clear(last)
	for c := range last.kept {
		if !math.IsInf(last.forward.at[c], 1) {
			last.backward.at[c] = 0
		}
	}
	s.sweep(e, limit+slack, backward)
	for i := range s.layers {
		l := &s.layers[i]
		for c := range l.kept { // from here on what follows is known
			l.going[c] = l.backward.at[c] - l.own(&l.kept[c])
		}
	}
	s.starts = s.starts[:0]
	b := 0
	for a, origin := range first.origin { // both lists are in one order
		for b < len(last.origin) && before(last, b, first, a) {
			b++
		}
		if b < len(last.origin) && last.origin[b] == origin && max(first.backward.at[a], last.forward.at[b]) <= limit+slack {
			s.starts = append(s.starts, start{int32(a), int32(b)})
		}
	}
	for c := range last.going {
		last.going[c] = math.Inf(1)
	}
	known := s.cost
	s.cost, s.closed = limit+slack, -1
	s.part(e, 0, len(s.starts))
	if s.closed < 0 {
		s.cost = known
		return false
	}
	return true
}

// before reports whether survivor b of one layer comes before survivor a of
// another one of the same candidates: by group, then by origin.
func before(of *layer, b int, other *layer, a int) bool {
	x, y := of.origin[b], other.origin[a]
	return cmp.Or(cmp.Compare(of.ids[x], other.ids[y]), cmp.Compare(x, y)) < 0
}

// start is a first candidate of a loop: where it is in the first layer and the
// last.
type start struct{ first, last int32 }

// part takes the best loop through one of the starts low…high-1, if it is better
// than the best so far: if it costs less than cost, or as much and its first
// candidate comes before the one numbered closed.
func (s *search) part(e *Engine, low, high int) {
	if low == high || s.room <= 0 {
		return
	}
	first, last := &s.layers[0], &s.layers[len(s.layers)-1]
	first.part.clear(first)
	last.part.clear(last)
	for _, start := range s.starts[low:high] {
		first.part.at[start.first] = first.own(&first.kept[start.first])
		last.going[start.last] = 0
	}
	found := s.sweep(e, min(s.cost, s.limit)+slack, parted)
	for _, start := range s.starts[low:high] {
		last.going[start.last] = math.Inf(1)
	}
	if !found {
		return
	}
	// Of equal ends this is the first: no other start that comes earlier has a loop
	// as good.
	end := last.part.least(last)
	if cost := last.part.at[end]; cost > s.cost || cost == s.cost && last.origin[end] >= s.closed {
		return
	}
	s.trace(parted, end)
	if s.joined() {
		s.take(last.part.at[end])
		s.closed = last.origin[end]
		return
	}
	s.limit = min(s.limit, s.shut(e, end))
	from, to := &first.kept[s.chosen[0]], &last.kept[end]
	middle := low
	for i := low; i < high; i++ {
		v := &first.kept[s.starts[i].first]
		if v != from && (v.Voicing == to.Voicing || distances(v.packed, to.packed) < distances(v.packed, from.packed)) {
			continue
		}
		s.starts[i], s.starts[middle] = s.starts[middle], s.starts[i]
		middle++
	}
	s.part(e, low, middle)
	s.part(e, middle, high)
}
