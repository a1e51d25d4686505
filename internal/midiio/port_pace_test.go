package midiio_test

import (
	"fmt"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"bedd/internal/midiio"
)

const ms = time.Millisecond

// pacedStage is a stage with one output on a MIDI cable.
func pacedStage(t *testing.T) (s *stage, synth midiio.PortInfo, out *midiio.Output) {
	t.Helper()
	s = newStage()
	synth, out = s.pacedOutput(t)
	return s, synth, out
}

// pacedOutput opens an output on a MIDI cable.
func (s *stage) pacedOutput(t *testing.T) (synth midiio.PortInfo, out *midiio.Output) {
	t.Helper()
	s.baud = midiio.DINBaud
	synth = s.machine.Plug(output("Synth"))
	out, err := s.OpenOut(synth)
	if err != nil {
		t.Fatal(err)
	}
	return synth, out
}

func chord(out *midiio.Output, from byte) {
	for key := range byte(7) {
		out.Send(midiio.Bed, []byte{0x91, from + key, 60})
		out.Send(midiio.Bed, []byte{0x92, from + 12 + key, 60})
	}
}

// While the bed changes, a note of the player's goes out at once, after two of the
// bed's fourteen; the others follow in time.
func TestPlayerGoesBeforeTheBed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, synth, out := pacedStage(t)
		stop := s.run()
		pass(time.Second)
		chord(out, 40)
		out.Send(midiio.Player, []byte{0x90, 72, 100})
		if got := fmt.Sprintf("%X", s.machine.Sent(synth)); got != "[91283C 92343C 904864]" {
			t.Errorf("at once it gets %s", got)
		}
		pass(14 * ms)
		if n := len(s.machine.Sent(synth)); n != 12 {
			t.Errorf("in the 14 ms after it gets %d messages, want 12", n)
		}
		l, paced := out.Load()
		if !paced || l.Bytes != 45 || l.At != time.Second || l.Wait.Round(10*time.Microsecond) != 1940*time.Microsecond || l.ForBed != l.Wait {
			t.Errorf("the load is %+v", l)
		}
		stop()
	})
}

// A port that goes while messages wait for its line is owed what they end, and
// nothing of what they begin; when it is back, no note waits for that.
func TestLostWhileItWaits(t *testing.T) {
	for name, announced := range map[string]bool{"noticed": false, "announced": true} {
		synctest.Test(t, func(t *testing.T) {
			s := newStage()
			if announced {
				s.machine.Announce()
			}
			synth, out := s.pacedOutput(t)
			stop := s.run()
			chord(out, 40)
			pass(20 * ms)
			s.machine.Sent(synth)
			for key := range byte(7) {
				out.Send(midiio.Bed, []byte{0x81, 40 + key, 64})
				out.Send(midiio.Bed, []byte{0x91, 80 + key, 60})
			}
			if n := len(s.machine.Sent(synth)); n != 2 {
				t.Errorf("%s: %d messages go out at once, want 2", name, n)
			}
			s.machine.Unplug(synth)
			pass(time.Second)
			back := s.machine.Plug(output("Synth"))
			for out.Trouble() != nil {
				pass(ms)
			}
			out.Send(midiio.Player, []byte{0x90, 72, 100})
			sent := s.machine.Sent(back)
			l, _ := out.Load()
			if last := sent[len(sent)-1]; len(sent) > 4 || last[0] != 0x90 || l.ForBed > 3*ms {
				t.Errorf("%s: a note goes out after %d messages, the last is % X, and it waits %v", name, len(sent)-1, last, l.ForBed)
			}
			pass(time.Second)
			var ended []byte
			for _, m := range append(sent[:len(sent)-1], s.machine.Sent(back)...) {
				if m[0] != 0x81 {
					t.Errorf("%s: it gets % X", name, m)
				}
				ended = append(ended, m[1])
			}
			if want := []byte{40, 41, 42, 43, 44, 45, 46}; !slices.Equal(ended, want) {
				t.Errorf("%s: ended are %v, want %v", name, ended, want)
			}
			stop()
		})
	}
}

// Where the piano goes past bedd, the bed keeps clear of it just the same. A flood
// there may fill the device, but it holds up the bed for no longer than the device
// takes for what it keeps.
func TestBedWaitsForWhatGoesPastBedd(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newStage()
		s.machine.Announce()
		synth, out := s.pacedOutput(t)
		keys := s.machine.Plug(input("Keys"))
		in, err := s.OpenIn(keys, nil)
		if err != nil {
			t.Fatal(err)
		}
		if r := s.Route(in, 0, true, func(midiio.Connection) bool { return false }); r.By != midiio.ByConnection {
			t.Fatalf("carried by %v: %v", r.By, r.Err)
		}
		stop := s.run()
		s.Listen(true)
		for key := range byte(10) {
			s.machine.Play(keys, 0x90, 60+key, 100)
		}
		s.machine.Sent(synth)
		for _, step := range []struct {
			after time.Duration
			want  int
		}{{0, 0}, {8 * ms, 0}, {ms, 1}, {ms, 1}} { // ten notes take 9.7 ms
			if step.after == 0 {
				chord(out, 40)
			}
			pass(step.after)
			if n := len(s.machine.Sent(synth)); n != step.want {
				t.Errorf("%v on it gets %d of the bed's messages, want %d", step.after, n, step.want)
			}
		}
		pass(time.Second)
		s.machine.Sent(synth)
		for i := range 50_000 {
			s.machine.Play(keys, 0xB0, 11, byte(i%50))
			pass(200 * time.Microsecond)
		}
		s.machine.Sent(synth)
		out.Send(midiio.Bed, []byte{0x81, 40, 64})
		pass(1400 * ms) // 4,096 bytes take 1.32 s
		if got := fmt.Sprintf("%X", s.machine.Sent(synth)); got != "[812840]" {
			t.Errorf("after a flood it gets %s", got)
		}
		stop()
	})
}

