package voicing

import (
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// lattice is what every ladder of one chord is made of: for each number of
// upper notes the voicings, and for each voicing those that it becomes when one
// note goes. Only voicings on a ladder that goes all the way from rung low to
// rung high are in it.
type lattice struct {
	chord     harmony.Chord
	key       pitch.Key
	low, high int
	rungs     [MaxUpper + 1]rung
	complete  bool // every voicing inside the settings was looked at
	used      int  // when it was last asked for
}

// rung is a chord's voicings of one number of upper notes.
type rung struct {
	voices  int
	words   []uint64  // the upper notes, the lowest in the lowest byte, and the bass in bassByte
	pitches []Pitches // the upper notes
	own     []float64 // own cost
	below   []uint16  // from i·voices on: what voicing i becomes without each of its notes, or none
}

// Where a rung's words have the bass, and what they have besides.
const (
	bassByte   = 8 * MaxUpper
	upperBytes = 1<<bassByte - 1
)

// voicing gives voicing i.
func (r *rung) voicing(i int) Voicing {
	v := Voicing{Bass: uint8(r.words[i] >> bassByte), N: uint8(r.voices)}
	for j := range v.Notes() {
		v.Upper[j] = uint8(r.words[i] >> (8 * j))
	}
	return v
}

// set makes r the rung of some candidates of n notes.
func (r *rung) set(n int, from []candidate) {
	*r = rung{n, r.words[:0], r.pitches[:0], r.own[:0], r.below[:0]}
	for i := range from {
		c := &from[i]
		r.words = append(r.words, c.packed|uint64(c.Bass)<<bassByte)
		r.pitches = append(r.pitches, c.pitches)
		r.own = append(r.own, c.total)
	}
}

// none stands in for a voicing that breaks a rule.
const none = 1<<16 - 1

// maxLattice bounds the voicings of one lattice: 3 MiB.
const maxLattice = 1 << 15

// build makes l the lattice of a chord.
func (l *lattice) build(e *Engine, c harmony.Chord, key pitch.Key) error {
	e.chord = e.s.tonality(c, key)
	l.chord, l.key, l.complete = c, key, true
	for scope := e.widest(); ; scope, l.complete = scope.narrower(e.s.Centre), false {
		room, over := maxLattice, false
		for r := e.s.Thin; r <= e.s.Full && !over; r++ {
			list := e.lister(&e.chord, scope, r, room, e.weave.list[:0])
			list.all()
			l.rungs[r].set(r, list.found)
			e.weave.list, over = list.found, list.over
			room -= len(list.found)
		}
		if !over || scope.closed() {
			break
		}
	}
	core := e.core()
	if len(l.rungs[core].words) == 0 {
		return e.narrow(c, key, core)
	}
	for r := e.s.Thin + 1; r <= e.s.Full; r++ {
		l.link(&e.weave, r)
	}
	l.trim(&e.weave, core, e.s.Thin, e.s.Full)
	return nil
}

// weave is working memory for building a lattice.
type weave struct {
	list  []candidate
	slots []uint16 // numbers of voicings, plus one, by their words
	alive [MaxUpper + 1][]bool
	holds []bool
	moved []uint16
}

// link finds what the voicings of rung n become when one note goes.
func (l *lattice) link(w *weave, n int) {
	here, lower := &l.rungs[n], l.rungs[n-1].words
	size := 16
	for size < 2*len(lower) {
		size *= 2
	}
	w.slots = grow(w.slots, size)[:size]
	clear(w.slots)
	// The slot where a word is, or the free one where it would be.
	slot := func(word uint64) *uint16 {
		at := int(word*0x9e3779b97f4a7c15>>32) & (size - 1) // the golden ratio's fraction spreads neighbours
		for w.slots[at] != 0 && lower[w.slots[at]-1] != word {
			at = (at + 1) & (size - 1)
		}
		return &w.slots[at]
	}
	for i, word := range lower {
		*slot(word) = uint16(i) + 1
	}
	for _, word := range here.words {
		for j := range n {
			kept, above := uint64(1)<<(8*j)-1, word&upperBytes>>(8*(j+1))<<(8*j)
			here.below = append(here.below, *slot(word&kept | above | word&^upperBytes)-1) // 0-1 is none
		}
	}
}

// trim finds how far ladders reach from the core, first up and then down, and
// leaves only the voicings on a ladder all the way.
func (l *lattice) trim(w *weave, core, thin, full int) {
	for r := range w.alive {
		w.alive[r] = grow(w.alive[r], len(l.rungs[r].words))[:len(l.rungs[r].words)]
		for i := range w.alive[r] {
			w.alive[r][i] = true
		}
	}
	l.low, l.high = core, core
	for l.high < full && l.standing(w, l.high+1) {
		l.high++
	}
	for r := l.high; r > core; r-- {
		l.holding(w, r)
	}
	for l.low > thin && l.holding(w, l.low) {
		l.low--
	}
	for r := l.low + 1; r <= l.high; r++ {
		l.standing(w, r)
	}
	for r := range l.rungs {
		if r < l.low || r > l.high {
			l.rungs[r].set(r, nil)
			continue
		}
		l.drop(w, r)
	}
}

// standing leaves alive at rung r what stands on something alive below, and
// reports whether anything does.
func (l *lattice) standing(w *weave, r int) bool {
	any := false
	for i := range w.alive[r] {
		stands := false
		for _, b := range l.rungs[r].below[i*r : (i+1)*r] {
			stands = stands || b != none && w.alive[r-1][b]
		}
		w.alive[r][i] = w.alive[r][i] && stands
		any = any || w.alive[r][i]
	}
	return any
}

// holding leaves alive below rung r what holds up something alive at r, and
// reports whether anything does.
func (l *lattice) holding(w *weave, r int) bool {
	w.holds = grow(w.holds, len(w.alive[r-1]))[:len(w.alive[r-1])]
	clear(w.holds)
	for i, alive := range w.alive[r] {
		for _, b := range l.rungs[r].below[i*r : (i+1)*r] {
			if alive && b != none {
				w.holds[b] = true
			}
		}
	}
	any := false
	for b := range w.holds {
		w.alive[r-1][b] = w.alive[r-1][b] && w.holds[b]
		any = any || w.alive[r-1][b]
	}
	return any
}

// drop takes out of rung n what is not alive.
func (l *lattice) drop(w *weave, n int) {
	r := &l.rungs[n]
	if n == l.low {
		r.below = r.below[:0]
	}
	w.moved = grow(w.moved, len(r.words))[:len(r.words)]
	at := 0
	for i, alive := range w.alive[n] {
		if w.moved[i] = none; !alive {
			continue
		}
		w.moved[i] = uint16(at)
		r.words[at], r.pitches[at], r.own[at] = r.words[i], r.pitches[i], r.own[i]
		if n > l.low {
			copy(r.below[at*n:(at+1)*n], r.below[i*n:(i+1)*n])
		}
		at++
	}
	r.words, r.pitches, r.own = r.words[:at], r.pitches[:at], r.own[:at]
	if n > l.low {
		r.below = r.below[:at*n]
	}
	if n < l.high {
		for i, b := range l.rungs[n+1].below {
			if b != none {
				l.rungs[n+1].below[i] = w.moved[b]
			}
		}
	}
}

// size counts the voicings.
func (l *lattice) size() (n int) {
	for i := range l.rungs {
		n += len(l.rungs[i].words)
	}
	return n
}
