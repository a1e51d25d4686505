package voicing

import (
	"cmp"
	"math"
	"slices"
)

// direction is which costs a sweep finds.
type direction uint8

const (
	forward  direction = iota // of reaching each survivor from the first layer
	backward                  // of going on from each to the last layer
	parted                    // as forward, from some of the first layer to the same in the last
)

// costs is what a sweep has found of one layer.
type costs struct {
	at       []float64 // of each survivor, its own included; +Inf where there is no path
	from     []int32   // the survivor of the layer before, in the sweep's direction
	order    []int32   // the survivors of each group by ascending cost
	sorted   []float64 // at, in that order
	packed   []uint64  // the survivors' notes, in that order
	alive    []int32   // how many of a group's are not +Inf
	cheapest []float64 // of each group
}

func (l *layer) costs(d direction) *costs {
	switch d {
	case forward:
		return &l.forward
	case backward:
		return &l.backward
	}
	return &l.part
}

// clear sets every cost to +Inf.
func (c *costs) clear(l *layer) {
	n := len(l.kept)
	c.at, c.from, c.order = grow(c.at, n)[:n], grow(c.from, n)[:n], grow(c.order, n)[:n]
	c.sorted, c.packed = grow(c.sorted, n)[:n], grow(c.packed, n)[:n]
	c.alive, c.cheapest = grow(c.alive, len(l.groups))[:len(l.groups)], grow(c.cheapest, len(l.groups))[:len(l.groups)]
	for i := range c.at {
		c.at[i], c.from[i] = math.Inf(1), -1
	}
}

// rank orders the survivors of each group by cost and reports whether any is
// alive.
func (c *costs) rank(l *layer) bool {
	any := false
	for g := range l.groups {
		low, at := l.groups[g].low, l.groups[g].low
		for i := low; i < l.groups[g].high; i++ {
			if !math.IsInf(c.at[i], 1) {
				c.order[at] = i
				at++
			}
		}
		c.alive[g] = at - low
		if at > low {
			order := c.order[low:at]
			slices.SortFunc(order, func(a, b int32) int { return cmp.Or(cmp.Compare(c.at[a], c.at[b]), cmp.Compare(a, b)) })
			c.cheapest[g] = c.at[order[0]]
			for i, v := range order {
				c.sorted[int(low)+i], c.packed[int(low)+i] = c.at[v], l.kept[v].packed
			}
			any = true
		}
	}
	return any
}

// least gives the survivor of least cost, of equal ones the first in the list.
func (c *costs) least(l *layer) int32 {
	least := 0
	for i := range c.at {
		if c.at[i] < c.at[least] || c.at[i] == c.at[least] && l.origin[i] < l.origin[least] {
			least = i
		}
	}
	return int32(least)
}

// sweep finds the costs of every layer from those of the first in its
// direction, as far as they lie on a path of less than limit by what is known of
// the rest of the way; it reports false when a layer has none or the budget is
// used up.
//
// For a candidate v the groups next to it are tried in the order of what they
// cost at least, and so are the candidates of a group: the rest of a list
// cannot be better once that is no less than the best found. Nor can a candidate
// whose notes' own movement, with what else the groups cost at least, is no less.
// Of candidates that are equally good the first in the list is taken, so none is
// passed over that might be.
func (s *search) sweep(e *Engine, limit float64, d direction) bool {
	n := len(s.layers)
	if d == backward {
		s.layers[n-1].backward.rank(&s.layers[n-1])
		for i := n - 2; i >= 0; i-- {
			if !s.relax(e, &s.layers[i+1], &s.layers[i], i, limit, d) {
				return false
			}
		}
		return true
	}
	s.layers[0].costs(d).rank(&s.layers[0])
	for i := range n - 1 {
		if !s.relax(e, &s.layers[i], &s.layers[i+1], i, limit, d) {
			return false
		}
	}
	return true
}

// relax finds the costs of layer to from those of layer near it. Pair is the
// number of the earlier of the two.
func (s *search) relax(e *Engine, near, to *layer, pair int, limit float64, d direction) bool {
	known, found := near.costs(d), to.costs(d)
	perSemitone := e.perMotion.Movement
	found.clear(to)
	for g := range to.groups {
		group := &to.groups[g]
		if group.low == group.high {
			continue
		}
		s.rank(near, to, known, g, pair, d)
		for c := group.low; c < group.high; c++ {
			v := &to.kept[c]
			own := to.own(v)
			best, from := limit-own-to.going[c], int32(-1)
			if d == backward {
				best = limit - to.forward.at[c]
			}
			for j, h := range s.order {
				if s.keys[j] > best+slack {
					break
				}
				low := near.groups[h].low
				sorted, packed := known.sorted[low:low+known.alive[h]], known.packed[low:low+known.alive[h]]
				order := known.order[low : low+known.alive[h]]
				step := s.keys[j] - known.cheapest[h] // at least
				rest := step - perSemitone*float64(s.moved[j])
				most, mostMoved := best+slack-step, best+slack-rest
				tried := 0
				for i, reached := range sorted {
					if reached > most {
						break
					}
					tried++
					if reached+perSemitone*float64(distances(packed[i], v.packed)) > mostMoved {
						continue
					}
					p := order[i]
					cost := reached
					if d == backward {
						cost += e.stepTotal(v, &near.kept[p])
					} else {
						cost += e.stepTotal(&near.kept[p], v)
					}
					if cost < best || cost == best && from >= 0 && near.origin[p] < near.origin[from] {
						best, from = cost, p
						most, mostMoved = best+slack-step, best+slack-rest
					}
				}
				s.room -= tried + 1
			}
			if from >= 0 {
				found.at[c], found.from[c] = best+own, from
			}
			if s.room <= 0 {
				return false
			}
		}
	}
	return found.rank(to)
}

// rank orders the groups of near by the least cost of a step between them and
// group g of to, with their own, into order and keys.
func (s *search) rank(near, to *layer, known *costs, g, pair int, d direction) {
	s.order, s.keys, s.moved = s.order[:0], s.keys[:0], s.moved[:0]
	for h := range near.groups {
		if known.alive[h] == 0 {
			continue
		}
		word := g*len(near.groups) + h
		if d == backward {
			word = h*len(to.groups) + g
		}
		motion := s.pairs[pair][word]
		s.order = append(s.order, int32(h))
		s.keys = append(s.keys, known.cheapest[h]+s.prices[motion]+s.bass[pair])
		s.moved = append(s.moved, motion>>5)
	}
	s.room -= 4 * len(s.order)
	s.sortKeys()
}

// sortKeys sorts keys, and order and moved with them.
func (s *search) sortKeys() {
	keys, order, moved := s.keys, s.order, s.moved
	for i := 1; i < len(keys); i++ {
		key, h, m, at := keys[i], order[i], moved[i], i
		for ; at > 0 && keys[at-1] > key; at-- {
			keys[at], order[at], moved[at] = keys[at-1], order[at-1], moved[at-1]
		}
		keys[at], order[at], moved[at] = key, h, m
	}
}
