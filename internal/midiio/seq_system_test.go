//go:build linux

package midiio

import (
	"bytes"
	"slices"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// pipeSystem is a system whose device is a pipe: what is sent can be read from
// it as it stands, and what is put in is taken for what the kernel gives.
func pipeSystem(t *testing.T) (s *seqSystem, device int) {
	t.Helper()
	pair, err := unix.Socketpair(unix.AF_UNIX, unix.SOCK_SEQPACKET|unix.SOCK_CLOEXEC|unix.SOCK_NONBLOCK, 0)
	if err != nil {
		t.Fatal(err)
	}
	c, err := newSeqClient(pair[0])
	if err != nil {
		t.Fatal(err)
	}
	c.id = 128
	t.Cleanup(func() { c.close(); _ = unix.Close(pair[1]) })
	s = &seqSystem{play: c, watch: &seqClient{id: 129}, clock: newSeqClock(noQueue, func() (time.Duration, bool) { return 0, false }), changed: make(chan struct{}, 1), next: firstLink}
	return s, pair[1]
}

func (s *seqSystem) testIn(number uint8, receive Receiver) *seqIn {
	in := &seqIn{seqPort: seqPort{system: s, own: seqAddr{s.play.id, number}}, receive: receive}
	s.ins[number].Store(in)
	return in
}

func (s *seqSystem) testOut(number uint8) *seqOut {
	out := &seqOut{seqPort: seqPort{system: s, info: PortInfo{Way: Out}, own: seqAddr{s.play.id, number}}, encoder: newSeqEncoder(number)}
	s.outs[number].Store(out)
	return out
}

// to addresses an event to one of our ports.
func to(port byte, e []byte) []byte {
	e = bytes.Clone(e)
	e[15] = port
	return e
}

func TestSeqDispatchesByPort(t *testing.T) {
	s, device := pipeSystem(t)
	var keys, feet []byte
	s.testIn(8, func(_ time.Duration, b []byte) { keys = append(keys, b...) })
	in := s.testIn(9, func(_ time.Duration, b []byte) { feet = append(feet, b...) })
	give := func(events ...[]byte) {
		t.Helper()
		if _, err := unix.Write(device, slices.Concat(events...)); err != nil {
			t.Fatal(err)
		}
		read, err := s.play.read(make([]byte, readBuffer))
		if err != nil {
			t.Fatal(err)
		}
		s.dispatch(read)
	}
	give(to(8, event(6, 0, 60, 1)), to(9, event(10, controlData(0, 80, 127)...)), to(10, event(6, 0, 61, 1)), to(8, event(37)), to(8, event(6, 0, 60, 0)))
	in.shut()
	give(to(9, event(10, controlData(0, 80, 0)...)), to(8, event(42)))
	if want := []byte{0x90, 60, 1, 0x90, 60, 0, 0xFE}; !bytes.Equal(keys, want) {
		t.Errorf("the keys' port got % X, want % X", keys, want)
	}
	if want := []byte{0xB0, 80, 127}; !bytes.Equal(feet, want) {
		t.Errorf("the feet's port got % X, want % X", feet, want)
	}
}

func TestSeqTellsOfLosses(t *testing.T) {
	s, _ := pipeSystem(t)
	in, out := s.testIn(8, nil), s.testOut(9)
	told := func() bool {
		select {
		case <-s.Changed():
			return true
		default:
			return false
		}
	}
	bounce := to(9, event(seqKernelError, 20, 0, byte(unix.ENOENT), 0))
	s.dispatch(bounce)
	if out.Overruns() != 0 || told() {
		t.Error("a receiver that has gone counts as one that is full")
	}
	bounce[18] = byte(unix.EAGAIN)
	s.dispatch(bounce)
	if out.Overruns() != 0 || told() {
		t.Error("one of several counts, who can't be helped")
	}
	out.receiver.Store(130)
	s.dispatch(bounce)
	if out.Overruns() != 1 || !told() {
		t.Error("a full receiver is not told of")
	}
	s.overrun()
	if in.Overruns() != 1 || !told() {
		t.Error("that we were full ourselves is not told of")
	}
}

func TestSeqNews(t *testing.T) {
	s, _ := pipeSystem(t) // clients 128 and 129
	for _, c := range []struct {
		event []byte
		want  bool
	}{
		{event(seqClientStart, 20, 0), true},
		{event(seqClientExit, 20, 0), true},
		{event(seqPortStart, 20, 0), true},
		{event(seqPortExit, 20, 0), true},
		{event(seqPortChange, 20, 0), true},
		{event(seqPortStart, 128, 9), false}, // our own doing
		{event(seqPortExit, 129, 0), false},
		{event(seqSubscribed, 20, 0, 128, 9), true},
		{event(seqUnsubscribed, 128, 9, 20, 0), true},
		{event(seqUnsubscribed, 21, 0, 20, 0), true}, // between others: it may be the piano's way
		{event(90, 20, 0), false},
	} {
		e, _, _ := splitEvent(c.event)
		if got := s.isNews(e); got != c.want {
			t.Errorf("% X: news %v, want %v", c.event, got, c.want)
		}
	}
}

func TestSeqSend(t *testing.T) {
	s, device := pipeSystem(t)
	out := s.testOut(9)
	sent := func() []byte {
		buf := make([]byte, 1024)
		n, err := unix.Read(device, buf)
		if err != nil {
			t.Fatal(err)
		}
		return buf[:n]
	}
	if taken, err := out.Send([]byte{0x90, 60, 100}); taken != 3 || err != nil {
		t.Fatalf("%d bytes taken, %v", taken, err)
	}
	if got, want := sent(), addressed(event(6, 0, 60, 100)); !bytes.Equal(got, want) {
		t.Errorf("sent % X, want % X", got, want)
	}
	if taken, err := out.Send(sysex(600)); taken != 600 || err != nil {
		t.Fatalf("%d bytes taken, %v", taken, err)
	}
	for _, want := range []int{256, 256, 88} {
		if got := len(sent()) - seqEventSize; got != want {
			t.Errorf("a piece of %d bytes, want %d", got, want)
		}
	}
	if taken, err := out.Send([]byte{0xF4}); taken != 0 || err != errNotMIDI {
		t.Errorf("no message: %d bytes taken, %v", taken, err)
	}
	out.shut()
	if taken, err := out.Send([]byte{0xFA}); taken != 0 || err != ErrGone {
		t.Errorf("closed: %d bytes taken, %v", taken, err)
	}
}

func TestParseAddr(t *testing.T) {
	for text, want := range map[string]seqAddr{"24:0": {24, 0}, "255:255": {255, 255}} {
		if got, ok := parseAddr(text); !ok || got != want {
			t.Errorf("%s: %v %v", text, got, ok)
		}
	}
	for _, text := range []string{"", "24", "24:", ":0", "256:0", "24:-1", "#2", "24:0:1"} {
		if got, ok := parseAddr(text); ok {
			t.Errorf("%q: %v", text, got)
		}
	}
}

// A note from the device to the device: read, dispatched, sent.
func TestSeqDoesNotAllocate(t *testing.T) {
	s, device := pipeSystem(t)
	out := s.testOut(9)
	out.receiver.Store(130) // asked for its room each time, without an answer
	failed := 0
	s.testIn(8, func(_ time.Duration, b []byte) {
		if _, err := out.Send(b); err != nil {
			failed++
		}
	})
	note, piece, buf := to(8, event(6, 0, 60, 1)), event(130), make([]byte, readBuffer)
	piece = append(to(8, piece), sysex(28)...)
	piece[1], piece[16] = seqLengthVariable, 28
	n := testing.AllocsPerRun(1000, func() {
		for _, e := range [][]byte{note, piece} {
			_, _ = unix.Write(device, e)
			read, err := s.play.read(buf)
			if err != nil {
				failed++
			}
			s.dispatch(read)
			_, _ = unix.Read(device, buf)
		}
	})
	if n != 0 || failed > 0 {
		t.Errorf("a note and a SysEx through the system allocate %v times, want 0; %d failed", n, failed)
	}
}
