package gathering

import (
	"slices"
	"testing"
	"time"

	"bedd/internal/midiio"

	"pgregory.net/rapid"
)

const ms = time.Millisecond

func TestPressesAreGuessed(t *testing.T) {
	type change struct {
		at time.Duration
		on bool
	}
	const on, off = true, false
	for name, c := range map[string]struct {
		changes []change
		want    string
	}{
		"one brief press":      {[]change{{0, on}, {200 * ms, off}}, "    latching: no # momentary\n"},
		"one slow press":       {[]change{{0, on}, {900 * ms, off}, {2 * time.Second, on}, {2200 * ms, off}}, "    latching: no # momentary\n"},
		"just under the pause": {[]change{{0, on}, {699 * ms, off}}, "    latching: no # momentary\n"},
		"at the pause":         {[]change{{0, on}, {700 * ms, off}}, "    latching: yes # each press was one change\n"},
		"off when pressed":     {[]change{{0, off}, {200 * ms, on}}, "    inverted: yes # momentary, sends off when pressed\n"},
		"a change a press":     {[]change{{0, on}, {time.Second, off}, {2 * time.Second, on}}, "    latching: yes # each press was one change\n"},
		"on once":              {[]change{{0, on}}, "    # momentary or latching: one message does not tell\n"},
		"off once":             {[]change{{0, off}}, "    # momentary or latching: one message does not tell\n"},
		"on each time":         {[]change{{0, on}, {time.Second, on}}, "    # never went under 64: bedd hears only its first press\n"},
		"off each time":        {[]change{{0, off}, {time.Second, off}}, "    # never reached 64: bedd hears no press\n"},
		"the clock goes back":  {[]change{{time.Second, on}, {0, off}}, "    latching: no # momentary\n"},
	} {
		var p presses
		for _, ch := range c.changes {
			p.hear(ch.at, ch.on)
		}
		if got := p.guess(); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

// A switch of any make is pressed as asked, its contacts bounce as Ganssle
// measured (A Guide to Debouncing, 2004: 6.2 ms at the worst), and the feet
// count its presses from then on with what was guessed.
func TestFeetCountWhatWasLearned(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		latching := rapid.Bool().Draw(t, "latching")
		state := rapid.Bool().Draw(t, "on at rest")
		kind := rapid.SampledFrom([]midiio.ControlKind{midiio.Controller, midiio.Pressure}).Draw(t, "kind")
		type timed struct {
			at  time.Duration
			msg []byte
		}
		var sent []timed
		at := time.Duration(0)
		turn := func() {
			state = !state
			for i := range 1 + 2*rapid.IntRange(0, 3).Draw(t, "bounces") {
				value := byte(0)
				if state == (i%2 == 0) {
					value = 127
				}
				msg := []byte{0xB4, 80, value}
				if kind == midiio.Pressure {
					msg = []byte{0xD4, value}
				}
				sent = append(sent, timed{at + time.Duration(i)*ms, msg})
			}
		}
		want := rapid.IntRange(2, 5).Draw(t, "presses")
		for range want {
			at += time.Duration(rapid.IntRange(1000, 5000).Draw(t, "wait ms")) * ms
			turn()
			if !latching {
				at += time.Duration(rapid.IntRange(50, 600).Draw(t, "down ms")) * ms
				turn()
			}
		}
		var l Learner
		for _, s := range sent {
			l.Hear(s.at, s.msg)
		}
		rig, err := ReadRig("r.yaml", filled(&l))
		if err != nil || len(rig.Feet) != 1 {
			t.Fatalf("%v\n%s", err, l.Lines())
		}
		s := rig.Feet[0].Switch
		if s.Latching != latching {
			t.Fatalf("latching %v is taken for %v\n%s", latching, s.Latching, l.Lines())
		}
		feet, err := midiio.NewFeet([]midiio.Switch{s}, rig.Hold)
		if err != nil {
			t.Fatal(err)
		}
		var gestures []midiio.Gesture
		for _, s := range sent {
			gestures, _ = feet.Message(s.at, s.msg, gestures)
		}
		got := len(slices.DeleteFunc(feet.Advance(at+time.Second, gestures), func(g midiio.Gesture) bool { return g.Kind != midiio.Pressed }))
		if got != want {
			t.Fatalf("%d presses are counted, want %d\n%s", got, want, l.Lines())
		}
	})
}
