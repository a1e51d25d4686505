//go:build unix

package guard

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"bedd/internal/midiio"
	"bedd/internal/midiio/porttest"
)

// evening is a duty on a made-up machine: keys, a foot board and a synth.
func evening(t *testing.T) (*porttest.System, Duty, *Board) {
	t.Helper()
	s := new(porttest.System)
	keys, feet := s.Plug(keysIn), s.Plug(midiio.PortInfo{Way: midiio.In, Name: "Feet"})
	d := Duty{Ins: []midiio.PortInfo{keys, feet}, Outs: []midiio.PortInfo{s.Plug(synthOut)}, Routes: []Route{{0, 0}, {1, 0}}}
	b, f, err := NewBoard(1, 2)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close(); b.Close() })
	return s, d, b
}

func TestConnect(t *testing.T) {
	press, strike := []byte{0xB0, 80, 127}, []byte{0x90, 60, 80}
	for name, c := range map[string]struct {
		before func(s *porttest.System, d Duty, b *Board)
		want   string // connected
		kept   string // and on record
		err    error
	}{
		"nothing is known of the inputs": {func(*porttest.System, Duty, *Board) {}, "[Keys to Module Feet to Module]", "[Keys to Module Feet to Module]", nil},
		"feet alone were heard from one": {func(_ *porttest.System, _ Duty, b *Board) {
			b.Heard(0, true, press) // a pedal at the keys
			b.Heard(0, false, strike)
			b.Heard(1, true, press)
			b.Heard(1, false, []byte{0xB0, 7, 100})
		}, "[Keys to Module]", "[Keys to Module]", nil},
		"connected by somebody": {func(s *porttest.System, d Duty, b *Board) {
			_ = s.Connect(midiio.Connection{In: d.Ins[0], Out: d.Outs[0]})
		}, "[Keys to Module Feet to Module]", "[Feet to Module]", nil},
		"something echoes": {func(_ *porttest.System, _ Duty, b *Board) {
			b.Heard(0, false, strike)
			b.Echo()
		}, "[]", "[]", nil},
		"the feet are gone, the keys elsewhere": {func(s *porttest.System, d Duty, b *Board) {
			s.Unplug(d.Ins[1])
			s.Unplug(d.Ins[0])
			s.Plug(keysIn)
		}, "[Keys to Module]", "[Keys to Module]", midiio.ErrGone},
		"the system connects nothing": {func(s *porttest.System, _ Duty, _ *Board) { s.FailConnect(midiio.ErrNoConnect) },
			"[]", "[Keys to Module Feet to Module]", midiio.ErrNoConnect},
	} {
		s, d, b := evening(t)
		c.before(s, d, b)
		kept := []midiio.Connection{}
		err := d.Connect(s, b, func(list []midiio.Connection) error { kept = append(kept, list...); return nil })
		connected := []midiio.Connection{}
		ins, _ := s.Ins()
		outs, _ := s.Outs()
		for _, in := range ins {
			if made := (midiio.Connection{In: in, Out: outs[0]}); s.Connected(made) {
				connected = append(connected, made)
			}
		}
		if got := fmt.Sprint(connected); got != c.want {
			t.Errorf("%s: connected are %s, want %s", name, got, c.want)
		}
		if got := fmt.Sprint(kept); got != c.kept {
			t.Errorf("%s: on record are %s, want %s", name, got, c.kept)
		}
		if !errors.Is(err, c.err) {
			t.Errorf("%s: %v, want %v", name, err, c.err)
		}
	}
}

// A record without a bedd tells what it left, until that is dealt with; one whose
// bedd lives is nobody else's.
func TestRecords(t *testing.T) {
	dir := t.TempDir()
	named := func(in string) midiio.Connection {
		return midiio.Connection{In: midiio.PortInfo{Name: in}, Out: synthOut}
	}
	dead, err := NewRecord(dir)
	if err != nil {
		t.Fatal(err)
	}
	alive, err := NewRecord(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, list := range [][]midiio.Connection{nil, {named("A"), named("B"), named("C")}, {named("A"), named("B")}} { // a shorter one over a longer
		if err := errors.Join(dead.Set(list), alive.Set(list)); err != nil {
			t.Fatal(err)
		}
	}
	find := func(want string) *Leavings {
		t.Helper()
		l, err := FindLeavings(dir)
		if err != nil || fmt.Sprint(l.List) != want {
			t.Errorf("found %v, %v, want %s", l.List, err, want)
		}
		return l
	}
	find("[]")
	go func() { // it dies slowly
		time.Sleep(20 * time.Millisecond)
		dead.file.Close()
	}()
	if err := addTo(dead.Name(), []midiio.Connection{named("D")}); err != nil {
		t.Error(err)
	}
	held := find("[A to Module B to Module D to Module]")
	find("[]") // one bedd sees to it
	forget := func(l *Leavings, names ...string) {
		t.Helper()
		err := l.Forget(func(c midiio.Connection) bool {
			for _, name := range names {
				if c.In.Name == name {
					return true
				}
			}
			return false
		})
		if err != nil {
			t.Error(err)
		}
	}
	forget(held, "A", "D")
	forget(find("[B to Module]"), "A", "B")
	find("[]")
	if err := alive.Remove(); err != nil {
		t.Error(err)
	}
	find("[]")
	if err := addTo(dead.Name(), nil); err == nil {
		t.Error("a record that is gone is added to")
	}
}
