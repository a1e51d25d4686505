// Package journaltest writes the journals of invented sessions, for tests.
package journaltest

import (
	"math/rand/v2"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/journal"
	"bedd/internal/midiio"
	"bedd/internal/session"
)

// Began is when the invented sessions began, by the wall clock.
var Began = time.Date(2026, 11, 27, 19, 30, 0, 0, time.FixedZone("", 0))

// start makes a session of the demo's plan that is written to a journal in dir, by
// the caller's own goroutine.
func start(t testing.TB, dir string) (*session.Session, *journal.Writer) {
	t.Helper()
	name, text, err := gathering.RigFile("saltmere")
	if err != nil {
		t.Fatal(err)
	}
	rig, err := gathering.ReadRig(name, text)
	if err != nil {
		t.Fatal(err)
	}
	library, err := gathering.OpenLibrary("")
	if err != nil {
		t.Fatal(err)
	}
	plan, err := gathering.OpenGathering("winter-lights", library)
	if err != nil {
		t.Fatal(err)
	}
	s, err := session.New(rig, plan.BedMoments(), nobody{})
	if err != nil {
		t.Fatal(err)
	}
	w := journal.Start(journal.Options{Dir: dir, Alone: true, Header: journal.Header{
		Program: "(example)", Began: Began, Rig: journal.Text{Name: name, Text: string(text)}, Setup: true,
		Title: plan.Title, Moments: session.JournalMoments(plan.BedMoments(), &plan),
		Ports: []journal.Port{{Way: "in", Name: "Stage"}, {Way: "out", Name: "Module"}},
	}})
	s.Journal(w)
	s.SetUp(0)
	return s, w
}

// end lets the bed leave and ends the journal.
func end(t testing.TB, s *session.Session, w *journal.Writer, at time.Duration) (path string) {
	t.Helper()
	at = s.End(at)
	w.Late(at, journal.Delays{
		Due:     journal.Percentiles{N: 1200, P50: 80 * time.Microsecond, P90: 300 * time.Microsecond, P99: 2 * time.Millisecond, Max: 9 * time.Millisecond},
		Arrived: journal.Percentiles{N: 400, P50: 60 * time.Microsecond, P90: 200 * time.Microsecond, P99: time.Millisecond, Max: 4 * time.Millisecond},
	})
	w.Busy(at, 1, journal.Wire{Baud: midiio.DINBaud, Bytes: 81, At: 21500 * time.Millisecond, Wait: 2 * time.Millisecond, ForBed: time.Millisecond, Overtaken: 3, Sent: 9000})
	if err := w.Close(at, "performed", s.Refused()); err != nil {
		t.Fatal(err)
	}
	return w.Path()
}

// Evening writes the demo's session to a new journal in dir, with a port that is
// lost and comes back, and gives its path.
func Evening(t testing.TB, dir, performance string) (path string) {
	t.Helper()
	f, err := midiio.ReadFile(performance)
	if err != nil {
		t.Fatal(err)
	}
	s, w := start(t, dir)
	for _, c := range session.Cues(f) {
		if c.Data == nil {
			w.Say(journal.Cue, c.At, c.Text)
			continue
		}
		s.Message(c.At, c.Data)
	}
	at := session.Length(f)
	w.Port(at, 0, false)
	w.Say(journal.Notice, at, "in Stage: the device is gone")
	w.Port(at, 0, true)
	w.Under(at, 2)
	return end(t, s, w, at)
}

// Hours writes a busy session of some length to a new journal in dir and gives its
// path: a bed that comes and goes, a chord every eight seconds, hands that play six
// notes a second for half of the time, and a pedal that moves often for ten minutes
// and then rests for ten, while the playing leads and the levels always move.
func Hours(t testing.TB, dir string, length time.Duration) (path string) {
	t.Helper()
	s, w := start(t, dir)
	p := player{Rand: rand.New(rand.NewPCG(9, 9)), session: s}
	for at := time.Duration(0); at < length; at += time.Second {
		p.second(at)
	}
	return end(t, s, w, length)
}

// player is who plays the long sessions.
type player struct {
	*rand.Rand
	session *session.Session
	pedal   int
	goal    int
}

func (p *player) send(at time.Duration, status, first, second byte) {
	p.session.Message(at, []byte{status, first, second})
}

// press steps on a switch.
func (p *player) press(at time.Duration, control byte, down time.Duration) {
	p.send(at, 0xB0, control, 127)
	p.session.Advance(at + down)
	p.send(at+down, 0xB0, control, 0)
}

func (p *player) second(at time.Duration) {
	n := int(at / time.Second)
	const left, right = 80, 81
	switch {
	case n%240 == 200: // the moment is over
		p.press(at, right, 900*time.Millisecond)
	case n%240 > 200 && n%240 < 220:
	case n%40 == 0:
		p.press(at, right, 100*time.Millisecond) // arm a swap
		p.press(at+200*time.Millisecond, left, 100*time.Millisecond)
	case n%8 == 0:
		p.press(at, left, 100*time.Millisecond)
	}
	if n%60 < 30 {
		for i := range 6 {
			note := byte(40 + p.IntN(40))
			on := at + time.Duration(i)*160*time.Millisecond + time.Duration(p.IntN(10_000_000))
			p.send(on, 0x90, note, byte(30+p.IntN(70)))
			p.send(on+time.Duration(100_000_000+p.IntN(40_000_000)), 0x80, note, 64)
		}
	}
	if n%1200 >= 600 { // the foot rests: the playing leads
		return
	}
	if n%15 == 0 {
		p.goal = p.IntN(128)
	}
	for i := range 20 {
		if step := min(max(p.goal-p.pedal, -1), 1); step != 0 {
			p.pedal += step
			p.send(at+time.Duration(i)*50*time.Millisecond, 0xB0, 11, byte(p.pedal))
		}
	}
}

// nobody hears the session.
type nobody struct{}

func (nobody) Send(time.Duration, session.Origin, []byte) {}
func (nobody) Mark(bed.Action)                            {}
