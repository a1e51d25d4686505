package midiio_test

import (
	"context"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"bedd/internal/midiio"
)

// sensingStage is keys and a synth, which is listened to every millisecond.
type sensingStage struct {
	*stage
	keys, synth midiio.PortInfo
	in          *midiio.Input
	out         *midiio.Output
	quiet       time.Duration
	longest     time.Duration // quiet since the last reset
}

func newSensingStage(t *testing.T) *sensingStage {
	t.Helper()
	s := &sensingStage{stage: newStage()}
	s.keys, s.synth = s.machine.Plug(input("Keys")), s.machine.Plug(output("Synth"))
	var err error
	if s.out, err = s.OpenOut(s.synth); err != nil {
		t.Fatal(err)
	}
	if s.in, err = s.OpenIn(s.keys, nil); err != nil {
		t.Fatal(err)
	}
	s.out.Sensing(true)
	s.Listen(true)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { s.Sense(ctx); close(done) }()
	t.Cleanup(func() { cancel(); <-done })
	return s
}

// hear lets time pass and counts what the synth hears of sensing.
func (s *sensingStage) hear(d time.Duration) (bytes int) {
	for range d / time.Millisecond {
		pass(time.Millisecond)
		s.quiet += time.Millisecond
		for _, msg := range s.machine.Sent(s.synth) {
			if s.quiet = 0; slices.Equal(msg, []byte{0xFE}) {
				bytes++
			}
		}
		s.longest = max(s.longest, s.quiet)
	}
	return bytes
}

// Before anything sounds nothing is sent; while it sounds no receiver has to wait
// 270 ms; afterwards what rings on is left to die away, then nothing is sent again.
func TestSensingWhileSomethingSounds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSensingStage(t)
		s.out.Send(midiio.Player, []byte{0xC1, 89})
		if n := s.hear(time.Minute); n > 0 {
			t.Errorf("%d bytes before anything sounds", n)
		}
		s.out.Send(midiio.Player, []byte{0x91, 60, 40})
		s.longest = 0
		if n := s.hear(time.Minute); n < 300 || s.longest >= 270*time.Millisecond {
			t.Errorf("under a held note %d bytes a minute, %v apart at most", n, s.longest)
		}
		s.out.Send(midiio.Player, []byte{0x81, 60, 64})
		s.hear(9 * time.Second)
		if s.longest >= 270*time.Millisecond {
			t.Errorf("what rings on is cut off: %v without a byte", s.longest)
		}
		s.hear(2 * time.Second)
		if n := s.hear(time.Minute); n > 0 {
			t.Errorf("%d bytes a minute after all has ended", n)
		}
	})
}

// A line on which something passes anyway carries no more.
func TestSensingIsSparing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSensingStage(t)
		s.out.Send(midiio.Player, []byte{0x91, 60, 40})
		for v := range byte(100) {
			s.out.Send(midiio.Player, []byte{0xB1, 11, v})
			if n := s.hear(90 * time.Millisecond); n > 0 {
				t.Fatalf("%d bytes between levels", n)
			}
		}
	})
}

// The player's keys and pedals, whether they sound by bedd or by themselves, are
// not cut off by the end of the bed.
func TestSensingUnderThePlayersHands(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSensingStage(t)
		s.machine.Play(s.keys, 0x90, 48, 80)
		if n := s.hear(time.Second); n > 0 {
			t.Errorf("%d bytes for keys that sound by themselves", n)
		}
		s.out.Send(midiio.Player, []byte{0x91, 60, 40})
		s.hear(time.Second)
		s.out.Send(midiio.Player, []byte{0x81, 60, 64})
		s.longest = 0
		if s.hear(time.Minute); s.longest >= 270*time.Millisecond {
			t.Errorf("%v without a byte while a key is down", s.longest)
		}
		s.machine.Play(s.keys, 0x80, 48, 64)
		s.out.Send(midiio.Player, []byte{0xB0, 64, 127}) // the damper holds
		if s.hear(time.Minute); s.longest >= 270*time.Millisecond {
			t.Errorf("%v without a byte while the damper is down", s.longest)
		}
	})
}

// Where the piano goes past bedd the synth is not made to count on bedd; where it
// counts already, it may until nothing sounds.
func TestSensingNotWhereThePianoGoesPast(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSensingStage(t)
		connected := midiio.Connection{In: s.keys, Out: s.synth}
		if r := s.Route(s.in, 0, true, nil); r.By != midiio.ByConnection {
			t.Fatal(r.Err)
		}
		s.out.Send(midiio.Player, []byte{0x91, 60, 40})
		if n := s.hear(time.Second); n > 0 {
			t.Errorf("%d bytes where the piano goes past", n)
		}
		if err := s.Disconnect(); err != nil || s.machine.Connected(connected) {
			t.Fatal(err)
		}
		if n := s.hear(time.Second); n == 0 {
			t.Error("no bytes where bedd carries the piano")
		}
	})
}

// A receiver that is gone is not sent to, nor is one that is back until it sounds;
// one that has no room gets what waits and nothing in between.
func TestSensingThroughTrouble(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSensingStage(t)
		s.out.Send(midiio.Player, []byte{0x91, 60, 40})
		s.hear(time.Second)
		s.machine.Slow(s.synth, 1)
		s.out.Send(midiio.Player, []byte{0xF0, 1, 2, 0xF7}) // one byte of it is taken
		s.hear(time.Second)
		s.machine.Fast(s.synth)
		s.out.Send(midiio.Player, []byte{0x91, 62, 40})
		got := s.machine.Sent(s.synth)
		if len(got) != 2 || !slices.Equal(got[0], []byte{1, 2, 0xF7}) {
			t.Errorf("% X came after the start of a SysEx", got)
		}
		stop := s.run()
		defer stop()
		s.machine.Unplug(s.synth)
		s.hear(time.Second)
		s.synth = s.machine.Plug(output("Synth"))
		s.hear(3 * time.Second)
		if n := s.hear(time.Minute); n > 0 {
			t.Errorf("%d bytes to a synth that is back and silent", n)
		}
		s.out.Send(midiio.Player, []byte{0x91, 60, 40})
		if n := s.hear(time.Second); n == 0 {
			t.Error("no bytes to a synth that is back and sounds")
		}
	})
}

// Not asked for, nothing is sent.
func TestSensingCanBeSwitchedOff(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSensingStage(t)
		s.out.Sensing(false)
		s.out.Send(midiio.Player, []byte{0x91, 60, 40})
		if n := s.hear(time.Minute); n > 0 {
			t.Errorf("%d bytes", n)
		}
	})
}
