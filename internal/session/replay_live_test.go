package session

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"runtime"
	"sync"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/journal"
	"bedd/internal/midiio"
)

var liveSessions = flag.Int("live-sessions", 40, "random sessions in real time for TestReplayEqualsWhatWasPlayedLive")

// Random sessions by the real clock, many at once, which is more than the machine can
// do: inputs on threads of their own send straight through and hand on, the core
// wakes late, the journal is written by its own goroutine to a real disk. What each
// journal says gives the messages that were played, with their due times, in the
// order in which they went out.
func TestReplayEqualsWhatWasPlayedLive(t *testing.T) {
	const together = 25
	seeds := make(chan uint64)
	var players sync.WaitGroup
	for range together {
		players.Go(func() {
			for seed := range seeds {
				playLive(t, seed)
			}
		})
	}
	for range *liveSessions {
		seeds <- rand.Uint64() >> 16
	}
	close(seeds)
	players.Wait()
}

// handed is a message on its way from an input to the core.
type handed struct {
	at    time.Duration
	msg   message
	input int
}

// playLive plays half a second or so of a made-up night and runs its journal again.
func playLive(t *testing.T, seed uint64) {
	e := newNight(t, seed, 120)
	e.rig.Bed.Fade = min(e.rig.Bed.Fade, time.Second)
	take := NewTake()
	s, err := New(e.rig, e.moments, take, Destination{deafPort{}, midiio.AllParts})
	if err != nil {
		t.Error(err)
		return
	}
	began := time.Now()
	w := journal.Start(journal.Options{Dir: t.TempDir(), Header: journal.Header{Began: began, Moments: []journal.Moment{{Key: "C", Home: []string{"C"}}}}})
	s.Journal(w)
	s.SetUp(0)
	arrived, orders := make(chan handed, 1024), make(chan gathering.Order, 1024)
	var inputs sync.WaitGroup
	for who := range e.inputs {
		dice := rand.New(rand.NewPCG(seed, uint64(who)))
		inputs.Go(func() {
			in := e.inputs[who]
			for _, h := range e.happenings {
				switch {
				case h.deed == asks && who == 0:
					orders <- h.order
				case h.deed != arrives || h.who != who:
					continue
				default:
					at := time.Since(began)
					s.Thru(at, h.msg.bytes(), Passage{Role: in.role, To: in.to})
					arrived <- handed{at, h.msg, who}
				}
				<-time.After(time.Duration(dice.IntN(int(12 * ms))))
			}
		})
	}
	over := make(chan struct{})
	go func() { inputs.Wait(); close(over) }()
	s.Ask(0, gathering.Order{Command: bed.BringIn})
	runCore(s, e, began, arrived, orders, over)
	end := time.Since(began)
	s.Finish(end)
	if err := w.Close(end, "asked", s.Refused()); err != nil {
		t.Error(err)
		return
	}
	r, err := journal.Open(w.Path())
	if err != nil {
		t.Error(err)
		return
	}
	defer r.Close()
	p, err := Replay(e.rig, e.moments, nil, r, nil)
	which := fmt.Sprintf("seed %d, %v", seed, e)
	switch {
	case err != nil:
		t.Errorf("%s: %v", which, err)
	case p.Otherwise != nil:
		t.Errorf("%s: the bed does otherwise: %+v", which, *p.Otherwise)
	case p.Refused != s.Refused():
		t.Errorf("%s: %d refused, want %d", which, p.Refused, s.Refused())
	default:
		if fault := differ(p.Take, take); fault != "" {
			t.Errorf("%s: %s", which, fault)
		}
	}
}

// runCore is what bedd's main loop does, until the inputs are over and the bed has
// left.
func runCore(s *Session, e *night, began time.Time, arrived <-chan handed, orders <-chan gathering.Order, over <-chan struct{}) {
	timer := time.NewTimer(0)
	defer timer.Stop()
	leaving := false
	for {
		select {
		case <-timer.C:
		case h := <-arrived:
			s.Observe(h.at, h.msg.bytes(), e.inputs[h.input].role)
		case o := <-orders:
			s.Ask(time.Since(began), o)
		case <-over:
			over, leaving = nil, true
			for len(arrived) > 0 {
				h := <-arrived
				s.Observe(h.at, h.msg.bytes(), e.inputs[h.input].role)
			}
			s.Leave(time.Since(began), true)
		}
		runtime.Gosched()
		now := time.Since(began)
		s.Advance(now)
		due, waits := s.Deadline()
		if leaving && !waits {
			return
		}
		if !waits {
			due = now + time.Second
		}
		timer.Reset(max(due-time.Since(began), 0))
	}
}
