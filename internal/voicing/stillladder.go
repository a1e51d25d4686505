package voicing

import (
	"cmp"
	"math/bits"

	"bedd/internal/pitch"
)

// staticLadders appends a ladder for each of the first n chords that the static
// set was found for, and says whether they are the best of all: first the shared
// one, then each chord that departs. Those that stay share their upper notes.
func (e *Engine) staticLadders(dst []Ladder, n int) (ladders []Ladder, proved bool) {
	shared, proved := e.sharedLadder()
	chords := e.still.chords
	e.still.stay = e.still.stay[:0]
	ladders = grow(dst, len(dst)+len(chords))
	own := ladders[len(dst):]
	stays := func(i int) bool { return chords[i].best.trouble == Clear && own[i].Bass != unfit }
	for i := range chords {
		own[i] = shared
		own[i].Bass = unfit
		if bass, fits := e.bassUnder(&shared, &chords[i].tonality); fits {
			own[i].Bass = bass
		}
		if stays(i) {
			e.still.stay = append(e.still.stay, own[i])
		}
	}
	for i := range chords {
		if !stays(i) {
			var exact bool
			own[i], exact = e.departedLadder(&chords[i], &shared)
			e.still.stay = append(e.still.stay, own[i])
			proved = proved && exact
		}
	}
	return ladders[:len(dst)+n], proved && !e.still.narrowed
}

// unfit stands in for the bass of a ladder that the shared notes do not fit.
const unfit = 255

// sharedLadder finds the ladder of the static set, without a bass, over the chords
// that stay. Fuller rungs double the set's classes; where those do not reach far
// enough, they take the others that a set may have.
func (e *Engine) sharedLadder() (Ladder, bool) {
	enter := e.still.upper.Classes()
	for {
		l, proved := e.growStill(e.still.upper, enter, func(v Voicing) (rungRate, bool) { return e.rateShared(v, underBest) })
		all := staticClasses(e.still.chords[0].key)
		if int(l.High) == e.s.Full || enter == all {
			return l, proved
		}
		enter = all
	}
}

// growStill finds the best ladder through a voicing of the reference number of
// notes: up and down as far as any goes, and of those the best rated, rung for
// rung together. Notes of some classes may enter. It says whether all were tried.
func (e *Engine) growStill(from Voicing, enter pitch.Set, rate func(Voicing) (rungRate, bool)) (l Ladder, proved bool) {
	l = Ladder{Bass: from.Bass, Low: from.N, High: from.N}
	down := chain{e: e, to: e.s.Thin, rate: rate}
	down.follow(from)
	for _, v := range down.best {
		l.Low = v.N
		l.Entry[v.N] = from.Pitches().Without(v.Pitches()).lowest()
		from = v
	}
	copy(l.Entry[:], from.Notes())
	from = l.Rung(int(l.High))
	up := chain{e: e, to: e.s.Full, enter: enter, rate: rate}
	up.follow(from)
	for _, v := range up.best {
		l.High = v.N
		l.Entry[v.N-1] = v.Pitches().Without(from.Pitches()).lowest()
		from = v
	}
	l.Dropped = int(l.Low) > e.s.Thin || int(l.High) < e.s.Full
	return l, !down.over && !up.over
}

// rungRate orders voicings for a rung: the fewest that mislead, then the fewest
// faults of the outer voices and notes beside the shared ladder's, then identity
// tones missing, semitones, other tones missing, cost.
type rungRate struct {
	troubles, outer, apart, identity, semitones, bare int
	cost                                              float64
}

func (r rungRate) compare(b rungRate) int {
	return cmp.Or(cmp.Compare(r.troubles, b.troubles), cmp.Compare(r.outer, b.outer), cmp.Compare(r.apart, b.apart),
		cmp.Compare(r.identity, b.identity), cmp.Compare(r.semitones, b.semitones), cmp.Compare(r.bare, b.bare),
		cmp.Compare(r.cost, b.cost))
}

func (r rungRate) plus(b rungRate) rungRate {
	return rungRate{r.troubles + b.troubles, r.outer + b.outer, r.apart + b.apart, r.identity + b.identity,
		r.semitones + b.semitones, r.bare + b.bare, r.cost + b.cost}
}

