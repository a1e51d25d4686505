package midiio

import (
	"fmt"
	"reflect"
	"slices"
	"sort"
	"testing"
	"time"

	"pgregory.net/rapid"
)

const (
	ms       = time.Millisecond
	longHold = 700 * ms
)

func cc(number, value byte) []byte { return []byte{0xB0, number, value} }

func newFeet(t testing.TB, switches ...Switch) *Feet {
	t.Helper()
	f, err := NewFeet(switches, longHold)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// foot is a momentary switch on a controller of any channel.
func foot(number uint8) Switch {
	return Switch{Control: Control{Kind: Controller, Channel: -1, Number: number}}
}

// step is a message at a time, or only the passing of time where msg is nil.
type step struct {
	at  time.Duration
	msg []byte
}

func run(f *Feet, steps []step) []Gesture {
	var out []Gesture
	for _, s := range steps {
		if s.msg == nil {
			out = f.Advance(s.at, out)
		} else {
			out, _ = f.Message(s.at, s.msg, out)
		}
	}
	return out
}

func TestFeet(t *testing.T) {
	latching, inverted := foot(80), foot(80)
	latching.Latching, inverted.Inverted = true, true
	note := Switch{Control: Control{Kind: Note, Channel: 0, Number: 36}}
	page := Switch{Control: Control{Kind: Program, Channel: -1, Number: 5}}
	pressure := Switch{Control: Control{Kind: Pressure, Channel: 0}}
	latchingPressure, invertedPressure := pressure, pressure
	latchingPressure.Latching, invertedPressure.Inverted = true, true
	on, off := cc(80, 127), cc(80, 0)
	for _, c := range []struct {
		name string
		s    Switch
		in   []step
		want []Gesture
	}{
		{"press and release", foot(80), []step{{10 * ms, on}, {210 * ms, off}, {5000 * ms, nil}},
			[]Gesture{{10 * ms, 0, Pressed}, {210 * ms, 0, Released}}},
		{"at the thresholds", foot(80), []step{{0, cc(80, 63)}, {1 * ms, cc(80, 64)}, {100 * ms, cc(80, 63)}},
			[]Gesture{{1 * ms, 0, Pressed}, {100 * ms, 0, Released}}},
		{"a first off is nothing", foot(80), []step{{0, off}, {5000 * ms, nil}}, nil},
		{"a second on is nothing", foot(80), []step{{0, on}, {100 * ms, on}, {200 * ms, off}},
			[]Gesture{{0, 0, Pressed}, {200 * ms, 0, Released}}},
		{"held", foot(80), []step{{10 * ms, on}, {9000 * ms, nil}, {9000 * ms, off}},
			[]Gesture{{10 * ms, 0, Pressed}, {710 * ms, 0, Held}, {9000 * ms, 0, Released}}},
		{"held, seen by the release", foot(80), []step{{10 * ms, on}, {711 * ms, off}},
			[]Gesture{{10 * ms, 0, Pressed}, {710 * ms, 0, Held}, {711 * ms, 0, Released}}},
		{"released just as it would be held", foot(80), []step{{10 * ms, on}, {710 * ms, off}, {710 * ms, nil}},
			[]Gesture{{10 * ms, 0, Pressed}, {710 * ms, 0, Released}}},
		{"bounce after a press", foot(80), []step{{0, on}, {1 * ms, off}, {2 * ms, on}, {300 * ms, nil}},
			[]Gesture{{0, 0, Pressed}}},
		{"bounce after a release", foot(80), []step{{0, on}, {100 * ms, off}, {103 * ms, on}, {106 * ms, off}, {900 * ms, nil}},
			[]Gesture{{0, 0, Pressed}, {100 * ms, 0, Released}}},
		{"a tap shorter than bounce ends when it may", foot(80), []step{{0, on}, {20 * ms, off}, {300 * ms, nil}},
			[]Gesture{{0, 0, Pressed}, {40 * ms, 0, Released}}},
		{"at 40 ms it is no bounce", foot(80), []step{{0, on}, {40 * ms, off}},
			[]Gesture{{0, 0, Pressed}, {40 * ms, 0, Released}}},
		{"settled by a message at 40 ms", foot(80), []step{{0, on}, {20 * ms, off}, {40 * ms, on}, {60 * ms, nil}},
			[]Gesture{{0, 0, Pressed}}},
		{"what settled starts a window of its own", foot(80), []step{{0, on}, {20 * ms, off}, {50 * ms, on}, {900 * ms, nil}},
			[]Gesture{{0, 0, Pressed}, {40 * ms, 0, Released}, {80 * ms, 0, Pressed}, {780 * ms, 0, Held}}},
		{"the clock goes back", foot(80), []step{{500 * ms, on}, {100 * ms, off}, {200 * ms, nil}, {540 * ms, nil}},
			[]Gesture{{500 * ms, 0, Pressed}, {540 * ms, 0, Released}}},
		{"inverted", inverted, []step{{0, on}, {100 * ms, off}, {200 * ms, on}},
			[]Gesture{{100 * ms, 0, Pressed}, {200 * ms, 0, Released}}},
		{"latching", latching, []step{{0, on}, {1000 * ms, off}, {3000 * ms, on}, {9000 * ms, nil}},
			[]Gesture{{0, 0, Pressed}, {1000 * ms, 0, Pressed}, {3000 * ms, 0, Pressed}}},
		{"latching, first off", latching, []step{{0, off}, {1000 * ms, on}},
			[]Gesture{{0, 0, Pressed}, {1000 * ms, 0, Pressed}}},
		{"latching, bounce", latching, []step{{0, on}, {3 * ms, off}, {5 * ms, on}, {1000 * ms, off}, {1001 * ms, on}, {1006 * ms, off}, {2000 * ms, nil}},
			[]Gesture{{0, 0, Pressed}, {1000 * ms, 0, Pressed}}},
		{"note", note, []step{{0, []byte{0x90, 36, 1}}, {100 * ms, []byte{0x90, 36, 0}}, {200 * ms, []byte{0x90, 36, 90}}, {300 * ms, []byte{0x80, 36, 64}}},
			[]Gesture{{0, 0, Pressed}, {100 * ms, 0, Released}, {200 * ms, 0, Pressed}, {300 * ms, 0, Released}}},
		{"pressure on a note is no release", note, []step{{0, []byte{0x90, 36, 1}}, {100 * ms, []byte{0xA0, 36, 50}}, {300 * ms, nil}},
			[]Gesture{{0, 0, Pressed}}},
		{"program", page, []step{{0, []byte{0xC3, 5}}, {39 * ms, []byte{0xC3, 5}}, {40 * ms, []byte{0xC3, 5}}, {5000 * ms, nil}},
			[]Gesture{{0, 0, Pressed}, {40 * ms, 0, Pressed}}},
		{"pressure at the thresholds", pressure, []step{{0, []byte{0xD0, 63}}, {1 * ms, []byte{0xD0, 64}}, {50 * ms, []byte{0xD0, 127}}, {100 * ms, []byte{0xD0, 63}}, {150 * ms, []byte{0xD0, 0}}},
			[]Gesture{{1 * ms, 0, Pressed}, {100 * ms, 0, Released}}},
		{"pressure held", pressure, []step{{0, []byte{0xD0, 90}}, {690 * ms, []byte{0xD0, 80}}, {900 * ms, []byte{0xD0, 0}}},
			[]Gesture{{0, 0, Pressed}, {700 * ms, 0, Held}, {900 * ms, 0, Released}}},
		{"pressure, bounce", pressure, []step{{0, []byte{0xD0, 64}}, {2 * ms, []byte{0xD0, 0}}, {5 * ms, []byte{0xD0, 127}}, {300 * ms, []byte{0xD0, 0}}},
			[]Gesture{{0, 0, Pressed}, {300 * ms, 0, Released}}},
		{"pressure, latching", latchingPressure, []step{{0, []byte{0xD0, 127}}, {1000 * ms, []byte{0xD0, 0}}, {3000 * ms, nil}},
			[]Gesture{{0, 0, Pressed}, {1000 * ms, 0, Pressed}}},
		{"pressure, inverted", invertedPressure, []step{{0, []byte{0xD0, 127}}, {100 * ms, []byte{0xD0, 0}}, {200 * ms, []byte{0xD0, 127}}},
			[]Gesture{{100 * ms, 0, Pressed}, {200 * ms, 0, Released}}},
		{"pressure of another channel", pressure, []step{{0, []byte{0xD1, 127}}}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := run(newFeet(t, c.s), c.in); !slices.Equal(got, c.want) {
				t.Errorf("gestures %v\nwant     %v", got, c.want)
			}
		})
	}
}

