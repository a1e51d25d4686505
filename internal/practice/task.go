// Package practice sets exercises in any key, and scores what was played.
package practice

import (
	"fmt"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Task is an exercise to be played in one key. It has all that a score needs, so that
// what was played can be scored again from a journal years later; chords are symbols
// and keys are named as in "Eb" and "F#m". Times count from its begin.
type Task struct {
	Exercise string        `json:"exercise"` // the Name of one of Exercises
	Key      string        `json:"key"`
	Level    int           `json:"level"` // from 1; each adds one thing
	Seed     uint64        `json:"seed"`  // what it was made from
	Lasts    time.Duration `json:"lasts"`

	Home      []string `json:"home"`                 // what the bed plays
	Away      []string `json:"away,omitempty"`       //
	Intensity float64  `json:"intensity"`            // the bed's, 0…1
	NextKey   string   `json:"next_key,omitempty"`   // the next song's
	NextChord string   `json:"next_chord,omitempty"` // its first
	Figure    []int    `json:"figure,omitempty"`     // what must not be given away, as MIDI note numbers

	Steps    []Step        `json:"steps,omitempty"`    // what the bed is asked for by itself
	Curve    []Point       `json:"curve,omitempty"`    // how intense the speaker is
	Called   time.Duration `json:"called,omitempty"`   // when the key is called; it is a secret before
	Limit    time.Duration `json:"limit,omitempty"`    // until when something is to be reached, from Called or the begin
	Journeys int           `json:"journeys,omitempty"` // times away and back home
	Line     int           `json:"line,omitempty"`     // least notes of melody over a chord
	Hands    bool          `json:"hands,omitempty"`    // they are to play, not the feet alone
	Shows    Shows         `json:"shows"`              // what the screen gives away
}

// Step is something that the bed is asked for by itself at a time.
type Step struct {
	At      time.Duration `json:"at"`
	Command string        `json:"command"` // as a rig has it: "bring-in", "next"
}

// Point is how intense the speaker is from a time on, on a straight line to the next
// point, and what is said there.
type Point struct {
	At        time.Duration `json:"at"`
	Intensity float64       `json:"intensity"` // 0…1
	Says      string        `json:"says,omitempty"`
}

// Shows says what the screen gives away.
type Shows struct {
	Notes bool `json:"notes,omitempty"` // the keys that may be held
	Next  bool `json:"next,omitempty"`  // what comes next, before it comes
}

// Moment is the task as a bed plays it. It fails where a journal's task has chords or
// keys that cannot be read.
func (t Task) Moment() (bed.Moment, error) {
	s, err := t.read()
	if err != nil {
		return bed.Moment{}, err
	}
	return bed.Moment{Key: s.key, Home: s.home, Away: s.away, Intensity: t.Intensity, NextKey: s.nextKey, NextChord: s.nextChord}, nil
}

// set is a task whose words have been read.
type set struct {
	Task
	key, nextKey pitch.Key
	home, away   []harmony.Chord
	nextChord    harmony.Chord
}

// The most that a task of a journal may ask for.
const (
	longest   = time.Hour
	mostSteps = 1000
)

func (t Task) read() (set, error) {
	fail := func(err error) (set, error) {
		return set{}, fmt.Errorf("the task %s in %s: %w", t.Exercise, t.Key, err)
	}
	s := set{Task: t}
	var err error
	if s.key, err = pitch.ParseKey(t.Key); err != nil {
		return fail(err)
	}
	if s.home, err = chords(t.Home); err != nil {
		return fail(err)
	}
	if s.away, err = chords(t.Away); err != nil {
		return fail(err)
	}
	if t.NextChord != "" {
		if s.nextKey, err = pitch.ParseKey(t.NextKey); err != nil {
			return fail(err)
		}
		if s.nextChord, err = harmony.ParseChord(t.NextChord); err != nil {
			return fail(err)
		}
	}
	switch {
	case len(s.home) == 0:
		return fail(fmt.Errorf("it has no chords"))
	case t.Lasts <= 0 || t.Lasts > longest:
		return fail(fmt.Errorf("it lasts %v, which is out of range 0…%v", t.Lasts, longest))
	case len(t.Steps) > mostSteps || len(t.Curve) > mostSteps || len(t.Figure) > mostSteps:
		return fail(fmt.Errorf("it has more than %d steps, points or notes", mostSteps))
	}
	return s, nil
}

func chords(symbols []string) (list []harmony.Chord, err error) {
	for _, s := range symbols {
		c, err := harmony.ParseChord(s)
		if err != nil {
			return nil, err
		}
		list = append(list, c)
	}
	return list, nil
}

// Voice gives how intense the speaker is at a time, 0…1.
func (t Task) Voice(at time.Duration) float64 {
	for i, p := range t.Curve {
		if at < p.At {
			if i == 0 {
				return p.Intensity
			}
			before := t.Curve[i-1]
			u := float64(at-before.At) / float64(p.At-before.At)
			return before.Intensity + u*(p.Intensity-before.Intensity)
		}
	}
	if len(t.Curve) == 0 {
		return 0
	}
	return t.Curve[len(t.Curve)-1].Intensity
}
