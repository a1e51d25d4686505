package voicing

import (
	"math"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Prices that put what a set supplies before what it costs, and identity tones
// before others: no cost reaches the first, and no count of other tones over a
// path of 128 chords the second.
const (
	supplyFirst    = 1e4
	supplyIdentity = 1e3
)

// staticClasses are the notes that can lie over most chords of a key: its major
// scale (in minor, that of its relative major) without degrees 4 and 7, each of
// which is a semitone above a tone of the tonic or next to it. Common practice,
// no source.
func staticClasses(key pitch.Key) (s pitch.Set) {
	tonic := key.Tonic.Class()
	if key.Minor {
		tonic = up(tonic, 3)
	}
	for _, i := range [5]int{0, 2, 4, 7, 9} {
		s = s.Add(up(tonic, i))
	}
	return s
}

// fillStatic lists in e.static every set of upper notes at the reference
// density that keeps the rules over every chord, with its cost summed over
// them. It reports whether there is one.
func (e *Engine) fillStatic(chords []harmony.Chord, key pitch.Key) bool {
	return e.fillStaticPair(chords, nil, key)
}

func (e *Engine) fillStaticPair(home, away []harmony.Chord, key pitch.Key) bool {
	e.stages = grow(e.stages, len(home)+len(away))
	for i, c := range home {
		e.stages[i].tonality = tonalityOf(c, key, false)
	}
	for i, c := range away {
		e.stages[len(home)+i].tonality = tonalityOf(c, key, false)
	}
	e.static, e.staticOver = e.static[:0], e.stages[:len(home)+len(away)]
	e.staticAllowed = staticClasses(key)
	e.extendStatic(&Voicing{}, e.s.Low)
	return len(e.static) > 0
}

func (e *Engine) extendStatic(v *Voicing, low uint8) {
	if int(v.N) == e.s.Voices {
		e.offerStatic(*v)
		return
	}
	var free tonality
	for n := low; n <= e.s.High; n++ {
		if e.staticAllowed.Has(class(n)) && free.fits(v, n) {
			v.Upper[v.N] = n
			v.N++
			e.extendStatic(v, n+1)
			v.N--
			v.Upper[v.N] = 0
		}
	}
}

func (e *Engine) offerStatic(v Voicing) {
	total := 0.0
	for i := range e.staticOver {
		t := &e.staticOver[i].tonality
		over := e.overBass(&v, t)
		if !t.keeps(&over, MaxUpper, 0) {
			return
		}
		classes := over.Classes()
		total += e.own(&over, t).Total + supplyFirst*
			(supplyIdentity*float64(t.identity.Minus(classes).Len())+float64(t.bare.Minus(classes).Len()))
	}
	c := candidateOf(v)
	c.total = total
	e.static = append(e.static, c)
}

// overBass puts v over the bass of t that keeps the rules at the least cost,
// or, where none does, over the lowest.
func (e *Engine) overBass(v *Voicing, t *tonality) Voicing {
	best, least := *v, math.Inf(1)
	e.eachBass(t, func(bass uint8) {
		over := *v
		over.Bass = bass
		cost := e.own(&over, t).Total
		if !t.keeps(&over, MaxUpper, 0) {
			cost += 1e6
		}
		if cost < least {
			best, least = over, cost
		}
	})
	return best
}

// staticLadder grows a ladder, without a bass, from the best of e.static.
func (e *Engine) staticLadder() Ladder {
	best := e.bestStatic()
	l := Ladder{Low: best.N, High: best.N}
	now := best
	for r := e.s.Voices - 1; r >= e.s.Thin; r-- {
		e.static = e.static[:0]
		for i := range now.Notes() {
			e.offerStatic(now.without(i))
		}
		if len(e.static) == 0 {
			l.Dropped = true
			break
		}
		next := e.bestStatic()
		l.Entry[r] = now.Pitches().Without(next.Pitches()).lowest()
		l.Low, now = uint8(r), next
	}
	copy(l.Entry[:], now.Notes())
	now = best
	e.staticAllowed = best.Classes() // fuller rungs double: the set stays what it is
	for r := e.s.Voices + 1; r <= e.s.Full; r++ {
		e.static = e.static[:0]
		for n := e.s.Low; n <= e.s.High; n++ {
			if sounding := now.Pitches(); e.staticAllowed.Has(class(n)) && !sounding.Has(n) {
				e.offerStatic(now.with(n))
			}
		}
		if len(e.static) == 0 {
			l.Dropped = true
			break
		}
		next := e.bestStatic()
		l.Entry[r-1] = next.Pitches().Without(now.Pitches()).lowest()
		l.High, now = uint8(r), next
	}
	return l
}

func (e *Engine) bestStatic() Voicing {
	best := 0
	for i := range e.static {
		if e.static[i].total < e.static[best].total {
			best = i
		}
	}
	return e.static[best].Voicing
}