// Gestures of several switches come in order of time, at equal times in order
// of switches.
func TestFeetOrder(t *testing.T) {
	f := newFeet(t, foot(80), foot(81), foot(82))
	got := run(f, []step{
		{0, cc(81, 127)}, {0, cc(80, 127)}, {660 * ms, cc(82, 127)}, {670 * ms, cc(82, 0)}, {2000 * ms, nil},
	})
	want := []Gesture{
		{0, 1, Pressed}, {0, 0, Pressed}, {660 * ms, 2, Pressed},
		{700 * ms, 0, Held}, {700 * ms, 1, Held}, {700 * ms, 2, Released},
	}
	if !slices.Equal(got, want) {
		t.Errorf("gestures %v\nwant     %v", got, want)
	}
}

// A message from the past counts as of now, whichever switch it is from.
func TestFeetStandStill(t *testing.T) {
	f := newFeet(t, foot(80), foot(81))
	got := run(f, []step{{500 * ms, cc(80, 127)}, {100 * ms, cc(81, 127)}, {-1 * ms, nil}, {1200 * ms, nil}})
	want := []Gesture{{500 * ms, 0, Pressed}, {500 * ms, 1, Pressed}, {1200 * ms, 0, Held}, {1200 * ms, 1, Held}}
	if !slices.Equal(got, want) {
		t.Errorf("gestures %v\nwant     %v", got, want)
	}
}

