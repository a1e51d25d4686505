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
}

// stillChord is one chord under the best static set so far, and under the one
// that is rated now.
type stillChord struct {
	tonality
	murky   bool // no voicing of it tells: any that keeps the rules will do
	best    underSet
	now     underSet
	setOver Voicing // the set that is rated now, over the chord's bass
}

// underSet is what a chord does under a static set.
type underSet struct {
	trouble Trouble // with the set's own notes
	departure
}

// stillRate orders static sets: first by the voices that must move and the
// identity tones that are missing together, then by voices, other tones missing,
// semitones, cost. By ear: with voices first, two notes win that suit every chord
// of the library and tell none; with tones first, sets win that mislead about a
// chord because it must then move to where its third is.
type stillRate struct {
	moved, identity, bare, semitones int
	cost                             float64
}

func (a stillRate) compare(b stillRate) int {
	return cmp.Or(cmp.Compare(a.price(), b.price()), cmp.Compare(a.moved, b.moved), cmp.Compare(a.bare, b.bare),
		cmp.Compare(a.semitones, b.semitones), cmp.Compare(a.cost, b.cost))
}

// weight is how much a missing identity tone of c counts: three on the tonic, for
// without its third the key itself is neither major nor minor. By ear.
func (c *stillChord) weight() int {
	if c.root == c.key.Tonic.Class() {
		return 3
	}
	return 1
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

// settle finds in e.still the best static set for two progressions and what each
// chord does under it. It reports whether there is one: false when no set fits
// the range, or a chord has no voicing under the hard rules.
func (e *Engine) settle(home, away []harmony.Chord, key pitch.Key) bool {
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
	e.eachStatic(staticClasses(key), &Voicing{}, e.s.Low)
	return b.found
}

// eachStatic rates every static set that begins with v and goes on from note low
// upwards.
func (e *Engine) eachStatic(allowed pitch.Set, v *Voicing, low uint8) {
	if int(v.N) == e.s.Voices {
		e.rateStatic(v)
		return
	}
	var free tonality
	for n := low; n <= e.s.High; n++ {
		if allowed.Has(class(n)) && free.fits(v, n) {
			v.Upper[v.N] = n
			v.N++
			e.eachStatic(allowed, v, n+1)
			v.N--
			v.Upper[v.N] = 0
		}
	}
}

// rateStatic takes v for the best static set if it is.
func (e *Engine) rateStatic(v *Voicing) {
	b := &e.still
	troubled := e.findTroubles(v)
	most := math.MaxInt
	if b.found {
		most = b.rate.price()
	}
	rate := stillRate{}
	for i := range b.chords {
		c := &b.chords[i]
		c.now.departure = departure{voicing: c.setOver}
		if c.now.trouble != Clear {
			// Every other troubled chord will move a voice at least.
			troubled--
			if c.now.departure = e.depart(v, &c.tonality, !c.murky, most-rate.price()-troubled); c.now.moved == 0 {
				return
			}
		}
		classes := c.now.voicing.Classes()
		rate.moved += c.now.moved
		rate.identity += c.missing(classes).Len() * c.weight()
		rate.bare += c.bare.Minus(classes).Len()
		rate.semitones += c.now.semitones
		rate.cost += e.own(&c.now.voicing, &c.tonality).Total
		if rate.price()+troubled > most {
			return
		}
	}
	if b.found && rate.compare(b.rate) >= 0 {
		return
	}
	b.upper, b.rate, b.found = *v, rate, true
	for i := range b.chords {
		b.chords[i].best = b.chords[i].now
	}
}

// findTroubles puts v over every chord's bass and counts the chords that it
// misleads about.
func (e *Engine) findTroubles(v *Voicing) (troubled int) {
	chords := e.still.chords
	for i := range chords {
		c := &chords[i]
		c.setOver = e.overBass(v, &c.tonality)
		if c.now.trouble = c.troubleOf(&c.setOver); c.murky && c.now.trouble == HeardAsOther {
			c.now.trouble = Clear // no other voicing of it would do better
		}
	}
	classes := v.Classes()
	for i := range chords {
		c := &chords[i]
		if c.now.trouble == Clear && !c.murky && c.identity != 0 && c.identity&classes == 0 && e.soundsAlike(c) {
			c.now.trouble = SoundsAlike
		}
		if c.now.trouble != Clear {
			troubled++
		}
	}
	return troubled
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

// stillPath voices a progression at stillness 1; it is not ok where settle finds
// nothing.
func (e *Engine) stillPath(chords []harmony.Chord, key pitch.Key, loop bool, from *Voicing) (p Path, ok bool) {
	if !e.settle(chords, nil, key) {
		return Path{}, false
	}
	p = e.report(chords, key, loop, from, func(i int) Voicing { return e.still.chords[i].best.voicing })
	p.Static = e.still.upper.Pitches()
	for i := range p.Steps {
		p.Steps[i].Trouble = e.still.chords[i].best.trouble
	}
	return p, true
}
