package voicing

import (
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// candidate is a voicing with what the search asks of it again and again.
type candidate struct {
	Voicing
	pitches Pitches
	classes pitch.Set
	total   float64 // own cost, with whatever leads to and from fixed neighbours
}

func candidateOf(v Voicing) candidate {
	return candidate{Voicing: v, pitches: v.Pitches(), classes: v.Classes()}
}

// stage is one chord of a path with its candidates.
type stage struct {
	tonality
	candidates []candidate
}

// need gives how many identity tones are a hard rule among n voices.
func (e *Engine) need(t *tonality, n int) int {
	if e.s.Stillness > IdentityRule {
		return 0
	}
	return min(n, t.identity.Len())
}

// fill lists the candidates of n upper notes of every chord.
func (e *Engine) fill(chords []harmony.Chord, key pitch.Key, n int) error {
	e.stages = grow(e.stages, len(chords))
	for i, c := range chords {
		s := &e.stages[i]
		s.tonality = e.s.tonality(c, key)
		s.candidates = s.candidates[:0]
		e.eachBass(&s.tonality, func(bass uint8) {
			v := Voicing{Bass: bass}
			e.extend(s, &v, e.s.Low, n)
		})
		if len(s.candidates) == 0 {
			return &RangeError{c, n, e.s.Low, e.s.High}
		}
	}
	return nil
}

// eachBass calls do with every bass note that carries the chord's bass, or with
// NoBass when the bass is off.
func (e *Engine) eachBass(t *tonality, do func(uint8)) {
	if e.s.NoBass {
		do(NoBass)
		return
	}
	for n := e.s.BassLow; n <= e.s.BassHigh; n++ {
		if class(n) == t.bass {
			do(n)
		}
	}
}

// extend appends to s every candidate of n notes that begins with v and goes on
// from note low upwards.
func (e *Engine) extend(s *stage, v *Voicing, low uint8, n int) {
	if int(v.N) == n {
		if e.whole(s, v) {
			c := candidateOf(*v)
			c.total = e.own(v, &s.tonality).Total
			s.candidates = append(s.candidates, c)
		}
		return
	}
	allowed := s.tones | s.colours
	high := e.s.High
	if v.N > 0 { // no gap above an octave
		high = min(high, v.Upper[v.N-1]+12)
	}
	for note := low; note <= high; note++ {
		if !allowed.Has(class(note)) || !s.fits(v, note) {
			continue
		}
		if !s.tones.Has(class(note)) && v.Classes().Add(class(note)).Minus(s.tones).Len() > e.s.Colours {
			continue
		}
		v.Upper[v.N] = note
		v.N++
		e.extend(s, v, note+1, n)
		v.N--
		v.Upper[v.N] = 0
	}
}

// whole reports whether a full choice of notes keeps the rules on the set as a
// whole: identity, and in plain voicings each tone exactly once.
func (e *Engine) whole(s *stage, v *Voicing) bool {
	classes := v.Classes()
	if e.s.Plain && int(v.N) == s.tones.Len() && classes != s.tones {
		return false
	}
	return !s.otherTriad(v) && (classes&s.identity).Len() >= e.need(&s.tonality, int(v.N))
}

// lead adds to every candidate of s the cost of coming from before.
func (e *Engine) lead(s *stage, before *candidate) {
	for i := range s.candidates {
		s.candidates[i].total += e.step(before, &s.candidates[i]).Total
	}
}

// follow adds to every candidate of s the cost of going on to after.
func (e *Engine) follow(s *stage, after *candidate) {
	for i := range s.candidates {
		s.candidates[i].total += e.step(&s.candidates[i], after).Total
	}
}