func TestFeetDeadline(t *testing.T) {
	f := newFeet(t, foot(80), foot(81))
	expect := func(want time.Duration, wantOK bool) {
		t.Helper()
		if at, ok := f.Deadline(); at != want || ok != wantOK {
			t.Errorf("deadline %v, %v, want %v, %v", at, ok, want, wantOK)
		}
	}
	expect(0, false)
	run(f, []step{{100 * ms, cc(80, 127)}})
	expect(800*ms, true)
	run(f, []step{{110 * ms, cc(80, 0)}})
	expect(140*ms, true)
	run(f, []step{{120 * ms, cc(80, 127)}, {750 * ms, cc(81, 127)}})
	expect(800*ms, true)
	run(f, []step{{800 * ms, nil}})
	expect(1450*ms, true)
	run(f, []step{{9000 * ms, nil}})
	expect(0, false)
}

// What belongs to a switch is used, the other messages of its key included.
func TestFeetUses(t *testing.T) {
	f := newFeet(t,
		Switch{Control: Control{Controller, -1, 80}},
		Switch{Control: Control{Controller, 2, 64}},
		Switch{Control: Control{Note, 0, 36}},
		Switch{Control: Control{Program, 1, 7}},
		Switch{Control: Control{Pressure, 3, 0}})
	for _, c := range []struct {
		msg  []byte
		used bool
	}{
		{[]byte{0xB0, 80, 127}, true}, {[]byte{0xBF, 80, 0}, true}, {[]byte{0xB0, 81, 0}, false},
		{[]byte{0xB2, 64, 5}, true}, {[]byte{0xB1, 64, 5}, false},
		{[]byte{0x90, 36, 5}, true}, {[]byte{0x90, 36, 0}, true}, {[]byte{0x80, 36, 0}, true}, {[]byte{0xA0, 36, 9}, true},
		{[]byte{0x91, 36, 5}, false}, {[]byte{0x90, 37, 5}, false},
		{[]byte{0xC1, 7}, true}, {[]byte{0xC1, 8}, false}, {[]byte{0xC0, 7}, false},
		{[]byte{0xD3, 36}, true}, {[]byte{0xD3, 0}, true}, {[]byte{0xD4, 36}, false}, {[]byte{0xD3}, false}, {[]byte{0xD3, 36, 0}, false},
		{[]byte{0xE0, 80, 64}, false}, {[]byte{0xD0, 36}, false}, {[]byte{0xF8}, false},
		{[]byte{0xF0, 80, 0xF7}, false}, {[]byte{0xB0, 80}, false}, {nil, false},
	} {
		if _, used := f.Message(0, c.msg, nil); used != c.used {
			t.Errorf("% X used: %v, want %v", c.msg, used, c.used)
		}
	}
}

