package gathering

import (
	"slices"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/midiio"

	"pgregory.net/rapid"
)

// filled is what was learned, with a command for each switch and a way to end
// the bed.
func filled(l *Learner) []byte {
	return []byte(strings.ReplaceAll(l.Lines(), "press: # a command, as in step", "press: step") + "keys: {a: step, b: fade}\n")
}

// hearing is what a learner says of messages that come 100 ms apart.
func hearing(l *Learner, messages ...[]byte) (names []string) {
	for i, m := range messages {
		if name := l.Hear(time.Duration(i)*100*ms, m); name != "" {
			names = append(names, name)
		}
	}
	return names
}

func TestLearnARig(t *testing.T) {
	var l Learner
	at := time.Duration(0)
	var names []string
	say := func(after time.Duration, msg ...byte) {
		at += after
		if name := l.Hear(at, msg); name != "" {
			names = append(names, name)
		}
	}
	for range 2 { // pressed twice each
		say(time.Second, 0xB0, 80, 127)
		say(200*ms, 0xB0, 80, 0)
		say(time.Second, 0xB0, 81, 0)
		say(200*ms, 0xB0, 81, 127)
		say(time.Second, 0x94, 22, 100)
		say(200*ms, 0x84, 22, 64)
		say(time.Second, 0xC0, 4)
		say(time.Second, 0xD8, 90)
		say(100*ms, 0xD8, 127)
		say(100*ms, 0xD8, 0)
		say(time.Second, 0xB0, 84, 127)
	}
	say(time.Second, 0xB0, 82, 127)
	say(time.Second, 0xB0, 82, 0)
	say(time.Second, 0xB0, 83, 127)
	for v := 1; v <= 126; v++ {
		say(10*ms, 0xB2, 11, byte(v))
	}
	say(10*ms, 0xB0, 1, 4)
	say(10*ms, 0xB0, 1, 9)
	say(10*ms, 0xB0, 1, 7)

	wantNames := []string{
		"controller 80 on channel 1", "controller 81 on channel 1", "note Bb0 on channel 5", "program 5 on channel 1",
		"pressure on channel 9", "controller 84 on channel 1", "controller 82 on channel 1", "controller 83 on channel 1",
		"controller 11 on channel 3", "controller 1 on channel 1",
	}
	if !slices.Equal(names, wantNames) {
		t.Errorf("names\n%q, want\n%q", names, wantNames)
	}
	const want = `pedal:
  controller: 11
  channel: 3
  heel: 1
  toe: 126 # swap the two if it works backwards
switches:
  - control: controller 80
    channel: 1
    latching: no # momentary
    press: # a command, as in step
  - control: controller 81
    channel: 1
    inverted: yes # momentary, sends off when pressed
    press: # a command, as in step
  - control: note Bb0
    channel: 5
    latching: no # momentary
    press: # a command, as in step
  - control: program 5
    channel: 1
    press: # a command, as in step
  - control: pressure
    channel: 9
    latching: no # momentary
    press: # a command, as in step
  - control: controller 84
    channel: 1
    # never went under 64: bedd hears only its first press
    press: # a command, as in step
  - control: controller 82
    channel: 1
    latching: yes # each press was one change
    press: # a command, as in step
  - control: controller 83
    channel: 1
    # momentary or latching: one message does not tell
    press: # a command, as in step
# controller 1 on channel 1 moves too, 4…9: a rig has one pedal
`
	if got := l.Lines(); got != want {
		t.Errorf("lines\n%s\nwant\n%s", got, want)
	}
	if _, err := ReadRig("r.yaml", []byte(want)); err == nil || !strings.HasPrefix(err.Error(), "r.yaml:10: \"press\" has no value\n") {
		t.Errorf("without commands the rig says %v", err)
	}
	rig, err := ReadRig("r.yaml", filled(&l))
	if err != nil {
		t.Fatal(err)
	}
	step := Order{Command: bed.Step}
	feet := []Foot{
		{Switch: midiio.Switch{Control: midiio.Control{Kind: midiio.Controller, Number: 80}}, Press: step},
		{Switch: midiio.Switch{Control: midiio.Control{Kind: midiio.Controller, Number: 81}, Inverted: true}, Press: step},
		{Switch: midiio.Switch{Control: midiio.Control{Kind: midiio.Note, Channel: 4, Number: 22}}, Press: step},
		{Switch: midiio.Switch{Control: midiio.Control{Kind: midiio.Program, Number: 4}}, Press: step},
		{Switch: midiio.Switch{Control: midiio.Control{Kind: midiio.Pressure, Channel: 8}}, Press: step},
		{Switch: midiio.Switch{Control: midiio.Control{Kind: midiio.Controller, Number: 84}}, Press: step},
		{Switch: midiio.Switch{Control: midiio.Control{Kind: midiio.Controller, Number: 82}, Latching: true}, Press: step},
		{Switch: midiio.Switch{Control: midiio.Control{Kind: midiio.Controller, Number: 83}}, Press: step},
	}
	if !slices.Equal(rig.Feet, feet) {
		t.Errorf("feet are\n%+v, want\n%+v", rig.Feet, feet)
	}
	if p, ends := rig.Pedal, rig.Bed.Pedal; p.Control != (midiio.Control{Channel: 2, Number: 11}) || p.Fine || ends.Heel != 1<<7 || ends.Toe != 126<<7 {
		t.Errorf("the pedal is %+v, %+v", p, ends)
	}
}

