package porttest

import (
	"bytes"
	"errors"
	"testing"
	"time"

	"bedd/internal/midiio"
)

func TestPlayReachesWhoOpened(t *testing.T) {
	var s System
	keys := s.Plug(midiio.PortInfo{Way: midiio.In, Name: "Keys"})
	var got []byte
	port, err := s.OpenIn(keys, func(_ time.Duration, b []byte) { got = append(got, b...) })
	if err != nil {
		t.Fatal(err)
	}
	s.Play(keys, 0x90, 60, 100)
	if want := []byte{0x90, 60, 100}; !bytes.Equal(got, want) {
		t.Errorf("got % X, want % X", got, want)
	}
	if !port.Alive() {
		t.Error("a port that is plugged in is not alive")
	}
	s.Unplug(keys)
	s.Play(keys, 0x80, 60, 64)
	if len(got) != 3 || port.Alive() {
		t.Errorf("after it was pulled out: % X arrived, alive %v", got, port.Alive())
	}
}

func TestSentAndVanished(t *testing.T) {
	var s System
	synth := s.Plug(midiio.PortInfo{Way: midiio.Out, Name: "Synth"})
	port, err := s.OpenOut(synth)
	if err != nil {
		t.Fatal(err)
	}
	if taken, err := port.Send([]byte{0xC0, 5}); taken != 2 || err != nil {
		t.Errorf("%d bytes taken, %v", taken, err)
	}
	if got := s.Sent(synth); len(got) != 1 || !bytes.Equal(got[0], []byte{0xC0, 5}) {
		t.Errorf("sent % X", got)
	}
	s.Unplug(synth)
	_, _ = port.Send([]byte{0xC0, 6})
	back := s.Plug(midiio.PortInfo{Way: midiio.Out, Name: "Synth"})
	if got := s.Sent(back); len(got) != 0 {
		t.Errorf("what was sent to the old port came to the new one: % X", got)
	}
	if back.Address == synth.Address {
		t.Errorf("it came back at the same address %s", back.Address)
	}
}

func TestTroubles(t *testing.T) {
	var s System
	synth := s.Plug(midiio.PortInfo{Way: midiio.Out, Name: "Synth"})
	s.Occupy(synth, true)
	if _, err := s.OpenOut(synth); !errors.Is(err, midiio.ErrBusy) {
		t.Errorf("opening a busy port: %v", err)
	}
	s.Unplug(synth)
	if _, err := s.OpenOut(synth); !errors.Is(err, midiio.ErrGone) {
		t.Errorf("opening a port that went: %v", err)
	}
	s.Fail(midiio.ErrPermission)
	if _, err := s.Ins(); !errors.Is(err, midiio.ErrPermission) {
		t.Errorf("listing without permission: %v", err)
	}
	if _, err := s.OpenVirtualOut("bedd"); !errors.Is(err, midiio.ErrPermission) {
		t.Errorf("a virtual port without permission: %v", err)
	}
}

func TestVirtualPorts(t *testing.T) {
	var s System
	out, err := s.OpenVirtualOut("bedd")
	if err != nil {
		t.Fatal(err)
	}
	_, _ = out.Send([]byte{0xF6})
	info, ok := s.Virtual(midiio.Out, "bedd")
	if got := s.Sent(info); !ok || len(got) != 1 {
		t.Errorf("found %v, sent % X", ok, got)
	}
	if _, ok := s.Virtual(midiio.In, "bedd"); ok {
		t.Error("found an input that nobody made")
	}
}

func TestSlow(t *testing.T) {
	var s System
	synth := s.Plug(midiio.PortInfo{Way: midiio.Out, Name: "Synth"})
	port, err := s.OpenOut(synth)
	if err != nil {
		t.Fatal(err)
	}
	s.Slow(synth, 5)
	for _, c := range []struct {
		msg   []byte
		taken int
		err   error
	}{
		{[]byte{0x90, 60, 1}, 3, nil},
		{[]byte{0x80, 60, 1}, 0, midiio.ErrSlow},
		{[]byte{0xF0, 1, 0xF7}, 2, midiio.ErrSlow},
	} {
		if taken, err := port.Send(c.msg); taken != c.taken || err != c.err {
			t.Errorf("% X: %d bytes taken, %v; want %d, %v", c.msg, taken, err, c.taken, c.err)
		}
	}
	s.Fast(synth)
	if taken, err := port.Send([]byte{0xF7}); taken != 1 || err != nil {
		t.Errorf("then: %d bytes taken, %v", taken, err)
	}
	if got := bytes.Join(s.Sent(synth), nil); !bytes.Equal(got, []byte{0x90, 60, 1, 0xF0, 1, 0xF7}) {
		t.Errorf("it got % X", got)
	}
}

func TestAnnounce(t *testing.T) {
	var quiet, s System
	if quiet.Changed() != nil {
		t.Error("it tells without having been asked to")
	}
	s.Announce()
	told := func() bool {
		select {
		case <-s.Changed():
			return true
		default:
			return false
		}
	}
	if told() {
		t.Error("something changed before anything happened")
	}
	synth := s.Plug(midiio.PortInfo{Way: midiio.Out, Name: "Synth"})
	if !told() {
		t.Error("a port that comes is not told of")
	}
	port, err := s.OpenOut(synth)
	if err != nil {
		t.Fatal(err)
	}
	s.Overrun(synth)
	if !told() || port.Overruns() != 1 {
		t.Error("a loss is not told of")
	}
	s.Unplug(synth)
	if !told() {
		t.Error("a port that goes is not told of")
	}
}