func TestNewFeetRefuses(t *testing.T) {
	page := Switch{Control: Control{Program, 0, 1}, Latching: true}
	for _, c := range []struct {
		switches []Switch
		hold     time.Duration
		err      string
	}{
		{nil, 40 * ms, "a hold time of 40ms is too short: more than 40ms is accepted"},
		{make([]Switch, 65), longHold, "65 switches are more than the 64 accepted"},
		{[]Switch{foot(80), foot(120)}, longHold, "switch 2: controller 120 is out of range 0…119"},
		{[]Switch{{Control: Control{Note, 0, 128}}}, longHold, "switch 1: note 128 is out of range 0…127"},
		{[]Switch{{Control: Control{Note, 16, 1}}}, longHold, "switch 1: channel 17 is out of range 1…16"},
		{[]Switch{{Control: Control{Note, -2, 1}}}, longHold, "switch 1: channel -1 is out of range 1…16"},
		{[]Switch{{Control: Control{4, 0, 1}}}, longHold, "switch 1: control kind 4 is none of controller, note, program, pressure"},
		{[]Switch{{Control: Control{Pressure, 0, 7}}}, longHold, "switch 1: pressure has no number: it must be 0, not 7"},
		{[]Switch{{Control: Control{Pressure, -1, 0}}, {Control: Control{Pressure, 4, 0}}}, longHold,
			"switch 2: pressure on channel 5 is already switch 1 (pressure on any channel)"},
		{[]Switch{page}, longHold, "switch 1: program 1 on channel 1 can be neither latching nor inverted"},
		{[]Switch{foot(80), foot(81), {Control: Control{Controller, 4, 80}}}, longHold,
			"switch 3: controller 80 on channel 5 is already switch 1 (controller 80 on any channel)"},
		{[]Switch{{Control: Control{Controller, 4, 80}}, foot(80)}, longHold,
			"switch 2: controller 80 on any channel is already switch 1 (controller 80 on channel 5)"},
	} {
		if _, err := NewFeet(c.switches, c.hold); err == nil || err.Error() != c.err {
			t.Errorf("error %v\nwant  %s", err, c.err)
		}
	}
}

func TestFeetNames(t *testing.T) {
	got := fmt.Sprint(Controller, Note, Program, Pressure, ControlKind(9), Pressed, Held, Released, GestureKind(0))
	if want := "controller note program pressure control kind 9 pressed held released gesture kind 0"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

func TestFeetAllocateNothing(t *testing.T) {
	f := newFeet(t, foot(80), foot(81))
	out, at := make([]Gesture, 0, 8), time.Duration(0)
	on, off := cc(80, 127), cc(80, 0)
	if n := testing.AllocsPerRun(1000, func() {
		out, _ = f.Message(at, on, out[:0])
		out = f.Advance(at+900*ms, out)
		out, _ = f.Message(at+1000*ms, off, out)
		f.Deadline()
		at += 2000 * ms
		if len(out) != 3 {
			t.Fatalf("gestures %v", out)
		}
	}); n != 0 {
		t.Errorf("%v allocations a press, want 0", n)
	}
}

// edge is a change of one switch's contact.
type edge struct {
	at time.Duration
	s  int
	on bool
}

// Real changes at least 50 ms apart, each followed by bounce, give exactly the
// real presses. Bounce as Ganssle measured it (A Guide to Debouncing, 2004): 1.6 ms
// in the mean, 6.2 ms at the worst.
func TestFeetSeeThroughBounce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := foot(80)
		s.Inverted = rapid.Bool().Draw(t, "inverted")
		f := newFeetRapid(t, s)
		var steps []step
		var want []Gesture
		at, down, pressed := time.Duration(0), false, time.Duration(0)
		say := func(at time.Duration, down bool) {
			value := byte(0)
			if down != s.Inverted {
				value = 127
			}
			steps = append(steps, step{at, cc(80, value)})
		}
		for range rapid.IntRange(1, 12).Draw(t, "changes") {
			at += 50*ms + time.Duration(rapid.IntRange(0, 1_500_000).Draw(t, "gap µs"))*time.Microsecond
			if down && at-pressed > longHold {
				want = append(want, Gesture{pressed + longHold, 0, Held})
			}
			down = !down
			if down {
				pressed = at
				want = append(want, Gesture{at, 0, Pressed})
			} else {
				want = append(want, Gesture{at, 0, Released})
			}
			say(at, down)
			longest := rapid.SampledFrom([]int{0, 1600, 6200}).Draw(t, "bounce µs")
			times := rapid.SliceOfN(rapid.IntRange(0, longest), 0, 8).Draw(t, "bounces")
			sort.Ints(times)
			for i, after := range times[:len(times)/2*2] { // it settles where it should
				say(at+time.Duration(after)*time.Microsecond, down == (i%2 == 1))
			}
		}
		end := at + rapid.SampledFrom([]time.Duration{45 * ms, 900 * ms}).Draw(t, "rest")
		if down && end-pressed >= longHold {
			want = append(want, Gesture{pressed + longHold, 0, Held})
		}
		if got := run(f, append(steps, step{at: end})); !slices.Equal(got, want) {
			t.Fatalf("gestures %v\nwant     %v", got, want)
		}
	})
}

