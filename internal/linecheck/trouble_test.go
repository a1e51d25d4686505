package linecheck

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"
)

// ordinary is gear without a fault.
func ordinary(seed uint64) *made {
	return &made{
		r: rand.New(rand.NewPCG(seed, 2)), together: true,
		keys:  &keyboard{zone: -1},
		left:  &box{in: 1, number: 80, sends: "controller"},
		right: &box{in: 1, number: 81, sends: "controller"},
		pedal: &rocker{in: 1, number: 11, high: 1},
	}
}

// Each fault of a stage is told, in words that name it, with what to do, while an
// ordinary stage is told of nothing.
func TestTroublesAreTold(t *testing.T) {
	for _, c := range []struct {
		name string
		with func(*made)
		says string // "" for nothing
	}{
		{"ordinary", func(*made) {}, ""},
		{"aftertouch, damper and wheel", func(m *made) { m.keys.aftertouch, m.keys.damper, m.keys.wheel = true, true, true }, ""},
		{"transposed", func(m *made) { m.keys.transpose = 2 }, "transposes: middle C arrives 2 semitones higher"},
		{"an octave low", func(m *made) { m.keys.transpose = -12 }, "12 semitones lower"},
		{"two zones", func(m *made) { m.keys.zone = 3 }, "on the channels 1 and 4 at once"},
		{"inverted", func(m *made) { m.left.inverted = true }, "left switch works the wrong way round"},
		{"latching", func(m *made) { m.right.latching = true }, "right switch stays where it is put"},
		{"bouncing", func(m *made) { m.left.bounce = 30 * ms }, "bounces for"},
		{"two messages a press", func(m *made) { m.left.also = "program" }, "the same press also sends program 81 on channel 1"},
		{"backwards pedal", func(m *made) { m.pedal.backwards = true }, "works backwards"},
		{"short pedal", func(m *made) { m.pedal.low, m.pedal.high = 0.2, 0.8 }, "moves between 25 and 10"},
		{"volume pedal", func(m *made) { m.pedal.number = 7 }, "controller 7 on channel 1, which synths take"},
		{"chatter", func(m *made) { m.pedal.chatter = 0.02 }, "moves by itself"},
		{"restless pedal", func(m *made) { m.pedal.low, m.pedal.high, m.pedal.chatter = 0.2, 0.6, 0.06 }, "wanders by"},
	} {
		t.Run(c.name, func(t *testing.T) {
			for seed := range uint64(8) {
				m := ordinary(seed)
				c.with(m)
				found := newWalk(t, m, Rest, Piano, Left, Right, Foot).through()
				told := false
				for _, x := range found.Troubles {
					told = told || strings.Contains(x.Text, c.says)
					if x.Cure == "" || !slices.Contains(Steps, x.Step) {
						t.Errorf("%+v lacks a cure or a step", x)
					}
				}
				if c.says == "" && len(found.Troubles) > 0 || !told && c.says != "" {
					t.Fatalf("told %+v", found.Troubles)
				}
				if len(found.Feet) != 2 || found.Pedal == nil {
					t.Fatalf("found %+v", found)
				}
			}
		})
	}
}

// asked walks to a step with ordinary gear and gives the check, after which arrives what
// the test sends.
func asked(t *testing.T, step Step) *walk {
	t.Helper()
	w := newWalk(t, ordinary(1), Rest, Piano, Left, Right, Foot)
	for w.c.Prompt().Step != step {
		do(w, w.c.Prompt())
		if w.now > time.Minute*3 {
			t.Fatalf("no step %s", step)
		}
	}
	w.m.together = false
	return w
}

// What cannot become a switch or pedal keeps the step open, with the reason.
func TestWhatNothingCanBeLearnedFrom(t *testing.T) {
	for _, c := range []struct {
		name  string
		step  Step
		plays func(w *walk, at time.Duration)
		says  string
	}{
		{"nothing", Left, func(*walk, time.Duration) {}, "nothing of the kind has arrived"},
		{"on at every press", Left, func(w *walk, at time.Duration) {
			w.m.put(at, 1, 0xB0, 80, 127)
			w.m.put(at+time.Second, 1, 0xB0, 80, 127)
		}, "sends on at every press and never off"},
		{"never 64", Left, func(w *walk, at time.Duration) {
			for i := range time.Duration(2) {
				w.m.put(at+i*time.Second, 1, 0xB0, 80, 50)
				w.m.put(at+i*time.Second+200*ms, 1, 0xB0, 80, 0)
			}
		}, "reaches 50 only"},
		{"a list of programs", Left, func(w *walk, at time.Duration) {
			w.m.put(at, 1, 0xC0, 1)
			w.m.put(at+time.Second, 1, 0xC0, 2)
		}, "each press sends another program from Board"},
		{"the left one again", Right, func(w *walk, at time.Duration) {
			w.m.tread(at, w.m.left, 100*ms)
			w.m.tread(at+time.Second, w.m.left, 100*ms)
		}, "this is what the left switch sends"},
		{"bends", Foot, func(w *walk, at time.Duration) {
			for i := range 256 {
				w.m.put(at+time.Duration(i)*8*ms, 1, 0xE0, 0, byte(min(i, 255-i)))
			}
		}, "pedal sends pitch bend, from Board"},
		{"pressure", Foot, func(w *walk, at time.Duration) {
			for i := range 256 {
				w.m.put(at+time.Duration(i)*8*ms, 1, 0xD0, byte(min(i, 255-i)))
			}
		}, "pedal sends channel pressure (aftertouch), from Board"},
		{"a switch in the pedal's place", Foot, func(w *walk, at time.Duration) {
			w.m.put(at, 1, 0xB0, 11, 127)
			w.m.put(at+400*ms, 1, 0xB0, 11, 0)
		}, "what you moved only switches (controller 11 on channel 1)"},
		{"no way back", Foot, func(w *walk, at time.Duration) { w.m.rocks(at, time.Second, 1) }, "has not come back to the heel"},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := asked(t, c.step)
			c.plays(w, w.now+100*ms)
			w.passes(15 * time.Second)
			p := w.c.Prompt()
			if p.Step != c.step || len(p.Troubles) == 0 || !strings.Contains(p.Troubles[len(p.Troubles)-1].Text, c.says) {
				t.Fatalf("step %s: %+v", p.Step, p.Troubles)
			}
			w.m.pedal.at = 0
			w.c.Answer(w.now, Again) // and then it is done right
			do(w, w.c.Prompt())
			w.passes(time.Second)
			if w.c.Prompt().Step == c.step {
				t.Errorf("still at %s: %+v", c.step, w.c.Prompt())
			}
		})
	}
}

