package midiio_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"bedd/internal/midiio"
	"bedd/internal/midiio/porttest"
)

// stage is a session's ports on a made-up machine, with a diary.
type stage struct {
	machine porttest.System
	*midiio.Ports
	start time.Time
	diary []string
	baud  int // of every output
}

func newStage() *stage {
	s := new(stage)
	s.set()
	return s
}

func (s *stage) set() {
	s.start = time.Now()
	s.Ports = midiio.NewPorts(midiio.PortsConfig{
		System:   &s.machine,
		Baud:     func(midiio.PortInfo) int { return s.baud },
		Clock:    func() time.Duration { return time.Since(s.start) },
		Lost:     func(c midiio.Change) { s.write("lost %v %d %s: %v", c.Way, c.Index, c.Port.Address, c.Err) },
		Returned: func(c midiio.Change) { s.write("returned %v %d %s", c.Way, c.Index, c.Port.Address) },
	})
}

func (s *stage) write(format string, args ...any) {
	s.diary = append(s.diary, fmt.Sprintf("%v ", time.Since(s.start))+fmt.Sprintf(format, args...))
}

func (s *stage) expect(t *testing.T, want ...string) {
	t.Helper()
	if got := strings.Join(s.diary, "\n"); got != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", got, strings.Join(want, "\n"))
	}
	s.diary = nil
}

// run starts Run and gives back what ends it.
func (s *stage) run() (stop func()) {
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		s.Run(ctx)
	}()
	return func() { cancel(); <-done }
}

// pass lets time pass.
func pass(d time.Duration) {
	time.Sleep(d) // inside synctest's bubble no time is lost
	synctest.Wait()
}

func input(name string) midiio.PortInfo  { return midiio.PortInfo{Way: midiio.In, Name: name} }
func output(name string) midiio.PortInfo { return midiio.PortInfo{Way: midiio.Out, Name: name} }

func TestArrivals(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newStage()
		keys, feet := s.machine.Plug(input("Keys")), s.machine.Plug(input("Feet"))
		var thru []string
		first, err := s.OpenIn(keys, func(at time.Duration, msg []byte, _ midiio.Carried) {
			thru = append(thru, fmt.Sprintf("%v %X", at, msg))
		})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.OpenIn(feet, nil); err != nil {
			t.Fatal(err)
		}
		s.machine.Play(keys, 0x90, 59, 1) // nobody listens yet
		s.Listen(true)
		pass(3 * time.Millisecond)
		s.machine.Play(feet, 0xB0, 80, 127)
		pass(time.Millisecond)
		s.machine.Play(keys, 0x90, 60, 1, 0xFE, 61, 2) // running status
		s.machine.Play(keys, 0xF0, 0x7D, 1, 2, 0xF7)
		pass(time.Millisecond)
		s.machine.Play(feet, 0xB0, 80, 0)
		s.Listen(false)
		s.machine.Play(keys, 0x80, 60, 1)

		select {
		case <-s.Wake():
		default:
			t.Error("nobody was woken")
		}
		var took []string
		for m, in, ok := s.Take(); ok; m, in, ok = s.Take() {
			took = append(took, fmt.Sprintf("%v input %d: %X of %d", m.At, in, m.Bytes(), m.Len))
		}
		want := []string{
			"3ms input 1: B0507F of 3",
			"4ms input 0: 903C01 of 3",
			"4ms input 0: 903D02 of 3",
			"4ms input 0: F07D0102F7 of 5",
			"5ms input 1: B05000 of 3",
		}
		if !slices.Equal(took, want) {
			t.Errorf("took\n%s\nwant\n%s", strings.Join(took, "\n"), strings.Join(want, "\n"))
		}
		if want := []string{"4ms 903C01", "4ms 903D02", "4ms F07D0102F7"}; !slices.Equal(thru, want) {
			t.Errorf("thru got %v, want %v", thru, want)
		}
		if first.Dropped() != 0 || first.Broken() != 0 || first.TooLong() != 0 {
			t.Errorf("counted %d, %d, %d", first.Dropped(), first.Broken(), first.TooLong())
		}
		s.Listen(true)
		s.machine.Play(keys, append(append([]byte{0xF0}, make([]byte, 12_288)...), 0xF7, 0x90, 60, 0x91, 61, 1)...)
		if m, _, _ := s.Take(); string(m.Bytes()) != "\x91\x3D\x01" || first.Broken() != 1 || first.TooLong() != 1 {
			t.Errorf("after a long SysEx and half a note: % X, %d broken, %d too long", m.Bytes(), first.Broken(), first.TooLong())
		}
	})
}