func (r *rungRate) add(e *Engine, v *Voicing, t *tonality) {
	classes := v.Classes()
	if t.troubleOf(v) != Clear {
		r.troubles++
	}
	r.identity += t.missing(classes).Len()
	r.bare += t.bare.Minus(classes).Len()
	r.cost += e.own(v, t).Total
}

// underBest and underNow give what a chord does under the best set so far, and
// under the one that is rated now.
func underBest(c *stillChord) *underSet { return &c.best }
func underNow(c *stillChord) *underSet  { return &c.now }

// rateShared rates a rung of the set for the chords that stay, and by what those
// that depart can do beside it.
func (e *Engine) rateShared(v Voicing, under func(*stillChord) *underSet) (rate rungRate, stands bool) {
	var free tonality
	if !free.stands(&v) {
		return rate, false
	}
	for i := range e.still.chords {
		c := &e.still.chords[i]
		u := under(c)
		if u.trouble != Clear {
			if v.N < u.voicing.N {
				trouble, leap := c.thinned(&u.voicing, int(v.N), v.top())
				rate.troubles += trouble
				rate.outer += leap
			}
			continue
		}
		over := e.overBass(&v, &c.tonality)
		if !c.keeps(&over, MaxUpper, 0) {
			return rate, false
		}
		rate.add(e, &over, &c.tonality)
	}
	return rate, true
}

// thinFaults gives the faults of the outer voices that the best rung below a set
// still has, where a ladder has one.
func (e *Engine) thinFaults(v *Voicing) int {
	if e.s.Thin == int(v.N) {
		return 0
	}
	best, found := rungRate{}, false
	for i := range v.Notes() {
		if rate, stands := e.rateShared(v.without(i), underNow); stands && (!found || rate.compare(best) < 0) {
			best, found = rate, true
		}
	}
	return best.outer
}

// thinned gives the least trouble, and with it the least leap of the top note from
// top, that some n notes of a departing chord's own voicing have.
func (t *tonality) thinned(full *Voicing, n int, top uint8) (trouble, leap int) {
	trouble, leap = 2, 128
	for kept := range 1 << full.N {
		if bits.OnesCount(uint(kept)) != n {
			continue
		}
		v := Voicing{Bass: full.Bass}
		for i, note := range full.Notes() {
			if kept>>i&1 != 0 {
				v = v.with(note)
			}
		}
		if !t.keeps(&v, MaxUpper, 0) {
			continue
		}
		misleads := 0
		if t.troubleOf(&v) != Clear {
			misleads = 1
		}
		if l := outerFaults(&v, top, nil); misleads < trouble || misleads == trouble && l < leap {
			trouble, leap = misleads, l
		}
	}
	return trouble, leap
}

// bassUnder gives the bass of t under which every rung of l keeps the rules and
// the fullest costs least.
func (e *Engine) bassUnder(l *Ladder, t *tonality) (bass uint8, ok bool) {
	least := 0.0
	e.eachBass(t, func(b uint8) {
		under := *l
		under.Bass = b
		for r := int(l.Low); r <= int(l.High); r++ {
			if v := under.Rung(r); !t.keeps(&v, MaxUpper, 0) {
				return
			}
		}
		full := under.Rung(int(l.High))
		if cost := e.own(&full, t).Total; !ok || cost < least {
			bass, least, ok = b, cost, true
		}
	})
	return bass, ok
}

// departedLadder finds the ladder of a chord that cannot stay, through its own
// voicing: rung by rung as near as can be to the shared ladder.
func (e *Engine) departedLadder(c *stillChord, shared *Ladder) (Ladder, bool) {
	return e.growStill(c.best.voicing, c.tones|c.colours, func(v Voicing) (rungRate, bool) {
		return e.rateDeparted(v, c, shared)
	})
}

func (e *Engine) rateDeparted(v Voicing, c *stillChord, shared *Ladder) (rate rungRate, stands bool) {
	if !c.keeps(&v, MaxUpper, 0) {
		return rate, false
	}
	near := shared.Rung(int(v.N))
	rate.apart = v.Pitches().Without(near.Pitches()).Len()
	rate.semitones = Movement(near.Notes(), v.Notes())
	for i := range e.still.stay {
		l := &e.still.stay[i]
		other := l.Rung(int(v.N))
		m := outerMotion(other.Bass, other.top(), v.Bass, v.top())
		rate.outer += m.leap + m.parallel
	}
	rate.add(e, &v, &c.tonality)
	return rate, true
}
