package voicing

import (
	"cmp"
	"math/bits"

	"bedd/internal/harmony"
)

// Trouble is what would mislead the ear about a chord if its upper notes were
// those of the static set.
type Trouble uint8

// The troubles, in the order in which they are looked for.
const (
	Clear         Trouble = iota
	BreaksRule            // a hard rule is broken: a note contradicts the chord or rubs with it
	LacksBorrowed         // a tone is missing that the chord's name takes from outside the key
	Hollow                // an identity tone is missing under fewer than three pitch classes
	HeardAsOther          // a tone is missing, and the whole is heard as a chord on another root
	SoundsAlike           // no identity tone is there, and another chord sounds exactly the same
)

// String says what the static set does to the chord; Clear is "".
func (t Trouble) String() string {
	return [...]string{Clear: "", BreaksRule: "rubs or contradicts", LacksBorrowed: "lacks the note from outside the key", Hollow: "is hollow",
		HeardAsOther: "is heard as another chord", SoundsAlike: "sounds like another chord of the progression"}[t]
}

// troubleOf gives the trouble with v, by itself, over t. Where root and identity
// sound and only a plain fifth is missing, another root is heard if its whole
// triad sounds: C E A over G is no Gsus4.
// Hot path: no allocation.
func (t *tonality) troubleOf(v *Voicing) Trouble {
	if !t.keeps(v, MaxUpper, 0) {
		return BreaksRule
	}
	classes := v.Classes()
	all := classes.Add(t.bass)
	switch {
	case t.borrowed.Minus(classes) != 0:
		return LacksBorrowed
	case v.N >= 3 && classes.Len() < 3 && !classes.Contains(t.identity):
		return Hollow
	}
	switch heard, _ := harmony.Identify(all, t.bass, t.key); {
	case all.Contains(t.tones), heard.Root.Class() == t.root:
		return Clear
	case all.Contains(t.identity.Add(t.root)) && !triadElsewhere(all, t.root):
		return Clear // only a fifth is missing, and nothing else takes its place
	}
	return HeardAsOther
}

// departure is a chord's own voicing, as near to the static set as its trouble
// allows.
type departure struct {
	voicing   Voicing
	moved     int // voices that are not in the set
	outer     int // faults of the outer voices towards the set: see outerFaults
	semitones int
}

// outerFaults counts what is wrong with going between v and a voicing with the
// given top note over each of some basses: semitones beyond a fourth that the top
// leaps, and outer octaves in a row.
func outerFaults(v *Voicing, top uint8, basses []uint8) (n int) {
	n = outerMotion(NoBass, top, NoBass, v.top()).leap
	for _, bass := range basses {
		n += outerMotion(bass, top, v.Bass, v.top()).parallel
	}
	return n
}

// depart finds the voicing of t with as many notes as u that differs from u in
// the fewest notes, least…most of them, then has the fewest faults of the outer
// voices towards the chords that stay, then moves the fewest semitones, then costs least, among those that keep the rules with any colours. If clear, it also has
// an identity tone where the chord has any, and is not heard as another chord.
// No moved voices mean that there is none. By trying all; ties go to the first,
// the lowest note left and the lowest taken.
func (e *Engine) depart(u *Voicing, t *tonality, clear bool, least, most int) departure {
	d := departer{e: e, t: t, clear: clear, from: *u}
	for moved := least; moved <= min(int(u.N), most); moved++ {
		for left := range uint(1) << u.N {
			if bits.OnesCount(left) == moved {
				d.leave(left, moved)
			}
		}
		if d.found {
			return departure{d.best, moved, d.outer, d.semitones}
		}
	}
	return departure{}
}

// departer is one search of depart.
type departer struct {
	e     *Engine
	t     *tonality
	clear bool
	from  Voicing

	found     bool
	best      Voicing
	outer     int
	semitones int
	cost      float64
}

// leave tries every voicing that has other notes in place of the left ones, a
// bit each.
func (d *departer) leave(left uint, moved int) {
	kept := d.from
	for i := int(kept.N) - 1; i >= 0; i-- {
		if left>>i&1 != 0 {
			kept = kept.without(i)
		}
	}
	if d.t.strangers(kept.Classes()) == 0 {
		d.take(kept, d.e.s.Low, moved)
	}
}

// take adds some more notes to v, from note low upwards.
func (d *departer) take(v Voicing, low uint8, more int) {
	if more == 0 {
		d.offer(&v)
		return
	}
	used := d.from.Pitches()
	for n := low; n <= d.e.s.High; n++ {
		if (d.t.tones | d.t.colours).Has(class(n)) && !used.Has(n) {
			d.take(v.with(n), n+1, more-1)
		}
	}
}

func (d *departer) offer(v *Voicing) {
	top, semitones := d.from.top(), Movement(d.from.Notes(), v.Notes())
	if leap := outerFaults(v, top, nil); d.found && (leap > d.outer || leap == d.outer && semitones > d.semitones) {
		return
	}
	over := d.e.overBass(v, d.t)
	if !d.t.keeps(&over, MaxUpper, 0) || d.clear && !d.t.tells(&over) {
		return
	}
	outer, cost := outerFaults(&over, top, d.e.still.basses), d.e.own(&over, d.t).Total
	if !d.found || cmp.Or(cmp.Compare(outer, d.outer), cmp.Compare(semitones, d.semitones), cmp.Compare(cost, d.cost)) < 0 {
		d.found, d.best, d.outer, d.semitones, d.cost = true, over, outer, semitones, cost
	}
}

// tells reports whether v, which keeps the rules, is clear about its chord by
// itself and has an identity tone where the chord has any.
func (t *tonality) tells(v *Voicing) bool {
	return t.troubleOf(v) == Clear && (t.identity == 0 || t.identity&v.Classes() != 0)
}

// canBe reports whether t has a voicing of the reference number of notes that
// keeps the rules with any colours and, if clear is asked for, tells its chord.
func (e *Engine) canBe(t *tonality, clear bool) (yes bool) {
	e.eachBass(t, func(bass uint8) {
		yes = yes || e.canGrow(t, &Voicing{Bass: bass}, e.s.Low, clear)
	})
	return yes
}

func (e *Engine) canGrow(t *tonality, v *Voicing, low uint8, clear bool) bool {
	if int(v.N) == e.s.Voices {
		return t.keeps(v, MaxUpper, 0) && (!clear || t.tells(v))
	}
	for n := low; n <= e.s.High; n++ {
		if (t.tones | t.colours).Has(class(n)) && t.fits(v, n) {
			w := v.with(n)
			if e.canGrow(t, &w, n+1, clear) {
				return true
			}
		}
	}
	return false
}