func TestArrivalsBeyondTheRing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newStage()
		keys := s.machine.Plug(input("Keys"))
		passed := 0
		in, err := s.OpenIn(keys, func(time.Duration, []byte, midiio.Carried) { passed++ })
		if err != nil {
			t.Fatal(err)
		}
		s.Listen(true)
		for range 5000 {
			s.machine.Play(keys, 0x90, 60, 1)
		}
		took := 0
		for _, _, ok := s.Take(); ok; _, _, ok = s.Take() {
			took++
		}
		if passed != 5000 || took != 4096 || in.Dropped() != 904 {
			t.Errorf("%d passed thru, %d taken, %d dropped; want 5000, 4096, 904", passed, took, in.Dropped())
		}
	})
}

func TestGoAndReturn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newStage()
		keys, synth := s.machine.Plug(input("Keys")), s.machine.Plug(output("Synth"))
		out, err := s.OpenOut(synth)
		if err != nil {
			t.Fatal(err)
		}
		in, err := s.OpenIn(keys, func(_ time.Duration, msg []byte, _ midiio.Carried) { out.Send(midiio.Player, msg) })
		if err != nil {
			t.Fatal(err)
		}
		s.Listen(true)
		stop := s.run()
		defer stop()

		pass(1200 * time.Millisecond)
		s.expect(t)
		s.machine.Unplug(synth)
		s.machine.Play(keys, 0x80, 60, 64) // nobody knows yet that it vanishes
		pass(time.Second)
		s.expect(t, `1.5s lost output 0 17:0: no longer there: check its cable and power`)
		if !errors.Is(out.Trouble(), midiio.ErrGone) || in.Trouble() != nil || out.Send(midiio.Player, []byte{0xFA}) {
			t.Errorf("troubles %v and %v", out.Trouble(), in.Trouble())
		}
		s.machine.Unplug(keys)
		other := s.machine.Plug(output("Organ"))
		synth = s.machine.Plug(output("Synth"))
		pass(time.Second)
		s.expect(t,
			`2.5s returned output 0 19:0`,
			`2.5s lost input 0 16:0: no longer there: check its cable and power`)
		if got := fmt.Sprintf("%X", s.machine.Sent(synth)); got != "[803C40]" {
			t.Errorf("the synth got %s, want the end of the note", got)
		}
		keys = s.machine.Plug(input("Keys"))
		pass(500 * time.Millisecond)
		s.expect(t, `3.5s returned input 0 20:0`)
		s.machine.Play(keys, 0x90, 62, 1)
		if got := fmt.Sprintf("%X", s.machine.Sent(synth)); got != "[903E01]" || len(s.machine.Sent(other)) != 0 {
			t.Errorf("the synth got %s", got)
		}
		if in.Trouble() != nil || out.Trouble() != nil || out.Port().Address != "19:0" || in.Port().Address != "20:0" {
			t.Errorf("afterwards: %v %v, %v %v", in.Port(), in.Trouble(), out.Port(), out.Trouble())
		}
	})
}

// Where the system tells of changes nobody looks in vain, and all is known and
// mended at once.
func TestAnnouncedLossAndReturn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := new(stage)
		s.machine.Announce()
		s.set()
		keys, synth := s.machine.Plug(input("Keys")), s.machine.Plug(output("Synth"))
		out, err := s.OpenOut(synth)
		if err != nil {
			t.Fatal(err)
		}
		in, err := s.OpenIn(keys, nil)
		if err != nil {
			t.Fatal(err)
		}
		s.Listen(true)
		stop := s.run()
		defer stop()
		pass(1230 * time.Millisecond)
		out.Send(midiio.Player, []byte{0x80, 60, 64})
		s.machine.Unplug(synth)
		s.machine.Unplug(keys)
		pass(time.Millisecond)
		s.expect(t,
			`1.23s lost output 0 17:0: no longer there: check its cable and power`,
			`1.23s lost input 0 16:0: no longer there: check its cable and power`)
		s.machine.Plug(input("Keys"))
		synth = s.machine.Plug(output("Synth"))
		pass(time.Millisecond)
		s.expect(t,
			`1.231s returned output 0 19:0`,
			`1.231s returned input 0 18:0`)
		if got := fmt.Sprintf("%X", s.machine.Sent(synth)); got != "[803C40]" || in.Trouble() != nil {
			t.Errorf("the synth got %s", got)
		}

		// It is there and can't be opened: that it can again nobody tells.
		s.machine.Unplug(synth)
		pass(time.Millisecond)
		s.diary = nil
		s.machine.Fail(midiio.ErrFull)
		s.machine.Plug(output("Synth"))
		pass(998 * time.Millisecond)
		s.machine.Fail(nil)
		pass(101 * time.Millisecond)
		s.expect(t,
			`1.233s lost output 0 19:0: the MIDI sequencer has no place left: end some of the programs that use MIDI, then try again`,
			`2.3s returned output 0 20:0`)
	})
}

