package main

import (
	"errors"
	"fmt"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// wantFaster is how many times faster a chord bedd has to be.
const wantFaster = 50

// row is one line of the table.
type row struct {
	name                 string
	progressions, chords int
	theirs, ours         int // semitones moved in all progressions
	notMinimal           int // progressions in which theirs moves more
	worse                int // in which ours does
	theirNanos, ourNanos float64
}

const heading = "Both from symbols to voicings, a line from where it starts, each answer searched anew; the best of nine rounds.\n" +
	"Kept from round to round: bedd's lists of voicings by chord and key, nothing of an answer.\n\n" +
	"                                progressions  chords   semitones moved   theirs not    µs a chord        times\n" +
	"                                                       theirs    ours    minimal       theirs    ours    faster"

func (r row) String() string {
	return fmt.Sprintf("%-32s%8d%12d%9d%8d%9s%14.1f%8.2f%9.0f", r.name, r.progressions, r.chords, r.theirs, r.ours,
		fmt.Sprintf("%d %%", (100*r.notMinimal+r.progressions/2)/r.progressions), r.theirNanos/1000, r.ourNanos/1000, r.theirNanos/r.ourNanos)
}

// verdict is the reason why the row does not stand, or nil.
func (r row) verdict() error {
	var faults []error
	if r.worse > 0 {
		faults = append(faults, fmt.Errorf("%s: bedd moves more in %d of %d progressions", r.name, r.worse, r.progressions))
	}
	if faster := r.theirNanos / r.ourNanos; faster < wantFaster {
		faults = append(faults, fmt.Errorf("%s: bedd is %.1f times faster a chord, want %d", r.name, faster, wantFaster))
	}
	return errors.Join(faults...)
}

// compare sums up both answers; it fails when one of them is no answer to the
// set.
func compare(s set, ours, theirs answer) (row, error) {
	r := row{name: s.Name, progressions: len(s.Problems), chords: s.chords(), ourNanos: ours.Nanos, theirNanos: theirs.Nanos}
	for i, p := range s.Problems {
		their, err := s.movement(p, theirs, i)
		if err != nil {
			return row{}, fmt.Errorf("theirs: %w", err)
		}
		our, err := s.movement(p, ours, i)
		if err != nil {
			return row{}, fmt.Errorf("ours: %w", err)
		}
		r.theirs += their
		r.ours += our
		switch {
		case our < their:
			r.notMinimal++
		case our > their:
			r.worse++
		}
	}
	return r, nil
}

// movement sums the semitones moved in answer i from the problem's start on, by
// the pairing that moves least, and checks that the answer is one: each tone of
// each chord once, in the range.
func (s *set) movement(p problem, a answer, i int) (total int, err error) {
	if i >= len(a.Voicings) || len(a.Voicings[i]) != len(p.Chords) {
		return 0, fmt.Errorf("%v is not voiced chord by chord", p.Chords)
	}
	before := p.Start
	for n, v := range a.Voicings[i] {
		chord, err := harmony.ParseChord(p.Chords[n])
		if err != nil {
			return 0, err
		}
		var classes pitch.Set
		for j, note := range v {
			if note < int(s.Low) || note > int(s.High) || j > 0 && note <= v[j-1] {
				return 0, fmt.Errorf("%v for %v leaves the range or is not ascending", v, chord)
			}
			classes = classes.Add(pitch.ClassOf(note))
		}
		if len(v) != s.Voices || classes != chord.Classes() {
			return 0, fmt.Errorf("%v is not %v in %d voices", v, chord, s.Voices)
		}
		total += voicing.Movement(before.bytes(), v.bytes())
		before = v
	}
	return total, nil
}
