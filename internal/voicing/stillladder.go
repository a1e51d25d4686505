package voicing

import "cmp"

// staticLadders appends a ladder for each of the first n chords that the static
// set was found for. Those that stay share their upper notes.
func (e *Engine) staticLadders(dst []Ladder, n int) []Ladder {
	shared := e.sharedLadder()
	for i := range e.still.chords[:n] {
		c := &e.still.chords[i]
		l := shared
		bass, fits := e.bassUnder(&l, &c.tonality)
		if l.Bass = bass; c.best.trouble != Clear || !fits {
			l = e.departedLadder(c, &shared)
		}
		dst = append(dst, l)
	}
	return dst
}

// sharedLadder grows a ladder, without a bass, from the static set: each rung the
// best of all that leave a note out of the one above the reference, or add one,
// over the chords that stay. Fuller rungs double the set's classes.
func (e *Engine) sharedLadder() Ladder {
	classes := e.still.upper.Classes()
	return e.growStill(e.still.upper, func(note uint8) bool { return classes.Has(class(note)) }, e.rateShared)
}

// growStill grows a ladder from the voicing at the reference number of notes, a
// note at a time: each rung the best rated of all that leave a note out, or add
// one that may enter.
func (e *Engine) growStill(from Voicing, enters func(note uint8) bool, rate func(*rungChoice, Voicing)) Ladder {
	l := Ladder{Bass: from.Bass, Low: from.N, High: from.N}
	now := from
	for r := e.s.Voices - 1; r >= e.s.Thin; r-- {
		best := rungChoice{}
		for i := range now.Notes() {
			rate(&best, now.without(i))
		}
		if !best.found {
			l.Dropped = true
			break
		}
		l.Entry[r] = now.Pitches().Without(best.v.Pitches()).lowest()
		l.Low, now = uint8(r), best.v
	}
	copy(l.Entry[:], now.Notes())
	now = from
	for r := e.s.Voices + 1; r <= e.s.Full; r++ {
		best := rungChoice{}
		for n := e.s.Low; n <= e.s.High; n++ {
			if sounding := now.Pitches(); enters(n) && !sounding.Has(n) {
				rate(&best, now.with(n))
			}
		}
		if !best.found {
			l.Dropped = true
			break
		}
		l.Entry[r-1] = best.v.Pitches().Without(now.Pitches()).lowest()
		l.High, now = uint8(r), best.v
	}
	return l
}

// rungChoice is the best voicing so far for one rung.
type rungChoice struct {
	v     Voicing
	rate  rungRate
	found bool
}

// rungRate orders voicings for a rung: the fewest that mislead, then the fewest
// notes beside the shared ladder's, then identity tones missing, semitones, other
// tones missing, cost.
type rungRate struct {
	troubles, apart, identity, semitones, bare int
	cost                                       float64
}

func (a rungRate) compare(b rungRate) int {
	return cmp.Or(cmp.Compare(a.troubles, b.troubles), cmp.Compare(a.apart, b.apart), cmp.Compare(a.identity, b.identity),
		cmp.Compare(a.semitones, b.semitones), cmp.Compare(a.bare, b.bare), cmp.Compare(a.cost, b.cost))
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

func (c *rungChoice) offer(v Voicing, r rungRate) {
	if !c.found || r.compare(c.rate) < 0 {
		c.v, c.rate, c.found = v, r, true
	}
}

func (e *Engine) rateShared(best *rungChoice, v Voicing) {
	var free tonality
	if !free.stands(&v) {
		return
	}
	rate := rungRate{}
	for i := range e.still.chords {
		c := &e.still.chords[i]
		if c.best.trouble != Clear {
			continue
		}
		over := e.overBass(&v, &c.tonality)
		if !c.keeps(&over, MaxUpper, 0) {
			return
		}
		rate.add(e, &over, &c.tonality)
	}
	best.offer(v, rate)
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

// departedLadder grows the ladder of a chord that cannot stay from its own
// voicing: rung by rung as near as can be to the shared ladder.
func (e *Engine) departedLadder(c *stillChord, shared *Ladder) Ladder {
	return e.growStill(c.best.voicing, func(uint8) bool { return true },
		func(best *rungChoice, v Voicing) { e.rateDeparted(best, v, c, shared) })
}

func (e *Engine) rateDeparted(best *rungChoice, v Voicing, c *stillChord, shared *Ladder) {
	if !c.keeps(&v, MaxUpper, 0) {
		return
	}
	near := shared.Rung(int(v.N))
	rate := rungRate{
		apart:     v.Pitches().Without(near.Pitches()).Len(),
		semitones: Movement(near.Notes(), v.Notes()),
	}
	rate.add(e, &v, &c.tonality)
	best.offer(v, rate)
}