// An input that lost messages lets the player go, an output ends again what it
// ended.
func TestOverruns(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := new(stage)
		s.machine.Announce()
		s.set()
		keys, synth := s.machine.Plug(input("Keys")), s.machine.Plug(output("Synth"))
		out, err := s.OpenOut(synth)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.OpenIn(keys, nil); err != nil {
			t.Fatal(err)
		}
		stop := s.run()
		defer stop()
		out.Send(midiio.Player, []byte{0x80, 60, 64})
		pass(time.Millisecond)
		s.machine.Overrun(keys)
		pass(time.Millisecond)
		s.expect(t,
			`1ms lost input 0 16:0: lost messages that came faster than they could be taken`,
			`1ms returned input 0 16:0`)
		s.machine.Overrun(synth)
		pass(time.Millisecond)
		s.expect(t)
		if got := fmt.Sprintf("%X", s.machine.Sent(synth)); got != "[803C40 803C40]" || out.Overruns() != 1 {
			t.Errorf("the synth got %s", got)
		}
	})
}

// What waits for a slow receiver is sent by Run, in order, as soon as there is
// room.
func TestSlowReceiver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newStage()
		synth := s.machine.Plug(output("Synth"))
		out, err := s.OpenOut(synth)
		if err != nil {
			t.Fatal(err)
		}
		stop := s.run()
		defer stop()
		s.machine.Slow(synth, 5)
		out.Send(midiio.Player, []byte{0x90, 60, 1})
		out.Send(midiio.Player, []byte{0xF0, 1, 2, 3, 0xF7})
		out.Send(midiio.Player, []byte{0x80, 60, 1})
		pass(10 * time.Millisecond)
		if got := fmt.Sprintf("%X", s.machine.Sent(synth)); got != "[903C01 F001]" {
			t.Errorf("at first it got %s", got)
		}
		s.machine.Fast(synth)
		pass(time.Millisecond)
		if got := fmt.Sprintf("%X", s.machine.Sent(synth)); got != "[0203F7 803C01]" {
			t.Errorf("then it got %s", got)
		}
	})
}

// What waits is not what comes back: the player may strike the same key again.
func TestWhatWaitsIsNoEcho(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newStage()
		keys, synth := s.machine.Plug(input("Keys")), s.machine.Plug(output("Synth"))
		out, err := s.OpenOut(synth)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.OpenIn(keys, func(_ time.Duration, msg []byte, _ midiio.Carried) { out.Send(midiio.Player, msg) }); err != nil {
			t.Fatal(err)
		}
		s.Listen(true)
		stop := s.run()
		defer stop()
		s.machine.Slow(synth, 0)
		s.machine.Play(keys, 0x90, 60, 1)
		pass(200 * time.Millisecond)
		s.machine.Play(keys, 0x90, 60, 1)
		s.machine.Fast(synth)
		pass(time.Millisecond)
		if got := fmt.Sprintf("%X", s.machine.Sent(synth)); got != "[903C01 903C01]" || s.Echoes() != 0 {
			t.Errorf("the synth got %s, %d echoes cut", got, s.Echoes())
		}
		s.machine.Play(keys, 0x90, 60, 1)
		if s.Echoes() != 1 {
			t.Error("an echo is not cut any more")
		}
	})
}