// At the end of a run all that waits goes out, in order.
func TestCloseSendsWhatWaits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, synth, out := pacedStage(t)
		stop := s.run()
		chord(out, 40)
		pass(20 * ms)
		for key := range byte(7) {
			out.Send(midiio.Ledger, []byte{0x81, 40 + key, 64})
			out.Send(midiio.Ledger, []byte{0x82, 52 + key, 64})
		}
		for ch := range byte(16) {
			out.Send(midiio.Ledger, []byte{0xB0 | ch, 123, 0})
		}
		stop()
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		sent := s.machine.Sent(synth)
		if last := sent[len(sent)-1]; len(sent) != 14+14+16 || last[0] != 0xBF {
			t.Errorf("%d messages, at last % X", len(sent), last)
		}
	})
}

// A device that keeps 4,096 bytes and drops the rest never gets more than it keeps,
// whatever the player sends, and in the end all of it, in order.
func TestDevicesBufferIsNotOverrun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, synth, out := pacedStage(t)
		stop := s.run()
		long := make([]byte, midiio.MaxSysEx)
		long[0], long[len(long)-1] = 0xF0, 0xF7
		kept, at := 0.0, time.Now()
		var all [][]byte
		look := func() {
			kept = max(kept-float64(time.Since(at))/float64(320*time.Microsecond), 0)
			at = time.Now()
			for _, m := range s.machine.Sent(synth) {
				all = append(all, m)
				kept += float64(len(m))
			}
			if kept > 4096 {
				t.Fatalf("the device keeps %.0f bytes", kept)
			}
		}
		for i := range byte(8) {
			out.Send(midiio.Player, long)
			for n := range byte(100) {
				out.Send(midiio.Player, []byte{0x90, n, i + 1})
				look()
			}
			chord(out, 40)
		}
		for range 10_000 {
			pass(ms)
			look()
		}
		stop()
		notes := 0
		for _, m := range all {
			if m[0] == 0x90 {
				if want := []byte{0x90, byte(notes % 100), byte(notes/100 + 1)}; !slices.Equal(m, want) {
					t.Fatalf("note %d is % X", notes, m)
				}
				notes++
			}
		}
		if notes != 800 || out.LeftOut() > 0 {
			t.Errorf("%d of 800 notes arrived, %d messages were left out", notes, out.LeftOut())
		}
	})
}

// A pedal that sends 5,000 values a second for two seconds, on one input, while
// fingers play on another: every note goes out at once, the pedal's newest value is
// never older than 2 ms, and the core misses nothing.
func TestFloodDelaysNoNote(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, synth, out := pacedStage(t)
		wire := midiio.NewWire(midiio.WireConfig{}, sink{out})
		thru := func(at time.Duration, msg []byte, _ midiio.Carried) { wire.Player(at, msg) }
		keys, board := s.machine.Plug(input("Keys")), s.machine.Plug(input("Board"))
		if _, err := s.OpenIn(keys, thru); err != nil {
			t.Fatal(err)
		}
		pedal, err := s.OpenIn(board, thru)
		if err != nil {
			t.Fatal(err)
		}
		stop := s.run()
		s.Listen(true)
		taken := 0
		var sent [][]byte
		for i := range 10_000 {
			s.machine.Play(board, 0xB0, 11, byte(i%50))
			if i%100 == 0 {
				s.machine.Play(keys, 0x90, byte(i/100), 100)
			}
			sent = append(sent, s.machine.Sent(synth)...)
			if i%100 == 0 && (len(sent) == 0 || sent[len(sent)-1][0] != 0x90) {
				t.Fatalf("note %d waits", i/100)
			}
			pass(200 * time.Microsecond)
			for _, _, ok := s.Take(); ok; _, _, ok = s.Take() {
				taken++
			}
		}
		pass(2 * ms)
		for _, _, ok := s.Take(); ok; _, _, ok = s.Take() {
			taken++
		}
		sent = append(sent, s.machine.Sent(synth)...)
		if last := sent[len(sent)-1]; !slices.Equal(last, []byte{0xB0, 11, 9999 % 50}) {
			t.Errorf("the pedal's last value is % X", last)
		}
		load, _ := out.Load()
		values := taken - 100
		if values < 990 || values > 1030+100 || taken != len(sent)+int(load.Overtaken) || load.Overtaken > 16 || pedal.Thinned() != uint64(10_000-values) || pedal.Dropped() > 0 {
			t.Errorf("%d values passed, %d messages taken, %d thinned, %d dropped", values, taken, pedal.Thinned(), pedal.Dropped())
		}
		if load.Wait > 4*ms { // behind the first values, which came at once
			t.Errorf("a message waited %v for the line", load.Wait)
		}
		if pedal.ThinnedLast() != "controller 11 on channel 1" {
			t.Errorf("it is %s", pedal.ThinnedLast())
		}
		stop()
	})
}