func newFeetRapid(t *rapid.T, switches ...Switch) *Feet {
	f, err := NewFeet(switches, longHold)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// walkMilliseconds is the naive model: it looks at every switch each ms.
func walkMilliseconds(switches []Switch, edges []edge, end time.Duration) []Gesture {
	type state struct {
		raw, down, seen bool
		changed         time.Duration
		held            bool
	}
	states := make([]state, len(switches))
	var out []Gesture
	for at := time.Duration(0); at <= end; at += ms {
		accept := func(i int) {
			s := &states[i]
			s.down, s.seen, s.changed, s.held = s.raw, true, at, false
			kind := Pressed
			if !s.down && !switches[i].Latching {
				kind = Released
			}
			out = append(out, Gesture{at, i, kind})
		}
		for _, e := range edges { // messages first, in their order
			if e.at != at {
				continue
			}
			s := &states[e.s]
			s.raw = e.on != switches[e.s].Inverted
			if first := switches[e.s].Latching && !s.seen; first || s.raw != s.down && (!s.seen || at-s.changed >= 40*ms) {
				accept(e.s)
			}
		}
		for i := range states {
			s := &states[i]
			if s.seen && s.raw != s.down && at-s.changed >= 40*ms {
				accept(i)
			} else if s.down && !s.held && !switches[i].Latching && at-s.changed >= longHold {
				s.held = true
				out = append(out, Gesture{at, i, Held})
			}
		}
	}
	return out
}

// Any edges at all, on any switches: the same gestures as the naive model,
// however the time between them is cut up.
func TestFeetAgainstModel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		switches := make([]Switch, rapid.IntRange(1, 3).Draw(t, "switches"))
		for i := range switches {
			switches[i] = foot(uint8(80 + i))
			if rapid.Bool().Draw(t, "pressure") {
				switches[i].Control = Control{Kind: Pressure, Channel: int8(i)}
			}
			switches[i].Latching = rapid.Bool().Draw(t, "latching")
			switches[i].Inverted = rapid.Bool().Draw(t, "inverted")
		}
		var edges []edge
		at := time.Duration(0)
		for range rapid.IntRange(0, 25).Draw(t, "edges") {
			at += rapid.SampledFrom([]time.Duration{0, 1 * ms, 5 * ms, 20 * ms, 39 * ms, 40 * ms, 41 * ms, 300 * ms, 700 * ms, 740 * ms}).Draw(t, "gap")
			edges = append(edges, edge{at, rapid.IntRange(0, len(switches)-1).Draw(t, "switch"), rapid.Bool().Draw(t, "on")})
		}
		end := at + 800*ms
		want := walkMilliseconds(switches, edges, end)

		f, got := newFeetRapid(t, switches...), []Gesture(nil)
		now := time.Duration(0)
		advance := func(to time.Duration) { // in cuts, and never up to the next message's time
			for range rapid.IntRange(0, 3).Draw(t, "cuts") {
				if to <= now {
					return
				}
				now += time.Duration(rapid.Int64Range(0, int64(to-now)-1).Draw(t, "cut"))
				got = f.Advance(now, got)
			}
		}
		for _, e := range edges {
			advance(e.at)
			value := rapid.ByteRange(0, 63).Draw(t, "value")
			if e.on {
				value += 64
			}
			msg := cc(uint8(80+e.s), value)
			if switches[e.s].Kind == Pressure {
				msg = []byte{0xD0 | byte(e.s), value}
			}
			got, _ = f.Message(e.at, msg, got)
			now = e.at
		}
		advance(end)
		for { // as a driver does: woken at each deadline
			due, ok := f.Deadline()
			if !ok || due > end {
				break
			}
			got = f.Advance(due, got)
		}
		got = f.Advance(end, got)
		if len(got) == 0 && len(want) == 0 {
			return
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("gestures %v\nwant     %v", got, want)
		}
	})
}