// What has waited before it was taken bears the time when it arrived; stamps
// don't go back.
func TestAge(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newStage()
		keys := s.machine.Plug(input("Keys"))
		if _, err := s.OpenIn(keys, nil); err != nil {
			t.Fatal(err)
		}
		s.Listen(true)
		pass(20 * time.Millisecond)
		s.machine.PlayLate(keys, 7*time.Millisecond, 0x90, 60, 1)
		s.machine.PlayLate(keys, 9*time.Millisecond, 0x90, 61, 1)
		s.machine.PlayLate(keys, 0, 0x90, 62, 1)
		for _, want := range []time.Duration{13 * time.Millisecond, 13 * time.Millisecond, 20 * time.Millisecond} {
			if m, _, _ := s.Take(); m.At != want {
				t.Errorf("% X at %v, want %v", m.Bytes(), m.At, want)
			}
		}
	})
}

// What was played half way before the loss is not taken up after it.
func TestHalfAMessageIsForgotten(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newStage()
		keys := s.machine.Plug(input("Keys"))
		if _, err := s.OpenIn(keys, nil); err != nil {
			t.Fatal(err)
		}
		s.Listen(true)
		stop := s.run()
		defer stop()
		s.machine.Play(keys, 0x90, 60)
		s.machine.Unplug(keys)
		keys = s.machine.Plug(input("Keys"))
		pass(time.Second)
		s.machine.Play(keys, 61, 1, 0x90, 62, 1)
		if m, _, _ := s.Take(); string(m.Bytes()) != "\x90\x3E\x01" {
			t.Errorf("got % X first", m.Bytes())
		}
	})
}

func TestReturnIsTriedAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newStage()
		synth := s.machine.Plug(output("Synth"))
		if _, err := s.OpenOut(synth); err != nil {
			t.Fatal(err)
		}
		stop := s.run()
		defer stop()
		s.machine.Unplug(synth)
		synth = s.machine.Plug(output("Synth"))
		s.machine.Occupy(synth, true)
		pass(1900 * time.Millisecond)
		s.machine.Fail(midiio.ErrPermission)
		pass(time.Second)
		s.machine.Fail(nil)
		s.machine.Occupy(synth, false)
		pass(time.Second)
		s.expect(t,
			`500ms lost output 0 16:0: no longer there: check its cable and power`,
			`500ms lost output 0 16:0: MIDI output "Synth": in use by another program: close it there, then try again`,
			`2s lost output 0 16:0: no permission to use MIDI (/dev/snd/seq): add yourself to its group with: sudo usermod -aG audio $USER, then log in again`,
			`3s returned output 0 17:0`)
	})
}

func TestTwinsAreNotMixedUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newStage()
		left, right := s.machine.Plug(input("Keys")), s.machine.Plug(input("Keys"))
		for _, p := range []midiio.PortInfo{left, right} {
			if _, err := s.OpenIn(p, nil); err != nil {
				t.Fatal(err)
			}
		}
		s.Listen(true)
		stop := s.run()
		defer stop()
		s.machine.Unplug(left)
		pass(time.Second)
		back := s.machine.Plug(input("Keys"))
		pass(time.Second)
		s.expect(t,
			`500ms lost input 0 16:0: no longer there: check its cable and power`,
			`1.5s returned input 0 18:0`)
		s.machine.Play(right, 0xFA)
		pass(time.Millisecond)
		s.machine.Play(back, 0xFC)
		for _, want := range []string{"1 FA", "0 FC"} {
			m, in, _ := s.Take()
			if got := fmt.Sprintf("%d %X", in, m.Bytes()); got != want {
				t.Errorf("got %s, want %s", got, want)
			}
		}
	})
}

// A device that goes is not replaced by another of its name that was there beside
// it, unless that one went and came, too: then nobody can tell.
func TestTwinThatNobodyAskedForIsLeftAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newStage()
		left, right := s.machine.Plug(output("Module")), s.machine.Plug(output("Module"))
		if _, err := s.OpenOut(left); err != nil {
			t.Fatal(err)
		}
		stop := s.run()
		defer stop()
		s.machine.Unplug(left)
		pass(5 * time.Second)
		s.expect(t, `500ms lost output 0 16:0: no longer there: check its cable and power`)
		s.machine.Unplug(right)
		pass(time.Second)
		s.machine.Plug(output("Module"))
		pass(time.Second)
		s.expect(t, `6.5s returned output 0 18:0`)
	})
}