func TestLearnNothing(t *testing.T) {
	var l Learner
	names := hearing(&l,
		[]byte{0x80, 60, 0}, []byte{0x90, 60, 0}, []byte{0xA0, 60, 9}, []byte{0xE0, 0, 64}, []byte{0xB0, 120, 0}, []byte{0xB0, 123, 0},
		[]byte{0xF8}, []byte{0xFE}, []byte{0xF0, 1, 2}, []byte{0xC0}, []byte{0xC0, 1, 2}, []byte{0xD0, 200}, []byte{0xB0, 80}, []byte{0xB0, 80, 128}, nil)
	if len(names) > 0 || l.Lines() != "" {
		t.Errorf("%q are learned:\n%s", names, l.Lines())
	}
}

func TestLearnWithoutAPedal(t *testing.T) {
	var l Learner
	hearing(&l, []byte{0xB0, 11, 127}, []byte{0xB0, 11, 0}) // a switch where the default rig has its pedal
	const want = `pedal: none # none was moved
switches:
  - control: controller 11
    channel: 1
    latching: no # momentary
    press: # a command, as in step
`
	if got := l.Lines(); got != want {
		t.Errorf("lines\n%s\nwant\n%s", got, want)
	}
	if rig, err := ReadRig("r.yaml", filled(&l)); err != nil || rig.Pedal.On {
		t.Errorf("the pedal is %+v, %v", rig.Pedal, err)
	}
}

func TestLearnAPedalAlone(t *testing.T) {
	var l Learner
	hearing(&l, []byte{0xB0, 4, 100}, []byte{0xB0, 4, 60}, []byte{0xB0, 4, 20})
	const want = "pedal:\n  controller: 4\n  channel: 1\n  heel: 100\n  toe: 20 # swap the two if it works backwards\n"
	if got := l.Lines(); got != want {
		t.Errorf("lines\n%s\nwant\n%s", got, want)
	}
}

func TestLearnAPedalOfTwoHalves(t *testing.T) {
	var l Learner
	var messages [][]byte
	for raw := 16200; raw >= 150; raw -= 97 {
		messages = append(messages, []byte{0xB0, 4, byte(raw >> 7)}, []byte{0xB0, 36, byte(raw & 127)})
	}
	hearing(&l, messages...)
	const want = "pedal:\n  controller: 4\n  channel: 1\n  bits: 14\n  heel: 16200\n  toe: 195 # swap the two if it works backwards\n"
	if got := l.Lines(); got != want {
		t.Errorf("lines\n%s\nwant\n%s", got, want)
	}
	if _, err := ReadRig("r.yaml", filled(&l)); err != nil {
		t.Error(err)
	}
}

// Lower halves that came before any upper one say nothing: the pedal has seven
// bits.
func TestLearnLowerHalvesAlone(t *testing.T) {
	var l Learner
	hearing(&l, []byte{0xB0, 36, 1}, []byte{0xB0, 36, 2}, []byte{0xB0, 36, 3}, []byte{0xB0, 4, 10}, []byte{0xB0, 4, 60}, []byte{0xB0, 4, 90})
	const want = "pedal:\n  controller: 4\n  channel: 1\n  heel: 10\n  toe: 90 # swap the two if it works backwards\n# controller 36 on channel 1 moves too, 1…3: a rig has one pedal\n"
	if got := l.Lines(); got != want {
		t.Errorf("lines\n%s\nwant\n%s", got, want)
	}
}

