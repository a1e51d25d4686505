package voicing

import (
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Pair voices two progressions that a player swaps between: home as a loop,
// then away as a loop whose first chord is reached well from any chord of home,
// and whose every chord leads well to home's first. It appends their ladders to
// the two slices. From, if not nil, is the ladder that sounds now, and home's
// chord number enter is where it goes next. At stillness 1 all ladders share
// their upper notes, unless no set of upper notes keeps the rules over every
// chord.
func (e *Engine) Pair(home, away []harmony.Chord, key pitch.Key, from *Ladder, enter int, toHome, toAway []Ladder) (h, a []Ladder, err error) {
	h, a = toHome, toAway
	if e.s.Stillness == 1 {
		if n := len(home); e.fillStaticPair(home, away, key) {
			one := e.staticLadder()
			for i := range e.stages[:n+len(away)] {
				l := one
				full := one.Rung(int(one.High))
				over := e.overBass(&full, &e.stages[i].tonality)
				if l.Bass = over.Bass; i < n {
					h = append(h, l)
				} else {
					a = append(a, l)
				}
			}
			return h, a, nil
		}
	}
	var before []Ladder
	if from != nil {
		e.single[0] = *from
		before = e.single[:]
	}
	start := len(h)
	if h, err = e.ladders(h, home, key, before, enter, nil); err != nil {
		return toHome, toAway, err
	}
	if len(away) == 0 {
		return h, a, nil
	}
	if a, err = e.ladders(a, away, key, h[start:], 0, h[start:start+1]); err != nil {
		return toHome, toAway, err
	}
	return h, a, nil
}

// Next gives the best ladder for a chord that comes without warning, from where
// the bed is now, or from nothing. At stillness 1 the upper notes stay as they
// are where the rules let them and the chord can still be told by one of them.
// No allocation once the engine has met chords as large.
func (e *Engine) Next(c harmony.Chord, key pitch.Key, from *Ladder) (Ladder, error) {
	e.oneChord[0] = c
	if from == nil {
		return e.one(key, nil)
	}
	if e.s.Stillness == 1 {
		t := tonalityOf(c, key, false)
		if l, ok := e.onlyBass(from, &t); ok {
			return l, nil
		}
	}
	e.single[0] = *from
	return e.one(key, e.single[:])
}

func (e *Engine) one(key pitch.Key, before []Ladder) (Ladder, error) {
	out, err := e.ladders(e.oneLadder[:0], e.oneChord[:], key, before, 0, nil)
	if err != nil {
		return Ladder{}, err
	}
	return out[0], nil
}

// onlyBass puts the upper notes of from over the bass of t, if every rung keeps
// the hard rules and the reference rung has an identity tone of the chord.
func (e *Engine) onlyBass(from *Ladder, t *tonality) (Ladder, bool) {
	l := *from
	full, reference := from.Rung(int(from.High)), from.Rung(e.s.Voices)
	if t.identity != 0 && reference.Classes()&t.identity == 0 {
		return l, false
	}
	l.Bass = e.overBass(&full, t).Bass
	for r := int(l.Low); r <= int(l.High); r++ {
		if v := l.Rung(r); !t.keeps(&v, MaxUpper, 0) {
			return l, false
		}
	}
	return l, true
}

// core is the rung that a ladder grows from. Three upper notes can tell a chord,
// and are the fewest of which two must be held: what they hold every fuller rung
// holds too, because it contains them.
func (e *Engine) core() int { return min(max(3, e.s.Thin), e.s.Full) }

// ladders appends one ladder a chord of a loop to dst. Each of before leads to
// the chord number enter; every chord leads to each of after.
func (e *Engine) ladders(dst []Ladder, chords []harmony.Chord, key pitch.Key, before []Ladder, enter int, after []Ladder) ([]Ladder, error) {
	if err := e.fill(chords, key, e.core()); err != nil {
		return dst, err
	}
	stages := e.stages[:len(chords)]
	start := len(dst)
	ref := e.core()
	e.link(stages, before, enter, after, ref)
	e.reference = grow(e.reference, len(chords))
	for i, c := range e.search.solve(e, stages, true) {
		v := stages[i].candidates[c].Voicing
		e.reference[i] = v
		dst = append(dst, Ladder{Bass: v.Bass, Low: uint8(ref), High: uint8(ref)})
	}
	out := dst[start:]
	e.now = append(e.now[:0], e.reference[:len(chords)]...)
	for r := ref - 1; r >= e.s.Thin; r-- {
		if !e.rung(stages, before, enter, after, r, e.thinner) {
			mark(out)
			break
		}
		for i, c := range e.search.solve(e, stages, true) {
			v := stages[i].candidates[c].Voicing
			out[i].Entry[r] = e.now[i].Pitches().Without(v.Pitches()).lowest()
			out[i].Low = uint8(r)
			e.now[i] = v
		}
	}
	for i := range out {
		copy(out[i].Entry[:], e.now[i].Notes())
	}
	e.now = append(e.now[:0], e.reference[:len(chords)]...)
	for r := ref + 1; r <= e.s.Full; r++ {
		if !e.rung(stages, before, enter, after, r, e.fuller) {
			mark(out)
			break
		}
		for i, c := range e.search.solve(e, stages, true) {
			v := stages[i].candidates[c].Voicing
			out[i].Entry[r-1] = v.Pitches().Without(e.now[i].Pitches()).lowest()
			out[i].High = uint8(r)
			e.now[i] = v
		}
	}
	return dst, nil
}

func mark(ladders []Ladder) {
	for i := range ladders {
		ladders[i].Dropped = true
	}
}

func (p Pitches) lowest() uint8 {
	var room [2 * MaxUpper]uint8
	return p.Append(room[:0])[0]
}

// rung lists for every stage the voicings of r upper notes next to those in
// e.now; it reports false when one stage has none.
func (e *Engine) rung(stages []stage, before []Ladder, enter int, after []Ladder, r int, near func(*stage, Voicing)) bool {
	for i := range stages {
		stages[i].candidates = stages[i].candidates[:0]
		near(&stages[i], e.now[i])
		if len(stages[i].candidates) == 0 {
			return false
		}
	}
	e.link(stages, before, enter, after, r)
	return true
}

// link adds the steps from and to fixed neighbours at rung r.
func (e *Engine) link(stages []stage, before []Ladder, enter int, after []Ladder, r int) {
	for i := range before {
		c := candidateOf(before[i].Rung(r))
		e.lead(&stages[enter], &c)
	}
	for i := range after {
		c := candidateOf(after[i].Rung(r))
		for j := range stages {
			e.follow(&stages[j], &c)
		}
	}
}

func (e *Engine) thinner(s *stage, v Voicing) {
	for i := range v.Notes() {
		e.offer(s, v.without(i))
	}
}

func (e *Engine) fuller(s *stage, v Voicing) {
	sounding := v.Pitches()
	for n := e.s.Low; n <= e.s.High; n++ {
		if (s.tones | s.colours).Has(class(n)) && !sounding.Has(n) {
			e.offer(s, v.with(n))
		}
	}
}

func (e *Engine) offer(s *stage, v Voicing) {
	if !s.keeps(&v, e.s.Colours, e.need(&s.tonality, int(v.N))) {
		return
	}
	c := candidateOf(v)
	c.total = e.own(&v, &s.tonality).Total
	s.candidates = append(s.candidates, c)
}