// A port of bedd's own is never taken for a device that is missed.
func TestVirtualPorts(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newStage()
		real := s.machine.Plug(output("bedd"))
		if _, err := s.OpenOut(real); err != nil {
			t.Fatal(err)
		}
		out, err := s.VirtualOut("bedd")
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.VirtualIn("bedd", func(_ time.Duration, msg []byte, _ midiio.Carried) { out.Send(midiio.Player, msg) }); err != nil {
			t.Fatal(err)
		}
		s.Listen(true)
		stop := s.run()
		defer stop()
		s.machine.Unplug(real)
		pass(2 * time.Second)
		s.expect(t, `500ms lost output 0 16:0: no longer there: check its cable and power`)
		in, found := s.machine.Virtual(midiio.In, "bedd")
		if !found {
			t.Fatal("there is no virtual input")
		}
		s.machine.Play(in, 0x90, 60, 1)
		port, _ := s.machine.Virtual(midiio.Out, "bedd")
		if got := fmt.Sprintf("%X", s.machine.Sent(port)); got != "[903C01]" {
			t.Errorf("the virtual output got %s", got)
		}
	})
}

// On a wire: what sounds when the port goes is ended when it returns.
func TestWireThroughLossAndReturn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &stage{start: time.Now()}
		synth := s.machine.Plug(output("Synth"))
		var wire *midiio.Wire
		clock := func() time.Duration { return time.Since(s.start) }
		s.Ports = midiio.NewPorts(midiio.PortsConfig{
			System: &s.machine, Clock: clock,
			Lost:     func(midiio.Change) { wire.Lost() },
			Returned: func(midiio.Change) { wire.Returned(clock()) },
		})
		out, err := s.OpenOut(synth)
		if err != nil {
			t.Fatal(err)
		}
		wire = midiio.NewWire(midiio.WireConfig{}, sink{out})
		stop := s.run()
		defer stop()
		wire.Player(clock(), []byte{0x90, 60, 1})
		wire.Player(clock(), []byte{0x90, 64, 1})
		pass(time.Second)
		s.machine.Unplug(synth)
		wire.Player(clock(), []byte{0x80, 60, 30})
		pass(time.Second)
		wire.Player(clock(), []byte{0x90, 67, 1})
		synth = s.machine.Plug(output("Synth"))
		pass(time.Second)
		wire.Player(clock(), []byte{0x90, 69, 1})
		const want = "[803C40 804040 904501]"
		if got := fmt.Sprintf("%X", s.machine.Sent(synth)); got != want {
			t.Errorf("the synth got %s, want %s", got, want)
		}
	})
}

type sink struct{ out *midiio.Output }

func (s sink) Write(_ time.Duration, from midiio.Source, msg []byte) bool {
	return s.out.Send(midiio.Player, msg)
}

func TestOpeningFails(t *testing.T) {
	s := newStage()
	keys, synth := s.machine.Plug(input("Keys")), s.machine.Plug(output("Synth"))
	s.machine.Occupy(keys, true)
	if _, err := s.OpenIn(keys, nil); !errors.Is(err, midiio.ErrBusy) {
		t.Errorf("a busy input: %v", err)
	}
	s.machine.Unplug(synth)
	if _, err := s.OpenOut(synth); !errors.Is(err, midiio.ErrGone) {
		t.Errorf("an output that went: %v", err)
	}
	s.machine.Fail(midiio.ErrVirtual)
	if _, err := s.VirtualIn("bedd", nil); !errors.Is(err, midiio.ErrVirtual) {
		t.Errorf("a virtual input: %v", err)
	}
	if _, err := s.VirtualOut("bedd"); !errors.Is(err, midiio.ErrVirtual) {
		t.Errorf("a virtual output: %v", err)
	}
	if _, _, ok := s.Take(); ok {
		t.Error("took a message from nowhere")
	}
}

func TestCloseKeepsOut(t *testing.T) {
	s := newStage()
	keys, synth := s.machine.Plug(input("Keys")), s.machine.Plug(output("Synth"))
	out, err := s.OpenOut(synth)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.OpenIn(keys, func(_ time.Duration, msg []byte, _ midiio.Carried) { out.Send(midiio.Player, msg) }); err != nil {
		t.Fatal(err)
	}
	s.Listen(true)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s.machine.Play(keys, 0x90, 60, 1)
	if out.Send(midiio.Player, []byte{0x90, 60, 1}) || len(s.machine.Sent(synth)) != 0 {
		t.Error("something was sent after the end")
	}
}
