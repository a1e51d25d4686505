package session

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/journal"
)

// Records are what a replay goes by, in order; [journal.Reader] gives them.
type Records interface {
	Next(*journal.Record) error
}

// Replayed is what became of a replay.
type Replayed struct {
	Take    *Take
	Cues    []Cue // what was said
	Refused uint64
	End     time.Duration
	Closed  bool // the journal's session ended as it should

	// Otherwise is the first record at which this bed would not do what the
	// journal's did, or that tells of a gap; nil where the replay is exact. From
	// there on the take has what was recorded.
	Otherwise *Otherwise
}

// Otherwise is where a replay and its journal part.
type Otherwise struct {
	Line int // of the journal
	At   time.Duration
	Gap  bool // since records are missing
}

// replay puts the player's messages where they were among the steps of the core.
type replay struct {
	session *Session
	waiting []journal.Record // Played, in order
	next    int
}

// play plays what came when the core had taken so many steps.
func (r *replay) play(steps uint64) {
	for ; r.next < len(r.waiting) && r.waiting[r.next].After <= steps; r.next++ {
		m := &r.waiting[r.next]
		r.session.played(m.At, m.Message)
	}
	if r.next == len(r.waiting) {
		r.waiting, r.next = r.waiting[:0], 0
	}
}

// mostWaiting is how many of the player's messages may wait for a step: in a
// journal of ours those of a few milliseconds.
const mostWaiting = 1 << 16

// Replay runs a session again that a journal has recorded, from where it went on,
// or nil: the take is message for message the one of then. Rig and moments are
// the journal's. Watch may be nil.
func Replay(rig gathering.Rig, moments []bed.Moment, from *bed.State, records Records, watch Watcher) (Replayed, error) {
	p, s, err := newReplay(rig, moments)
	if err != nil {
		return p, err
	}
	if from != nil {
		if err := s.Resume(*from); err != nil {
			return p, err
		}
	}
	p.Take.Watch(s)
	s.Watch(watch)
	err = s.retell(&p, records)
	return p, err
}

// Retell is Replay that asks no bed: it takes what was recorded at its word. The
// take has no chords entered.
func Retell(rig gathering.Rig, moments []bed.Moment, records Records) (Replayed, error) {
	p, s, err := newReplay(rig, moments)
	if err != nil {
		return p, err
	}
	p.Otherwise = &Otherwise{}
	err = s.retell(&p, records)
	p.Otherwise = nil
	return p, err
}

func newReplay(rig gathering.Rig, moments []bed.Moment) (Replayed, *Session, error) {
	p := Replayed{Take: &Take{}}
	s, err := New(rig, moments, p.Take)
	if err == nil {
		s.replay = &replay{session: s}
	}
	return p, s, err
}

func (s *Session) retell(p *Replayed, records Records) error {
	finished := false
	var rec journal.Record
	for {
		err := records.Next(&rec)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		p.End = max(p.End, rec.At)
		switch rec.Kind {
		case journal.Called:
			s.redo(p, &rec)
		case journal.Played:
			if len(s.replay.waiting)-s.replay.next >= mostWaiting {
				s.replay.play(^uint64(0))
			}
			s.replay.waiting = append(s.replay.waiting, journal.Record{At: rec.At, After: rec.After, Message: slices.Clone(rec.Message)})
		case journal.Prepared:
			s.step(s.record, func(o *outlet) { s.prepare(o, rec.At) })
		case journal.Reset:
			s.step(s.record, func(o *outlet) { s.again(o, rec.At) })
		case journal.Rose:
			s.step(s.record, func(o *outlet) { s.rise(o, rec.At) })
		case journal.Finished:
			s.Finish(rec.At)
			finished = true
		case journal.Gap:
			p.parts(&rec, true)
		case journal.Cue:
			p.Cues = append(p.Cues, Cue{At: rec.At, Text: rec.Text})
		case journal.Closed:
			p.Closed = true
		}
	}
	s.replay.play(^uint64(0))
	if !finished { // it died: what sounded ends here
		s.Finish(p.End)
	}
	p.Refused = s.Refused()
	if p.Take.Dropped > 0 {
		return fmt.Errorf("the session has more than %d messages", MaxTake)
	}
	return nil
}

// redo does what a call did, and finds out whether the bed would do it again.
func (s *Session) redo(p *Replayed, rec *journal.Record) {
	if p.Otherwise == nil {
		s.actions = s.bed.Handle(rec.At, rec.Event, s.actions[:0])
		if !journal.Same(s.actions, rec.Actions) {
			p.parts(rec, false)
		}
	}
	if p.Otherwise != nil {
		s.actions = append(s.actions[:0], rec.Actions...)
	}
	s.answer(rec.At, rec.Event)
}

// parts says from where on the replay goes by what was recorded alone.
func (p *Replayed) parts(rec *journal.Record, gap bool) {
	if p.Otherwise == nil {
		p.Otherwise = &Otherwise{rec.Line, rec.At, gap}
		p.Take.session = nil
	}
}
