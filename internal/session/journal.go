package session

import (
	"time"

	"bedd/internal/bed"
	"bedd/internal/journal"
)

// Journal has everything that a replay needs written from now on, which is to be
// before SetUp.
func (s *Session) Journal(w *journal.Writer) { s.journal = w }

// Resume makes a new session wait where another was; see [bed.Bed.Resume].
func (s *Session) Resume(from bed.State) error { return s.bed.Resume(from) }

// step does something of the core's in an outlet's ledger. In the record's, steps
// and the player's messages stand in one order, which a replay keeps.
func (s *Session) step(o *outlet, do func(o *outlet)) {
	if o != s.record {
		do(o)
		return
	}
	if s.replay != nil {
		s.replay.play(s.steps)
	}
	s.ledger.Lock()
	defer s.ledger.Unlock()
	s.steps++
	do(o)
}

// note puts a step in the record's ledger into the journal.
func (s *Session) note(o *outlet, k journal.Kind, at time.Duration) {
	if o == s.record {
		s.journal.Step(k, at)
	}
}