// Keys that arrive on two inputs, and a control that two devices send, are told.
func TestTwoOfOneKindAreTold(t *testing.T) {
	w := newWalk(t, ordinary(3), Rest, Piano)
	w.m.together = false
	w.passes(5 * time.Second)
	w.m.put(w.now, 0, 0x90, 60, 80)
	w.m.put(w.now+3*ms, 1, 0x90, 60, 80)
	w.passes(time.Second)
	if p := w.c.Prompt(); len(p.Troubles) != 1 || !strings.Contains(p.Troubles[0].Text, "twice, from Stage and from Board") {
		t.Errorf("%+v", p.Troubles)
	}
	m := ordinary(4)
	w = newWalk(t, m, Rest, Piano, Left)
	for w.c.Prompt().Step != Left {
		do(w, w.c.Prompt())
	}
	m.put(w.now+50*ms, 0, 0xB0, 80, 3) // the keyboard has a control of that number too
	m.put(w.now+60*ms, 0, 0xB0, 80, 9)
	w.presses(m.left, 2)
	w.passes(2 * time.Second)
	if f := w.c.Found(); len(f.Feet) != 1 || len(f.Troubles) != 1 || !strings.Contains(f.Troubles[0].Text, "two devices send controller 80 on channel 1: Board and Stage") {
		t.Errorf("%+v", f)
	}
}

// Switches of every kind are the player's own words in the rig: without the right one
// the left does both, and what can only press has no hold.
func TestRigOfFewFeet(t *testing.T) {
	foot := func(s Step, kind string, number int, latching bool) Switch {
		return Switch{Step: s, Control: Control{Input: "Board", Kind: kind, Number: number, Channel: 1}, Latching: latching}
	}
	for _, c := range []struct {
		feet []Switch
		want []string
	}{
		{[]Switch{foot(Left, "controller", 80, false)}, []string{"tap: step", "hold: arm", "arms: [swap, land, fade]"}},
		{[]Switch{foot(Left, "controller", 80, false), {Step: Right, Control: Control{Input: "Board", Kind: "controller", Number: 80, Channel: 3}}}, []string{"channel: 3", "warm: {channel: 2}", "air: {channel: 4}"}},
		{[]Switch{foot(Left, "program", 3, false)}, []string{"press: step", "arms: [swap, land, fade]"}},
		{[]Switch{foot(Left, "note", 21, false), foot(Right, "pressure", 0, false)}, []string{"control: note A0", "control: pressure", "hold: fade", "arms: [swap, land]"}},
		{[]Switch{foot(Left, "controller", 80, true), foot(Right, "controller", 81, true), foot(More, "controller", 82, false), foot(More, "controller", 83, false)},
			[]string{"latching: yes", "press: stay", "press: out-now", "hold: all-notes-off", "arms: [swap, land, fade]"}},
	} {
		text := Found{Feet: c.feet, Keys: &Keys{Input: "Stage", Channel: 1, Channels: []int{1}}}.Rig("few")
		for _, want := range c.want {
			if !strings.Contains(text, want) {
				t.Errorf("%+v: no %q in\n%s", c.feet, want, text)
			}
		}
	}
}

// Further switches get what the step says, each its own; the same switch again gets
// nothing.
func TestFurtherSwitches(t *testing.T) {
	m := ordinary(9)
	w := newWalk(t, m, Rest, Piano, Left, Right, More)
	for w.c.Prompt().Step != More {
		do(w, w.c.Prompt())
	}
	for _, b := range []*box{{in: 1, number: 82, sends: "controller"}, {in: 1, number: 3, sends: "program"}, m.left} {
		w.presses(b, 2)
		w.passes(2 * time.Second)
	}
	if p := w.c.Prompt(); len(p.Troubles) != 1 || !strings.Contains(p.Troubles[0].Text, "what the left switch sends") {
		t.Errorf("%+v", p.Troubles)
	}
	w.c.Answer(w.now, Yes)
	f := w.c.Found()
	if len(f.Feet) != 4 || f.Feet[2].Number != 82 || f.Feet[3].Kind != "program" || !w.c.Over() {
		t.Fatalf("%+v", f.Feet)
	}
	text := f.Rig("four")
	for _, want := range []string{"press: stay", "control: program 4\n    channel: 1\n    press: out-now\n"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
}
