// Package practice sets exercises in any key, and scores what was played.
package practice

import (
	"time"

	"bedd/internal/bed"
)

// Task is an exercise to be played in one key. It has all that a score needs, so that
// what was played can be scored again from a journal years later; chords are symbols
// and keys are named as in "Eb" and "F#m".
type Task struct {
	Exercise string        `json:"exercise"` // the Name of one of Exercises
	Key      string        `json:"key"`
	Level    int           `json:"level"` // from 1; each adds one thing
	Seed     uint64        `json:"seed"`  // what it was made from
	Lasts    time.Duration `json:"lasts"` // from its begin to its end

	Home      []string `json:"home"`                 // what the bed plays
	Away      []string `json:"away,omitempty"`       //
	Intensity float64  `json:"intensity"`            // the bed's, 0…1
	NextKey   string   `json:"next_key,omitempty"`   // the next song's
	NextChord string   `json:"next_chord,omitempty"` // its first
	Figure    []uint8  `json:"figure,omitempty"`     // what must not be given away, as MIDI note numbers

	Steps []Step  `json:"steps,omitempty"` // what the bed is asked for by itself
	Curve []Point `json:"curve,omitempty"` // how intense the speaker is
	Shows Shows   `json:"shows"`           // what the screen gives away
}

// Step is something that the bed is asked for by itself at a time after the begin.
type Step struct {
	At      time.Duration `json:"at"`
	Command string        `json:"command"` // as a rig has it: "bring-in", "next", "swap", "key-to Eb"
}

// Point is how intense the speaker is from a time after the begin on, on a straight
// line to the next point, and what is said there.
type Point struct {
	At        time.Duration `json:"at"`
	Intensity float64       `json:"intensity"` // 0…1
	Says      string        `json:"says,omitempty"`
}

// Shows says what the screen gives away.
type Shows struct {
	Notes bool `json:"notes,omitempty"` // the keys that may be held
	Next  bool `json:"next,omitempty"`  // the chord that comes next, before it comes
}

// Take is what was played of a task. Times count from its begin.
type Take struct {
	Lasted time.Duration // less than the task's where it was cut short
	Calls  []Call        // in order
}

// Call is one call of the bed with its answer, as the journal records it: keys, damper,
// pedal and orders in, chords and the bed's own notes out.
type Call struct {
	At      time.Duration
	Event   bed.Event
	Actions []bed.Action
}

// Result is how a take was.
type Result struct {
	Mark   float64 // 0 … 1 for a perfect one
	Parts  []Part  // what the mark is made of, for who asks
	Words  string  // one sentence of praise or advice
	Number string  // the one number that matters, with what it counts: "3 of 4 shared notes held"
}

// Part is one thing that was measured.
type Part struct {
	Name  string  // as in "shared notes held"
	Value float64 // in Unit
	Unit  string  // "", "ms", "s", "semitones", "%"
	Mark  float64 // 0…1
}
