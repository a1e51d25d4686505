package voicing

import (
	"math"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Pair voices two progressions that a player swaps between, each a loop: from
// any chord of the one a swap leads to the other's first. It appends their
// ladders to the two slices. From, if not nil, is the ladder that sounds now, and
// home's chord number enter is where it goes next. At stillness 1 all ladders
// share their upper notes but those of chords that must depart, see the package
// documentation; what sounds now is then not asked.
func (e *Engine) Pair(home, away []harmony.Chord, key pitch.Key, from *Ladder, enter int, toHome, toAway []Ladder) (h, a []Ladder, err error) {
	h, a = toHome, toAway
	if e.s.Stillness == 1 && !e.s.Plain && e.fillStaticPair(home, away, key) {
		e.grown = e.staticLadders(e.grown[:0], len(home)+len(away))
		return append(h, e.grown[:len(home)]...), append(a, e.grown[len(home):]...), nil
	}
	both := append(append(e.both[:0], home...), away...)
	e.both = both
	if err := e.cores(both, len(home), key, from, enter); err != nil {
		return toHome, toAway, err
	}
	e.grown = e.grow(e.grown[:0], both, key, from, enter)
	return append(h, e.grown[:len(home)]...), append(a, e.grown[len(home):]...), nil
}

// Fits reports whether every chord has a voicing to grow a ladder from; if not,
// the error is a [RangeError].
func (e *Engine) Fits(chords []harmony.Chord, key pitch.Key) error {
	return e.fill(chords, key, e.core())
}

// Next gives the best ladder for a chord that comes without warning, from where
// the bed is now, or from nothing. At stillness 1 the upper notes stay as they
// are where they do not mislead about the chord and it can be told by one of them.
// No allocation once the engine has met chords as large.
func (e *Engine) Next(c harmony.Chord, key pitch.Key, from *Ladder) (Ladder, error) {
	e.oneChord[0] = c
	if from == nil {
		return e.one(key, nil)
	}
	if e.s.Stillness == 1 {
		t := e.s.tonality(c, key)
		if l, ok := e.onlyBass(from, &t); ok {
			return l, nil
		}
	}
	return e.one(key, from)
}

func (e *Engine) one(key pitch.Key, from *Ladder) (Ladder, error) {
	if err := e.cores(e.oneChord[:], 1, key, from, 0); err != nil {
		return Ladder{}, err
	}
	e.grown = e.grow(e.grown[:0], e.oneChord[:], key, from, 0)
	return e.grown[0], nil
}

// onlyBass puts the upper notes of from over the bass of t, if every rung keeps
// the hard rules and the reference rung has an identity tone of the chord.
func (e *Engine) onlyBass(from *Ladder, t *tonality) (Ladder, bool) {
	l := *from
	full, reference := from.Rung(int(from.High)), from.Rung(e.s.Voices)
	l.Bass = e.overBass(&full, t).Bass
	if reference.Bass = l.Bass; !t.tells(&reference) {
		return l, false
	}
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

// cores finds in e.reference the core voicings of two progressions that a
// player swaps between: the first split chords and the rest. From, if not nil,
// leads to the chord number enter.
//
// It begins with the best single loop through both; then each is improved in
// turn, exactly, with every swap to and from the other in the price, until
// neither can be improved alone.
func (e *Engine) cores(chords []harmony.Chord, split int, key pitch.Key, from *Ladder, enter int) error {
	n := e.core()
	if err := e.fill(chords, key, n); err != nil {
		return err
	}
	stages := e.stages[:len(chords)]
	e.link(stages, from, enter, n)
	e.reference = grow(e.reference, len(chords))[:len(chords)]
	for i, c := range e.search.solve(e, stages, true) {
		e.reference[i] = stages[i].candidates[c].Voicing
	}
	if split == len(chords) {
		return nil
	}
	for improved, pass := true, 0; improved && pass < maxPasses; pass++ {
		improved = false
		for _, group := range [2][2]int{{0, split}, {split, len(chords)}} {
			improved = e.improve(chords, group[0], group[1], key, from, enter) || improved
		}
	}
	return nil
}

// maxPasses bounds the turns of cores.
const maxPasses = 6

// improve chooses anew the voicings of chords low…high-1, a loop, while the
// others stay, and reports whether that costs less.
func (e *Engine) improve(chords []harmony.Chord, low, high int, key pitch.Key, from *Ladder, enter int) bool {
	others := e.reference[:low:low]
	if low == 0 {
		others = e.reference[high:]
	}
	if e.fill(chords[low:high], key, e.core()) != nil {
		panic("voicing: chords that had candidates have none") // cores listed them before
	}
	stages := e.stages[:high-low]
	for i := range stages { // every chord is reached in two ways, round and by swap
		for j := range stages[i].candidates {
			stages[i].candidates[j].total *= 2
		}
	}
	if enter >= low && enter < high {
		e.link(stages, from, enter-low, e.core())
	}
	for i := range others { // every swap comes to the first, and leads to the others' first
		c := candidateOf(others[i])
		e.lead(&stages[0], &c)
		if i == 0 {
			for j := range stages {
				e.follow(&stages[j], &c)
			}
		}
	}
	before := e.loopCost(stages, func(i int) *candidate { return find(&stages[i], e.reference[low+i]) })
	chosen := e.search.solve(e, stages, true)
	after := e.loopCost(stages, func(i int) *candidate { return &stages[i].candidates[chosen[i]] })
	if after >= before-1e-9 {
		return false
	}
	for i := range stages {
		e.reference[low+i] = stages[i].candidates[chosen[i]].Voicing
	}
	return true
}

// loopCost sums the totals of one candidate a stage and the steps round them.
func (e *Engine) loopCost(stages []stage, at func(int) *candidate) float64 {
	sum := 0.0
	for i := range stages {
		here, next := at(i), at((i+1)%len(stages))
		if here == nil || next == nil {
			return math.Inf(1)
		}
		sum += here.total
		if len(stages) > 1 {
			sum += e.step(here, next).Total
		}
	}
	return sum
}

// find gives the candidate of a voicing, or nil.
func find(s *stage, v Voicing) *candidate {
	for i := range s.candidates {
		if s.candidates[i].Voicing == v {
			return &s.candidates[i]
		}
	}
	return nil
}

// grow appends to dst the ladders that grow from the core voicings in
// e.reference, all chords in one loop. From, if not nil, leads to the chord
// number enter.
func (e *Engine) grow(dst []Ladder, chords []harmony.Chord, key pitch.Key, from *Ladder, enter int) []Ladder {
	e.stages = grow(e.stages, len(chords))
	stages := e.stages[:len(chords)]
	core := e.core()
	for i, c := range chords {
		stages[i].tonality = e.s.tonality(c, key)
		dst = append(dst, Ladder{Bass: e.reference[i].Bass, Low: uint8(core), High: uint8(core)})
	}
	out := dst[len(dst)-len(chords):]
	e.now = append(e.now[:0], e.reference...)
	for r := core - 1; r >= e.s.Thin; r-- {
		if !e.rung(stages, from, enter, r, false) {
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
	e.now = append(e.now[:0], e.reference...)
	for r := core + 1; r <= e.s.Full; r++ {
		if !e.rung(stages, from, enter, r, true) {
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
	return dst
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
// e.now, one note fuller or one thinner; it reports false when one stage has
// none.
func (e *Engine) rung(stages []stage, from *Ladder, enter, r int, fuller bool) bool {
	for i := range stages {
		stages[i].candidates = stages[i].candidates[:0]
		if fuller {
			e.fuller(&stages[i], e.now[i])
		} else {
			e.thinner(&stages[i], e.now[i])
		}
		if len(stages[i].candidates) == 0 {
			return false
		}
	}
	e.link(stages, from, enter, r)
	return true
}

// link adds the step from what sounds at rung r, if anything does, to the stage
// number enter.
func (e *Engine) link(stages []stage, from *Ladder, enter, r int) {
	if from != nil {
		c := candidateOf(from.Rung(r))
		e.lead(&stages[enter], &c)
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
