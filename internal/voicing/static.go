package voicing

import (
	"cmp"
	"math"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// stillBed is the working memory of stillness 1, and what it found: one set of
// upper notes, and each chord under it.
type stillBed struct {
	chords []stillChord
	upper  Voicing // the set, without a bass
	rate   stillRate
	found  bool
	most   int      // the highest price that is looked for
	basses []uint8  // of the chords that stay on the set that is rated now
	stay   []Ladder // that the outer voices of others are held against

	low, high uint8 // where sets are looked for
	sets      int   // how many there are, counted up to maxSets+1
	narrowed  bool  // not in the whole range
}

// maxSets bounds how many sets are rated: beyond it they are looked for in a
// narrower range about the centre. The default range has some 200 of four notes,
// three octaves some 7,000 of seven.
const maxSets = 1 << 13

// stillChord is one chord under the best static set so far, and under the one
// that is rated now.
type stillChord struct {
	tonality
	murky   bool // no voicing of it tells: any that keeps the rules will do
	best    underSet
	now     underSet
	setOver Voicing // the set that is rated now, over the chord's bass
	least   int     // what the chord adds at least to that set's price
}

// underSet is what a chord does under a static set.
type underSet struct {
	trouble Trouble // with the set's own notes
	departure
}

// stillRate orders static sets: first by the voices that must move and the
// identity tones that are missing together, then by voices, faults of the outer
// voices, other tones missing, semitones, cost. By ear: with voices first, two notes win that suit every chord
// of the library and tell none; with tones first, sets win that mislead about a
// chord because it must then move to where its third is.
type stillRate struct {
	moved, identity, outer, bare, semitones int
	cost                                    float64
}

func (a stillRate) compare(b stillRate) int {
	return cmp.Or(cmp.Compare(a.price(), b.price()), cmp.Compare(a.moved, b.moved), cmp.Compare(a.outer, b.outer),
		cmp.Compare(a.bare, b.bare), cmp.Compare(a.semitones, b.semitones), cmp.Compare(a.cost, b.cost))
}

func (a stillRate) price() int { return a.moved + a.identity }

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

// fillStaticPair finds in e.still the best static set for two progressions and what each
// chord does under it. It reports whether there is one: false when no set fits
// the range, or a chord has no voicing under the hard rules.
//
// It goes over all sets for one highest price after the other, from 0 up, so that
// no dear departure is looked for while a cheap one may be found. A price is found
// in the end, for every troubled chord has some departure of all its notes.
func (e *Engine) fillStaticPair(home, away []harmony.Chord, key pitch.Key) bool {
	b := &e.still
	b.chords, b.found = grow(b.chords, len(home)+len(away))[:len(home)+len(away)], false
	for i := range b.chords {
		c := &b.chords[i]
		if i < len(home) {
			c.tonality = e.s.tonality(home[i], key)
		} else {
			c.tonality = e.s.tonality(away[i-len(home)], key)
		}
		c.murky = !e.canBe(&c.tonality, true)
		if c.murky && !e.canBe(&c.tonality, false) {
			return false
		}
	}
	allowed := staticClasses(key)
	b.low, b.high, b.narrowed = e.s.Low, e.s.High, false
	for e.countSets(allowed); b.sets > maxSets; e.countSets(allowed) {
		b.narrowed = true
		if float64(b.high)-e.s.Centre > e.s.Centre-float64(b.low) {
			b.high--
		} else {
			b.low++
		}
	}
	for b.most = 0; !b.found && b.sets > 0; b.most++ {
		e.eachStatic(allowed, &Voicing{}, b.low, e.rateStatic)
	}
	return b.found
}

func (e *Engine) countSets(allowed pitch.Set) {
	e.still.sets = 0
	e.eachStatic(allowed, &Voicing{}, e.still.low, func(*Voicing) { e.still.sets++ })
}

// fillStatic is fillStaticPair for one progression.
func (e *Engine) fillStatic(chords []harmony.Chord, key pitch.Key) bool {
	return e.fillStaticPair(chords, nil, key)
}

// eachStatic does something with every static set that begins with v and goes on
// from note low upwards; counting, it stops beyond maxSets.
func (e *Engine) eachStatic(allowed pitch.Set, v *Voicing, low uint8, do func(*Voicing)) {
	if int(v.N) == e.s.Voices {
		do(v)
		return
	}
	var free tonality
	for n := low; n <= e.still.high && e.still.sets <= maxSets; n++ {
		if allowed.Has(class(n)) && free.fits(v, n) {
			v.Upper[v.N] = n
			v.N++
			e.eachStatic(allowed, v, n+1, do)
			v.N--
			v.Upper[v.N] = 0
		}
	}
}

// rateStatic takes v for the best static set if it is, and its price is not above
// the highest looked for.
func (e *Engine) rateStatic(v *Voicing) {
	b := &e.still
	classes := v.Classes()
	floor := 0 // no price of v is lower
	for i := range b.chords {
		floor += b.chords[i].strangers(classes).Len() // each has to move
	}
	if floor > b.most {
		return
	}
	e.findTroubles(v)
	floor = 0
	for i := range b.chords {
		c := &b.chords[i]
		c.least = c.missing(classes).Len() * c.weight()
		if c.now.trouble != Clear {
			c.least = 0
			for _, n := range v.Notes() {
				if c.strangers(pitch.SetOf(class(n))) != 0 {
					c.least++
				}
			}
			c.least = max(1, c.least)
		}
		floor += c.least
	}
	rate := stillRate{}
	for i := range b.chords {
		c := &b.chords[i]
		if floor > b.most {
			return
		}
		c.now.departure = departure{voicing: c.setOver}
		if c.now.trouble != Clear {
			if c.now.departure = e.depart(v, &c.tonality, !c.murky, c.least, c.least+b.most-floor); c.now.moved == 0 {
				return
			}
		}
		sounding := c.now.voicing.Classes()
		missing := c.missing(sounding).Len() * c.weight()
		floor += c.now.moved + missing - c.least
		rate.moved += c.now.moved
		rate.identity += missing
		rate.outer += c.now.outer
		rate.bare += c.bare.Minus(sounding).Len()
		rate.semitones += c.now.semitones
		rate.cost += e.own(&c.now.voicing, &c.tonality).Total
	}
	if rate.price() > b.most || b.found && rate.compare(b.rate) >= 0 {
		return
	}
	if rate.outer += e.thinFaults(v); b.found && rate.compare(b.rate) >= 0 {
		return
	}
	b.upper, b.rate, b.found = *v, rate, true
	for i := range b.chords {
		b.chords[i].best = b.chords[i].now
	}
}

// strangers gives those of some classes that have no place over the chord.
func (t *tonality) strangers(classes pitch.Set) pitch.Set {
	return classes.Minus(t.tones | t.colours)
}

// findTroubles puts v over every chord's bass and finds what it misleads about.
func (e *Engine) findTroubles(v *Voicing) {
	chords := e.still.chords
	for i := range chords {
		c := &chords[i]
		c.setOver = e.overBass(v, &c.tonality)
		if c.now.trouble = c.troubleOf(&c.setOver); c.murky && c.now.trouble != BreaksRule {
			c.now.trouble = Clear // no other voicing of it would do better
		}
	}
	classes := v.Classes()
	for i := range chords {
		c := &chords[i]
		if c.now.trouble == Clear && !c.murky && c.identity != 0 && c.identity&classes == 0 && e.soundsAlike(c) {
			c.now.trouble = SoundsAlike
		}
	}
	e.still.basses = e.still.basses[:0]
	for i := range chords {
		if chords[i].now.trouble == Clear {
			e.still.basses = append(e.still.basses, chords[i].setOver.Bass)
		}
	}
}

// soundsAlike reports whether a chord with other tones lies under the same notes
// over the same bass.
func (e *Engine) soundsAlike(c *stillChord) bool {
	for i := range e.still.chords {
		d := &e.still.chords[i]
		if d.bass == c.bass && d.tones != c.tones && (d.now.trouble == Clear || d.now.trouble == SoundsAlike) {
			return true
		}
	}
	return false
}

// overBass puts v over the bass of t that keeps the rules at the least cost,
// or, where none does, over the lowest.
func (e *Engine) overBass(v *Voicing, t *tonality) (best Voicing) {
	tried, least := false, math.Inf(1)
	e.eachBass(t, func(bass uint8) {
		over := *v
		over.Bass = bass
		if !tried {
			best, tried = over, true
		}
		if t.keeps(&over, MaxUpper, 0) {
			if cost := e.own(&over, t).Total; cost < least {
				best, least = over, cost
			}
		}
	})
	return best
}

// stillPath voices a progression at stillness 1; it is not ok where there is no
// static set.
func (e *Engine) stillPath(chords []harmony.Chord, key pitch.Key, loop bool, from *Voicing) (p Path, ok bool) {
	if !e.fillStatic(chords, key) {
		return Path{}, false
	}
	p = e.report(chords, key, loop, from, func(i int) Voicing { return e.still.chords[i].best.voicing })
	p.Static, p.Proved = e.still.upper.Pitches(), !e.still.narrowed
	for i := range p.Steps {
		p.Steps[i].Trouble = e.still.chords[i].best.trouble
	}
	return p, true
}
