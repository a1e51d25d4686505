package midiio

import (
	"errors"
	"testing"
)

func port(way Way, name, address string) PortInfo {
	return PortInfo{Way: way, Name: name, Address: address}
}

func TestMatch(t *testing.T) {
	ins := []PortInfo{
		port(In, "Keys A", "20:0"),
		port(In, "Keys", "24:0"),
		port(In, "Pedal B", "28:0"),
		port(In, "Twin:Twin MIDI 1", "32:0"),
		port(In, "Twin:Twin MIDI 1", "36:0"),
		{Way: In, Name: "bedd:input 1.1", Address: "128:0", Ours: true},
	}
	for _, c := range []struct {
		pattern string
		address string
		text    string
		kind    error
	}{
		{"pedal", "28:0", "", nil},
		{"KEYS A", "20:0", "", nil},
		{"keys", "24:0", "", nil}, // the exact name wins over a part
		{"36:0", "36:0", "", nil},
		{"Twin:Twin MIDI 1 32:0", "32:0", "", nil},
		{"ey", "", `2 MIDI inputs match "ey": "Keys A", "Keys"; name one with --in`, ErrSeveral},
		{"twin", "", `2 MIDI inputs are called "Twin:Twin MIDI 1": name one by its address with --in: 32:0, 36:0`, ErrSeveral},
		{"stage", "", `no MIDI input matches "stage": found "Keys A", "Keys", "Pedal B", "Twin:Twin MIDI 1", "Twin:Twin MIDI 1"; name one with --in`, ErrNoPort},
		{"bedd", "", `no MIDI input matches "bedd": found "Keys A", "Keys", "Pedal B", "Twin:Twin MIDI 1", "Twin:Twin MIDI 1"; name one with --in`, ErrNoPort},
		{"128:0", "", `no MIDI input matches "128:0": found "Keys A", "Keys", "Pedal B", "Twin:Twin MIDI 1", "Twin:Twin MIDI 1"; name one with --in`, ErrNoPort},
		{"", "", `no MIDI input matches "": found "Keys A", "Keys", "Pedal B", "Twin:Twin MIDI 1", "Twin:Twin MIDI 1"; name one with --in`, ErrNoPort},
	} {
		got, err := Match(In, ins, c.pattern)
		switch {
		case c.kind != nil:
			if err == nil || err.Error() != c.text || !errors.Is(err, c.kind) {
				t.Errorf("Match %q: %v, want %s", c.pattern, err, c.text)
			}
		case err != nil || got.Address != c.address:
			t.Errorf("Match %q = %v, %v, want %s", c.pattern, got, err, c.address)
		}
	}
}

func TestMatchNothingThere(t *testing.T) {
	_, err := Match(Out, nil, "synth")
	const want = `no MIDI output matches "synth": there is none at all; plug one in`
	if err == nil || err.Error() != want || !errors.Is(err, ErrNoPort) {
		t.Errorf("got %v, want %s", err, want)
	}
	_, err = Match(Out, []PortInfo{port(Out, "Synth", "20:0")}, "organ")
	const other = `no MIDI output matches "organ": found "Synth"; name one with --out`
	if err == nil || err.Error() != other {
		t.Errorf("got %v, want %s", err, other)
	}
}

// The whole texts of the troubles that are worded once.
func TestTroubleTexts(t *testing.T) {
	for _, c := range []struct {
		err  error
		want string
	}{
		{ErrNoSequencer, "this machine has no MIDI sequencer (/dev/snd/seq is missing): load it with: sudo modprobe snd-seq"},
		{ErrPermission, "no permission to use MIDI (/dev/snd/seq): add yourself to its group with: sudo usermod -aG audio $USER, then log in again"},
		{ErrBusy, "in use by another program: close it there, then try again"},
		{ErrGone, "no longer there: check its cable and power"},
		{ErrFull, "the MIDI sequencer has no place left: end some of the programs that use MIDI, then try again"},
		{ErrVirtual, "this system has no virtual MIDI ports: use a loop-back driver in its place"},
		{ErrBuild, "this bedd was built without cgo, which the rtmidi driver needs: build it with CGO_ENABLED=1, a C++ compiler and, on Linux, ALSA's headers"},
	} {
		if got := c.err.Error(); got != c.want {
			t.Errorf("got %s, want %s", got, c.want)
		}
	}
}
