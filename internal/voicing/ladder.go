package voicing

import (
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Pair voices two progressions that a player swaps between, each a loop: from
// any chord of the one a swap leads to the other's first. It appends their
// ladders to the two slices. From, if not nil, is the ladder that sounds now, and
// home's chord number enter is where it goes next. At stillness 1 all ladders
// share their upper notes but those of chords that must depart, see the package
// documentation; what sounds now is then not asked.
//
// The ladders are those of the least price: the sum over the numbers of voices r
// of RungWeight[r] times every step at r, round and by swap, and twice every own
// cost at r, for the two ways to reach a chord; once where away is empty. Whether
// they are proved to be depends on the budget, which is smaller while something
// sounds, for then a player waits: some 15 ms, otherwise 100 ms. See
// [Engine.Proved].
func (e *Engine) Pair(home, away []harmony.Chord, key pitch.Key, from *Ladder, enter int, toHome, toAway []Ladder) (h, a []Ladder, err error) {
	n, m := len(home), len(away)
	if e.s.oneSet() && e.fillStaticPair(home, away, key) {
		e.stilled, e.joint.proved = e.staticLadders(e.stilled[:0], n+m)
		return append(toHome, e.stilled[:n]...), append(toAway, e.stilled[n:]...), nil
	}
	j := &e.joint
	if err := j.open(e, key, home, away); err != nil {
		return toHome, toAway, err
	}
	for i := range n {
		j.edge(i, (i+1)%n)
	}
	for i := range m {
		j.edge(n+i, n+(i+1)%m)
	}
	if n > 0 && m > 0 {
		j.times = 2 // every chord is reached in two ways, round and by a swap
		for i := range n {
			j.edge(i, n)
		}
		for i := range m {
			j.edge(n+i, 0)
		}
	}
	j.comes(e, from, enter)
	budget := inQuiet
	if from != nil {
		budget = inHurry
	}
	j.settle(e, budget)
	return append(toHome, j.best[:n]...), append(toAway, j.best[n:]...), nil
}

// Proved reports whether no other ladders would have cost less than those that
// the last Pair gave: that was within its budget.
func (e *Engine) Proved() bool { return e.joint.proved }

// Fits reports whether every chord has a voicing to grow a ladder from; if not,
// the error is a [RangeError].
func (e *Engine) Fits(chords []harmony.Chord, key pitch.Key) error {
	_, err := e.fill(chords, key, e.core())
	return err
}

// Next gives the best ladder for a chord that comes without warning, from where
// the bed is now, or from nothing. At stillness 1 the upper notes stay as they
// are where they do not mislead about the chord and it can be told by one of them.
// No allocation once the engine has met chords as large.
func (e *Engine) Next(c harmony.Chord, key pitch.Key, from *Ladder) (Ladder, error) {
	if from != nil && e.s.oneSet() {
		t := e.s.tonality(c, key)
		if l, ok := e.onlyBass(from, &t); ok {
			return l, nil
		}
	}
	e.shelf.call++
	l, err := e.lattice(c, key)
	if err != nil {
		return Ladder{}, err
	}
	near := e.near[:0]
	if from != nil {
		e.before.spread(from, e.s.Thin, e.s.Full)
		near = append(near, neighbour{at: &e.before})
	}
	ladder, _ := e.climb(l, 1, near)
	return ladder, nil
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
// and are the fewest of which two must be held.
func (e *Engine) core() int { return min(max(3, e.s.Thin), e.s.Full) }
