// Package recall chooses what to practise next, by a model of memory and what was practised before.
package recall

import "time"

// Skill is one exercise in one key.
type Skill struct {
	Exercise string // by its name
	Key      string // as in "Eb" and "F#m"
}

// Attempt is a task that was played.
type Attempt struct {
	Skill
	Level  int       // from 1
	At     time.Time // when it began, by the wall clock of then
	Lasted time.Duration
	Whole  bool    // to its end: what was cut short counts as time, not as knowing
	Mark   float64 // 0…1
}

// Choice is a task to play.
type Choice struct {
	Skill
	Level int
	Why   string // in a few words for the player, as in "weakest key" or "not since 12 days"
}
