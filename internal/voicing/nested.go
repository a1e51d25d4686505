package voicing

import (
	"slices"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Nested is a progression voiced by ladders, from thin to full.
type Nested struct {
	Ladders []Ladder // of each chord
	Rungs   []Rung   // the numbers of upper notes that every ladder has, ascending
	Price   float64  // the sum over Thin…Full of RungWeight times what the path at each costs
	Proved  bool     // no other ladders cost less; else the budget ran out before that was certain
}

// Rung is a nested progression at one number of upper notes.
type Rung struct {
	Voices int
	Path   Path // that the ladders make; Proved says nothing here

	// What the best path at this number of upper notes costs that need not be
	// contained in any other, and whether that is proved. Path.Cost.Total less Alone
	// is the price of nesting at this rung. At stillness 1, where the upper notes are
	// the same throughout, nothing is Compared.
	Compared    bool
	Alone       float64
	AloneProved bool
}

// Nest voices chords in key by ladders that are best for all their rungs
// together. A loop closes. From, if not nil, is what sounds before the first
// chord of a line, whatever the rung. Slow, up to seconds; not for the callback.
func (e *Engine) Nest(chords []harmony.Chord, key pitch.Key, loop bool, from *Voicing) (Nested, error) {
	if len(chords) == 0 {
		return Nested{}, errNoChord
	}
	if loop {
		from = nil
	}
	if from != nil {
		if err := from.check(); err != nil {
			return Nested{}, err
		}
	}
	out := Nested{Proved: true}
	static := e.s.oneSet() && e.fillStatic(chords, key)
	if static {
		out.Ladders, out.Proved = e.staticLadders(nil, len(chords))
	} else {
		j := &e.joint
		if err := j.open(e, key, chords, nil); err != nil {
			return Nested{}, err
		}
		for i := range chords {
			if i+1 < len(chords) || loop {
				j.edge(i, (i+1)%len(chords))
			}
		}
		if from != nil {
			j.comes(e, from.ladder(), 0)
		}
		j.settle(e, atLength)
		out.Ladders, out.Proved = slices.Clone(j.best), j.proved
	}
	low, high := e.s.Thin, e.s.Full
	for _, l := range out.Ladders {
		low, high = max(low, int(l.Low)), min(high, int(l.High))
	}
	for r := e.s.Thin; r <= e.s.Full; r++ {
		path := e.report(chords, key, loop, from, func(i int) Voicing { return out.Ladders[i].Rung(r) })
		out.Price += e.s.RungWeight[r] * path.Cost.Total
		if r < low || r > high {
			continue
		}
		rung := Rung{Voices: r, Path: path}
		if !static {
			alone, proved, err := e.alone(chords, key, r, loop, from)
			if !proved { // the ladders' own path may be the better one
				alone = min(alone, path.Cost.Total)
			}
			rung.Compared, rung.Alone, rung.AloneProved = err == nil, alone, proved
		}
		out.Rungs = append(out.Rungs, rung)
	}
	return out, nil
}

// alone gives what the best path of n upper notes costs, and whether that is
// proved.
func (e *Engine) alone(chords []harmony.Chord, key pitch.Key, n int, loop bool, from *Voicing) (cost float64, proved bool, err error) {
	path, proved, err := e.path(chords, key, n, loop, from)
	if err != nil {
		return 0, false, err
	}
	return e.report(chords, key, loop, from, func(i int) Voicing { return path[i] }).Cost.Total, proved, nil
}

// ladder gives a ladder of v alone.
func (v *Voicing) ladder() *Ladder {
	l := Ladder{Bass: v.Bass, Low: v.N, High: v.N}
	copy(l.Entry[:], v.Notes())
	return &l
}
