package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/guard"
	"bedd/internal/midiio"
	"bedd/internal/midiio/porttest"
)

// stageOf is keys and a synth on a made-up machine.
func stageOf() (s *porttest.System, c midiio.Connection) {
	s = new(porttest.System)
	s.Announce()
	return s, midiio.Connection{In: s.Plug(midiio.PortInfo{Way: midiio.In, Name: "Stage"}), Out: s.Plug(midiio.PortInfo{Way: midiio.Out, Name: "Module"})}
}

// opened opens a machine's ports as play does with some flags, and listens; end
// ends it and gives what was said.
func opened(t *testing.T, s *porttest.System, rig gathering.Rig, f midiFlags) (r *midiRig, end func() string, err error) {
	t.Helper()
	t.Setenv("XDG_RUNTIME_DIR", t.TempDir())
	return openedAgain(t, s, rig, f)
}

// openedAgain is opened where an earlier bedd may have left something.
func openedAgain(t *testing.T, s *porttest.System, rig gathering.Rig, f midiFlags) (r *midiRig, end func() string, err error) {
	t.Helper()
	f.thru, f.driver, f.noGuard = "auto", "auto", true
	f.baud = cmp.Or(f.baud, "auto")
	wishes, err := f.wishes()
	if err != nil {
		t.Fatal(err)
	}
	choice, err := choose(s, wishes)
	if err != nil {
		t.Fatal(err)
	}
	said := filepath.Join(t.TempDir(), "said")
	file, err := os.Create(said)
	if err != nil {
		t.Fatal(err)
	}
	screen := newScreen(file, newMishaps())
	deaf := func(midiio.Outputs, midiio.Role) midiio.Thru {
		return func(time.Duration, []byte, midiio.Carried) {}
	}
	r, err = f.openOn(s, choice, wishes.Thru, &rig, func() time.Duration { return 0 }, screen, deaf, newMishaps())
	if err == nil {
		r.listen(screen)
	}
	return r, func() string {
		if r != nil {
			r.deafen()
			r.close(screen)
		}
		screen.close()
		text, err := os.ReadFile(said)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}, err
}

// The piano is connected past bedd where that is asked for, or where nothing would
// be left out on the way; it is said, and what cannot be left out; at the end the
// connection is gone.
func TestRoute(t *testing.T) {
	transposed := gathering.DefaultRig()
	transposed.Out = 2
	kernel := gathering.DefaultRig()
	kernel.Player.Route = "kernel"
	apart := midiFlags{insKeys: []string{"Stage"}, outsPiano: []string{"Module"}, outsBed: []string{"Pad"}}
	byBedd := apart
	byBedd.route = "bedd"
	for name, c := range map[string]struct {
		rig       gathering.Rig
		flags     midiFlags
		connected bool
		says      string
	}{
		"by itself, with feet and bed to be left out":  {gathering.DefaultRig(), midiFlags{}, false, ""},
		"keys alone, but the bed's channels":           {gathering.DefaultRig(), midiFlags{insKeys: []string{"Stage"}}, false, ""},
		"keys alone, and a synth for the piano alone":  {gathering.DefaultRig(), apart, true, "the piano goes from Stage to Module inside the kernel, whatever becomes of bedd\n"},
		"the same, by bedd":                            {gathering.DefaultRig(), byBedd, false, ""},
		"the same, transposed":                         {transposed, apart, false, ""},
		"asked for":                                    {gathering.DefaultRig(), midiFlags{route: "kernel", insKeys: []string{"Stage"}}, true, "the piano goes from Stage to Module inside the kernel, whatever becomes of bedd; what bedd would leave out goes along: the bed's channels 2 and 3\n"},
		"asked for by the rig, with feet at the keys":  {kernel, midiFlags{}, true, "inside the kernel, whatever becomes of bedd; what bedd would leave out goes along: feet and pedal (controller 80, controller 81"},
		"asked for by the rig, but not by the flag":    {kernel, midiFlags{route: "auto"}, false, ""},
		"asked for, of what is played with feet alone": {kernel, midiFlags{insFeet: []string{"Stage"}}, false, ""},
	} {
		s, connection := stageOf()
		s.Plug(midiio.PortInfo{Way: midiio.Out, Name: "Pad"})
		_, end, err := opened(t, s, c.rig, c.flags)
		if err != nil {
			t.Fatal(err)
		}
		if got := s.Connected(connection); got != c.connected {
			t.Errorf("%s: connected %v, want %v", name, got, c.connected)
		}
		if said := end(); !strings.Contains(said, c.says) || c.says == "" && strings.Contains(said, "kernel") {
			t.Errorf("%s: it says\n%s", name, said)
		}
		if s.Connected(connection) {
			t.Errorf("%s: the connection is left", name)
		}
	}
}