// A pedal that rests on its heel is moved to the toe, and perhaps back; it sends
// what changes. Read with what was learned it is at 0 on the heel and at 1 on the
// toe, whichever of them sends more.
func TestLearnedPedalReachesBothEnds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		heel := rapid.IntRange(0, 127).Draw(t, "heel")
		toe := rapid.IntRange(0, 127).Filter(func(v int) bool { return max(v-heel, heel-v) > 40 }).Draw(t, "toe")
		step := rapid.IntRange(1, 5).Draw(t, "step")
		var l Learner
		at, value := time.Duration(0), heel
		moveTo := func(to int) {
			for value != to {
				if value < to {
					value = min(value+step, to)
				} else {
					value = max(value-step, to)
				}
				at += 10 * ms
				l.Hear(at, []byte{0xB0, 11, byte(value)})
			}
		}
		moveTo(toe)
		back := rapid.Bool().Draw(t, "back")
		if back {
			moveTo(heel)
		}
		rig, err := ReadRig("r.yaml", filled(&l))
		if err != nil {
			t.Fatal(err)
		}
		learned := rig.Bed.Pedal
		if got := learned.Position(rig.Pedal.Raw(byte(heel), 0)); got != 0 {
			t.Fatalf("the heel is at %v\n%s", got, l.Lines())
		}
		if got := learned.Position(rig.Pedal.Raw(byte(toe), 0)); got != 1 {
			t.Fatalf("the toe is at %v\n%s", got, l.Lines())
		}
	})
}

// Whatever comes, each control is named once, and the lines are read back
// without a fault.
func TestLearnedLinesAreReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var l Learner
		at := time.Duration(0)
		seen := map[string]bool{}
		for range rapid.IntRange(0, 300).Draw(t, "messages") {
			at += rapid.SampledFrom([]time.Duration{-ms, 0, 3 * ms, 200 * ms, time.Second}).Draw(t, "gap")
			var msg []byte
			if rapid.Bool().Draw(t, "likely") {
				msg = []byte{rapid.SampledFrom([]byte{0xB0, 0xB1, 0x90, 0x80, 0xBF}).Draw(t, "status"), rapid.SampledFrom([]byte{4, 36, 80, 119}).Draw(t, "number"), rapid.ByteRange(0, 127).Draw(t, "value")}
			} else {
				msg = rapid.SliceOfN(rapid.Byte(), 0, 4).Draw(t, "bytes")
			}
			if name := l.Hear(at, msg); name != "" {
				if seen[name] {
					t.Fatalf("%s is named again", name)
				}
				seen[name] = true
			}
		}
		lines := l.Lines()
		if (lines == "") != (len(seen) == 0) {
			t.Fatalf("%d controls give %q", len(seen), lines)
		}
		if lines != l.Lines() {
			t.Fatal("the lines differ when asked for again")
		}
		if _, err := ReadRig("r.yaml", filled(&l)); err != nil {
			t.Fatalf("%v\n%s", err, lines)
		}
	})
}

// Every number of every kind is written as the rig reads it.
func TestLearnEveryControl(t *testing.T) {
	for kind := midiio.Controller; kind <= midiio.Pressure; kind++ {
		for number := range byte(128) {
			msg := map[midiio.ControlKind][]byte{
				midiio.Controller: {0xBF, number, 127}, midiio.Note: {0x9F, number, 1},
				midiio.Program: {0xCF, number}, midiio.Pressure: {0xDF, number},
			}[kind]
			want := midiio.Control{Kind: kind, Channel: 15, Number: number}
			switch {
			case kind == midiio.Controller && number > lastController:
				continue
			case kind == midiio.Pressure:
				want.Number = 0
			}
			var l Learner
			l.Hear(0, msg)
			rig, err := ReadRig("r.yaml", filled(&l))
			if err != nil || len(rig.Feet) != 1 || rig.Feet[0].Switch.Control != want {
				t.Fatalf("%v is read back as %+v, %v", want, rig.Feet, err)
			}
		}
	}
}

func TestLearnMoreThanARigReads(t *testing.T) {
	for _, n := range []int{64, 65, 100} {
		var l Learner
		for i := range n {
			l.Hear(time.Duration(i)*time.Second, []byte{0x90, byte(i), 90})
		}
		lines := l.Lines()
		const more = "# more controls came than the 64 switches that a rig reads\n"
		if got := strings.Count(lines, "control:"); got != 64 || strings.HasSuffix(lines, more) != (n > 64) {
			t.Errorf("%d controls: %d switches\n%s", n, got, lines)
		}
		if _, err := ReadRig("r.yaml", filled(&l)); err != nil {
			t.Error(err)
		}
	}
}
