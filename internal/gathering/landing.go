package gathering

import (
	"fmt"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// LandingStep is a chord of a landing, as the bed voices it.
type LandingStep struct {
	Chord   harmony.Chord
	Key     pitch.Key // in which it is heard
	Voicing voicing.Voicing
	Held    voicing.Pitches // upper notes that go on sounding
	Why     string          // in words: what the chord is, and where no note is held, why not
}

type landingKey struct {
	from, first harmony.Chord
	in, to      pitch.Key
	ending      harmony.Ending
}

type landed struct {
	route harmony.Route
	steps []LandingStep
	err   error
}

// Landing gives the way from a chord in one key to the first chord of a song in
// another, and each of its chords as the bed voices it when nothing else is asked
// of it. The error, of type *[voicing.RangeError], says that the rig's range has no
// room for a chord.
func (a *Adviser) Landing(from harmony.Chord, in, to pitch.Key, first harmony.Chord, ending harmony.Ending) (harmony.Route, []LandingStep, error) {
	k := landingKey{from, first, in, to, ending}
	l, known := a.landings[k]
	if !known {
		l.route = harmony.Land(from, in, to, first, ending)
		l.steps, l.err = a.walk(from, in, to, &l.route)
		a.landings[k] = l
	}
	return l.route, l.steps, l.err
}

// walk voices a landing step by step.
func (a *Adviser) walk(from harmony.Chord, in, to pitch.Key, r *harmony.Route) ([]LandingStep, error) {
	ladder, err := a.engine.Next(from, in, nil)
	if err != nil {
		return nil, err
	}
	voices := a.engine.Settings().Voices
	var steps []LandingStep
	last := from
	for i, c := range r.Chords[:r.N] {
		s := LandingStep{Chord: c, Key: r.Key(i, in, to)}
		next, err := a.engine.Next(c, s.Key, &ladder)
		if err != nil {
			return nil, err
		}
		before := ladder.Rung(voices)
		s.Voicing = next.Rung(voices)
		s.Held = before.Pitches().And(s.Voicing.Pitches())
		s.Why = landingWords(r, i, in, to, last)
		if s.Held.Len() == 0 {
			s.Why += "; " + unheld(last, c)
		}
		steps = append(steps, s)
		ladder, last = next, c
	}
	return steps, nil
}

// landingWords says what a route's chord number i is.
func landingWords(r *harmony.Route, i int, in, to pitch.Key, last harmony.Chord) string {
	c := r.Chords[i]
	here := func(k pitch.Key) string { return fmt.Sprintf("%s of %s", c.Degree(k), keyName(k)) }
	switch {
	case r.Turn == harmony.PivotTurn && i == 0 && r.TurnAt == -1:
		return fmt.Sprintf("%s; %s, where it comes from, is %s of %s as well", here(to), last, last.Degree(to), keyName(to))
	case r.Turn == harmony.PivotTurn && i == r.TurnAt:
		return fmt.Sprintf("%s and %s: here the key turns", here(in), here(to))
	case r.Turn == harmony.ChromaticTurn && i == r.TurnAt:
		return fmt.Sprintf("%s, by a chromatic step: no chord of both keys leads there", here(to))
	case r.Turn != harmony.NoTurn && i < r.TurnAt:
		return here(in)
	}
	return here(to)
}

// keyName is a key as one says it: "Eb", "F# minor".
func keyName(k pitch.Key) string {
	if k.Minor {
		return k.Tonic.String() + " minor"
	}
	return k.Tonic.String()
}

// unheld says why no upper note stays from one chord to the next.
func unheld(a, b harmony.Chord) string {
	if a.Classes().Intersect(b.Classes()) == 0 {
		return fmt.Sprintf("no note is held, since %s and %s share none", a, b)
	}
	return fmt.Sprintf("no note is held: what %s and %s share lies better elsewhere, and every voice moves a little", a, b)
}
