package voicing

import "math"

// maxPairs bounds the tables of least motions between groups: 8 MiB. Beyond it
// all candidates of a chord are one group, and bounds come from own costs alone.
const maxPairs = 4 << 20

// bound sorts the candidates of every layer into groups and finds from those
// what a path costs at least before and after each. It gives the least that any
// path costs.
//
// No path costs less than the cheapest one in which each candidate is replaced
// by its group's least own cost, and each step by what a step between the two
// groups costs at least ([leastMotion]) with the least move of the bass. So the
// sum of reach, own cost and going bounds every path through a candidate.
func (s *search) bound(e *Engine) (floor float64) {
	if !s.group(false) {
		s.group(true)
	}
	n := len(s.layers)
	s.pairs, s.bass = grow(s.pairs, n), grow(s.bass, n)[:n]
	for i := range n - 1 {
		before, here := &s.layers[i], &s.layers[i+1]
		s.bass[i] = e.perMotion.BassMove * float64(leastBassMove(before.from, here.from))
		s.pairs[i] = s.pairs[i][:0]
		voices := int(here.from[0].N)
		for g := range here.groups {
			for h := range before.groups {
				word := uint16(0)
				if here.groups[g].counts != 0 {
					word = leastMotion(&before.groups[h], &here.groups[g], voices)
				}
				s.pairs[i] = append(s.pairs[i], word)
			}
		}
		s.room -= len(s.pairs[i])
	}
	for i := range n {
		l := &s.layers[i]
		for g := range l.groups {
			to := &l.groups[g]
			if to.reach = 0; i == 0 {
				continue
			}
			before := &s.layers[i-1]
			to.reach = math.Inf(1)
			row := s.pairs[i-1][g*len(before.groups):]
			for h := range before.groups {
				from := &before.groups[h]
				to.reach = min(to.reach, from.reach+from.least+s.prices[row[h]])
			}
			to.reach += s.bass[i-1]
		}
	}
	for i := n - 1; i >= 0; i-- {
		l := &s.layers[i]
		for g := range l.groups {
			from := &l.groups[g]
			if from.going = 0; i == n-1 {
				continue
			}
			next := &s.layers[i+1]
			from.going = math.Inf(1)
			for h := range next.groups {
				to := &next.groups[h]
				from.going = min(from.going, to.going+to.least+s.prices[s.pairs[i][h*len(l.groups)+g]])
			}
			from.going += s.bass[i]
		}
	}
	floor = math.Inf(1)
	for g := range s.layers[0].groups {
		first := &s.layers[0].groups[g]
		floor = min(floor, first.least+first.going)
	}
	return floor
}

func leastBassMove(a, b []candidate) int {
	var in [2]Pitches
	for i := range a {
		in[0].Add(a[i].Bass)
	}
	for i := range b {
		in[1].Add(b[i].Bass)
	}
	least := 128
	var room [2][128]uint8
	for _, p := range in[0].Append(room[0][:0]) {
		for _, v := range in[1].Append(room[1][:0]) {
			least = min(least, distance(p, v))
		}
	}
	return least
}

// group sorts the candidates of every layer into groups, or each into one; it
// reports false when there are too many.
func (s *search) group(one bool) bool {
	pairs := 0
	for i := range s.layers {
		l := &s.layers[i]
		l.ids, l.groups = l.ids[:0], l.groups[:0]
		s.hash.clear()
		for c := range l.from {
			counts := uint64(0)
			if !one {
				counts = countsOf(&l.from[c])
			}
			slot := s.hash.find(counts)
			if slot.id == 0 {
				if len(l.groups) == maxGroups {
					return false
				}
				g := groupOf(counts)
				g.least = math.Inf(1)
				l.groups = append(l.groups, g)
				*slot = groupSlot{counts, uint16(len(l.groups))}
			}
			l.ids = append(l.ids, slot.id-1)
			g := &l.groups[slot.id-1]
			g.least = min(g.least, l.own(&l.from[c]))
		}
		if i > 0 {
			pairs += len(l.groups) * len(s.layers[i-1].groups)
		}
	}
	return pairs <= maxPairs
}

// groupHash finds a group by its counts: a table half full at most.
type groupHash [2 * maxGroups]groupSlot

const maxGroups = 2048

type groupSlot struct {
	counts uint64
	id     uint16 // plus one; 0 where the slot is free
}

func (h *groupHash) clear() { *h = groupHash{} }

func (h *groupHash) find(counts uint64) *groupSlot {
	i := counts * 0x9e3779b97f4a7c15 >> 52 // the golden ratio's fraction spreads neighbours
	for h[i].id != 0 && h[i].counts != counts {
		i = (i + 1) % uint64(len(h))
	}
	return &h[i]
}
