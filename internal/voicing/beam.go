package voicing

import (
	"math"
	"slices"
)

// A beam follows beamWidth paths at once, through the beamList candidates of
// each chord with the lowest bounds.
const (
	beamWidth = 16
	beamList  = 256
)

// beamPath is a path that the beam follows, up to one layer.
type beamPath struct {
	at, first *candidate
	group     int     // of at
	from      int     // in the beam of the layer before
	cost      float64 // so far
	bound     float64 // with the least that must follow
}

// scout finds a good path to begin with: the best of a beam, improved one chord
// at a time. It goes to best and cost. Round a loop the beam goes twice, so that
// it begins the second time where it came to the first.
func (s *search) scout(e *Engine, loop bool) {
	n := len(s.best)
	end := n
	if loop {
		end = 2 * n
	}
	s.beams = grow(s.beams, end)
	for i := range n {
		s.layers[i].keep(s.lowest(&s.layers[i]))
	}
	for i := range end {
		l := &s.layers[i%n]
		s.beams[i] = s.beams[i][:0]
		for h := range l.groups {
			g := &l.groups[h]
			for c := g.low; c < min(g.high, g.low+beamList); c++ {
				v := &l.kept[c]
				b := beamPath{at: v, first: v, group: h, cost: v.total}
				if i > 0 {
					s.come(e, &b, i, n)
				}
				b.bound = b.cost + g.going
				if loop && i == end-1 {
					b.bound = b.cost + e.stepTotal(v, b.first)
				}
				s.follow(i, b)
			}
		}
	}
	s.now = grow(s.now, n)[:n]
	for i, j := end-1, 0; i >= end-n; i-- {
		s.now[i%n] = s.beams[i][j].at
		j = s.beams[i][j].from
	}
	s.cost = s.descend(e, loop)
	for i := range s.best {
		s.best[i] = s.now[i].Voicing
	}
}

// come takes the best way for b, at chord i of n round and round, from the beam
// before it.
func (s *search) come(e *Engine, b *beamPath, i, n int) {
	pair := (i - 1) % n
	words := s.pairs[pair][b.group*len(s.layers[pair].groups):]
	perSemitone := e.perMotion.Movement
	least, v := math.Inf(1), b.at
	for j := range s.beams[i-1] {
		before := &s.beams[i-1][j]
		word := words[before.group] // the step costs at least this, but for its own movement
		rest := s.prices[word] - perSemitone*float64(word>>5)
		if before.cost+rest+perSemitone*float64(distances(before.at.packed, v.packed)) >= least {
			continue
		}
		if cost := before.cost + e.stepTotal(before.at, v); cost < least {
			least, b.from = cost, j
			if i%n != 0 { // there the second turn begins
				b.first = before.first
			}
		}
	}
	s.room -= len(s.beams[i-1])
	b.cost = least + v.total
}

// follow puts b among the paths of beam i if its bound is among the least.
func (s *search) follow(i int, b beamPath) {
	beam := s.beams[i]
	if len(beam) == beamWidth {
		if b.bound >= beam[beamWidth-1].bound {
			return
		}
		beam = beam[:beamWidth-1]
	}
	at := len(beam)
	for at > 0 && beam[at-1].bound > b.bound {
		at--
	}
	s.beams[i] = slices.Insert(beam, at, b)
}

// lowest gives a bound that beamList candidates of a layer do not exceed.
func (s *search) lowest(l *layer) float64 {
	s.bounds = s.bounds[:0]
	for c := range l.from {
		g := &l.groups[l.ids[c]]
		s.bounds = append(s.bounds, l.own(&l.from[c])+g.reach+g.going)
	}
	return smallest(s.bounds, beamList)
}

// smallest gives a number that at least k of a list do not exceed, the k-th
// smallest, or the largest of a shorter list; it parts the list again and again.
func smallest(all []float64, k int) float64 {
	for len(all) > k {
		pivot := all[len(all)/2]
		low, high := 0, len(all)-1
		for low <= high {
			for all[low] < pivot {
				low++
			}
			for all[high] > pivot {
				high--
			}
			if low <= high {
				all[low], all[high] = all[high], all[low]
				low, high = low+1, high-1
			}
		}
		switch {
		case k <= high+1:
			all = all[:high+1]
		case k <= low:
			return pivot
		default:
			all, k = all[low:], k-low
		}
	}
	return slices.Max(all)
}

// descend improves the path in now, one chord at a time, until no single one can
// be improved among the candidates that layers keep, and gives its price.
func (s *search) descend(e *Engine, loop bool) float64 {
	n := len(s.now)
	for improved := true; improved && s.room > 0; {
		improved = false
		for i := range n {
			var before, after *candidate
			if i > 0 || loop {
				before = s.now[(i+n-1)%n]
			}
			if i < n-1 || loop {
				after = s.now[(i+1)%n]
			}
			price := func(v *candidate) float64 {
				cost := v.total
				if before != nil {
					cost += e.stepTotal(before, v)
				}
				if after != nil {
					cost += e.stepTotal(v, after)
				}
				return cost
			}
			least := price(s.now[i]) - slack
			l := &s.layers[i]
			for c := range l.kept {
				if v := &l.kept[c]; v.total < least {
					if cost := price(v); cost < least {
						least, s.now[i], improved = cost, v, true
					}
				}
			}
			s.room -= len(l.kept)
		}
	}
	cost := 0.0
	for i, v := range s.now {
		cost += v.total
		if i > 0 {
			cost += e.stepTotal(s.now[i-1], v)
		} else if loop {
			cost += e.stepTotal(s.now[n-1], v)
		}
	}
	return cost
}