// A route that cannot be is refused when it is asked for, with the reason.
func TestRouteIsRefused(t *testing.T) {
	transposed := gathering.DefaultRig()
	transposed.Out, transposed.Player.Aside = 2, map[uint8]uint8{1: 3}
	for _, c := range []struct {
		rig  gathering.Rig
		fail error
		want string
	}{
		{transposed, nil, "the route is kernel, but bedd transposes by +2 (transpose: out) and moves channels (aside:) on the way, which the kernel can't: use --route bedd, or change the rig"},
		{gathering.DefaultRig(), midiio.ErrNoConnect, "the route is kernel, but the rtmidi driver connects no devices with each other: use the alsa driver, on Linux"},
	} {
		s, _ := stageOf()
		s.FailConnect(c.fail)
		r, _, err := opened(t, s, c.rig, midiFlags{route: "kernel"})
		if err == nil || err.Error() != c.want || r != nil {
			t.Errorf("%v, want %s", err, c.want)
		}
		if _, ok := err.(badInput); !ok {
			t.Errorf("%v is no usage error", err)
		}
	}
	s, c := stageOf()
	s.FailConnect(fmt.Errorf("MIDI connection from %v: %w", c, midiio.ErrBusy))
	_, end, err := opened(t, s, gathering.DefaultRig(), midiFlags{route: "kernel"})
	if said := end(); err != nil || !strings.Contains(said, "bedd carries the piano from Stage to Module: MIDI connection from Stage to Module: in use by another program") {
		t.Errorf("a connection that fails: %v\n%s", err, said)
	}
}

// Keys that somebody else has connected are left so, and it is said.
func TestRouteOfSomebodyElse(t *testing.T) {
	s, c := stageOf()
	if err := s.Connect(c); err != nil {
		t.Fatal(err)
	}
	_, end, err := opened(t, s, gathering.DefaultRig(), midiFlags{})
	if err != nil {
		t.Fatal(err)
	}
	if said := end(); !strings.Contains(said, "the piano goes from Stage to Module by a connection that is not bedd's, so bedd sends none of it there; what bedd would leave out goes along: feet and pedal (") {
		t.Errorf("it says\n%s", said)
	}
	if !s.Connected(c) {
		t.Error("it was ended")
	}
}

// What a dead bedd's guard has left is taken over, also what this one doesn't want,
// but not what is none of this one's; a bedd that fails leaves it.
func TestRouteIsTakenOver(t *testing.T) {
	t.Setenv("XDG_RUNTIME_DIR", t.TempDir())
	dir, err := guard.LockDir()
	if err != nil {
		t.Fatal(err)
	}
	s, c := stageOf()
	unwanted := midiio.Connection{In: c.In, Out: s.Plug(midiio.PortInfo{Way: midiio.Out, Name: "Old"})}
	others := midiio.Connection{In: s.Plug(midiio.PortInfo{Way: midiio.In, Name: "Elsewhere", Program: true}), Out: unwanted.Out}
	left := []midiio.Connection{c, unwanted, others}
	for i, l := range left {
		if err := s.Connect(l); err != nil {
			t.Fatal(err)
		}
		record, err := json.Marshal([]midiio.Connection{l})
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("connections-%d.json", i)), record, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	connected := func(want string) {
		t.Helper()
		var got []midiio.Connection
		for _, l := range left {
			if s.Connected(l) {
				got = append(got, l)
			}
		}
		if fmt.Sprint(got) != want {
			t.Errorf("connected are %v, want %s", got, want)
		}
	}
	bad := gathering.DefaultRig()
	bad.Out = 2
	module := midiFlags{outs: []string{"Module"}}
	kernel := module
	kernel.route = "kernel"
	if _, _, err := openedAgain(t, s, bad, kernel); err == nil {
		t.Error("a route that cannot be is taken")
	}
	connected("[Stage to Module Stage to Old Elsewhere to Old]")
	_, end, err := openedAgain(t, s, gathering.DefaultRig(), kernel)
	if err != nil {
		t.Fatal(err)
	}
	connected("[Stage to Module Elsewhere to Old]")
	said := end()
	for _, want := range []string{"the piano goes from Stage to Module inside the kernel", "this one takes over the piano from Stage to Module\n", "this one takes over the piano from Stage to Old\n"} {
		if !strings.Contains(said, want) {
			t.Errorf("it does not say %q:\n%s", want, said)
		}
	}
	connected("[Elsewhere to Old]")
	if l, err := guard.FindLeavings(dir); err != nil || fmt.Sprint(l.List) != "[Elsewhere to Old]" {
		t.Errorf("left on record: %v, %v", l.List, err)
	}
}
