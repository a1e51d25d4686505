package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/linecheck"
	"bedd/internal/midiio"
	"bedd/internal/midiio/porttest"
	"bedd/internal/soundcheck"
)

// obedient is a player who does what the prompts say, with a keyboard and a foot board.
type obedient struct {
	machine                *porttest.System
	stage, board, module   midiio.PortInfo
	given                  chan linecheck.Answer
	seen                   map[string]bool
	prompts                []linecheck.Prompt
	quitAt                 linecheck.Step
	acting                 sync.WaitGroup
	over, turn             chan struct{}
	sentAtQuestion, passed int
}

func (o *obedient) answers() <-chan linecheck.Answer { return o.given }
func (o *obedient) close()                           {}

func (o *obedient) show(p linecheck.Prompt) {
	key := fmt.Sprint(p.Number, p.Big, p.Say[:min(len(p.Say), 1)])
	if o.seen[key] || p.Over {
		return
	}
	o.seen[key] = true
	o.prompts = append(o.prompts, p)
	o.acting.Go(func() {
		o.turn <- struct{}{} // one thing at a time
		o.does(p)
		<-o.turn
	})
}

func (o *obedient) says(a linecheck.Answer) {
	select {
	case o.given <- a:
	case <-o.over:
	}
}

// tread presses a switch of the board.
func (o *obedient) tread(number byte, times int) {
	for range times {
		o.machine.Play(o.board, 0xB0, number, 127)
		time.Sleep(200 * time.Millisecond)
		o.machine.Play(o.board, 0xB0, number, 0)
		time.Sleep(900 * time.Millisecond)
	}
}

func (o *obedient) plays() {
	for _, n := range []byte{48, 55, 60, 64} {
		o.machine.Play(o.stage, 0x90, n, 70)
		time.Sleep(100 * time.Millisecond)
		o.machine.Play(o.stage, 0x80, n, 64)
	}
}

func (o *obedient) does(p linecheck.Prompt) {
	time.Sleep(300 * time.Millisecond)
	if p.Step == o.quitAt {
		close(o.given)
		return
	}
	switch p.Step {
	case linecheck.Piano:
		if p.Big == "middle C" {
			o.machine.Play(o.stage, 0x90, 60, 70)
			o.machine.Play(o.stage, 0x80, 60, 64)
		} else {
			o.plays()
		}
	case linecheck.Left:
		o.tread(80, 2)
	case linecheck.Right:
		o.tread(81, 2)
	case linecheck.More:
		o.says(linecheck.Yes)
	case linecheck.Foot:
		for v := range 255 {
			o.machine.Play(o.board, 0xB0, 11, byte(min(v, 254-v)))
			time.Sleep(10 * time.Millisecond)
		}
	case linecheck.Synth:
		if strings.Contains(p.Say[0], "A soft note on Stage") { // the keyboard's own sound is switched off
			o.says(linecheck.No)
		} else {
			o.says(linecheck.Yes)
		}
	case linecheck.Thru:
		o.machine.Sent(o.module)
		o.plays()
		time.Sleep(100 * time.Millisecond)
		n := 0
		for _, msg := range o.machine.Sent(o.module) {
			if msg[0] < 0xA0 { // notes
				n++
			}
		}
		if strings.Contains(p.Say[0], "nothing on") {
			o.sentAtQuestion = n
			o.says(linecheck.No)
		} else {
			o.passed = n
			o.says(linecheck.Yes)
		}
	case linecheck.Layer:
		o.says(linecheck.No)
	case linecheck.Silence:
		o.says(linecheck.Yes)
	case linecheck.Plug:
		switch p.Big {
		case "unplug":
			o.machine.Unplug(o.board)
		case "plug in":
			o.board = o.machine.Plug(o.board)
		default:
			o.tread(80, 1)
		}
	}
}

// walked walks through some steps on made-up ports, in made-up time.
func walkedThrough(t *testing.T, o *obedient, found linecheck.Found, steps ...linecheck.Step) (linecheck.Found, bool, []linecheck.Found) {
	t.Helper()
	o.machine = new(porttest.System)
	o.machine.Announce()
	o.seen, o.given, o.over = map[string]bool{}, make(chan linecheck.Answer), make(chan struct{})
	o.turn = make(chan struct{}, 1)
	o.stage = o.machine.Plug(midiio.PortInfo{Way: midiio.In, Name: "Stage"})
	o.board = o.machine.Plug(midiio.PortInfo{Way: midiio.In, Name: "Board"})
	own := o.machine.Plug(midiio.PortInfo{Way: midiio.Out, Name: "Stage"})
	o.module = o.machine.Plug(midiio.PortInfo{Way: midiio.Out, Name: "Module"})
	choice, err := midiio.Choose([]midiio.PortInfo{o.stage, o.board}, []midiio.PortInfo{own, o.module}, midiio.Wishes{})
	if err != nil {
		t.Fatal(err)
	}
	var kept []linecheck.Found
	w := walk{system: o.machine, found: found, steps: steps, talk: io.Discard, keep: func(f linecheck.Found) error { kept = append(kept, f); return nil }}
	if err := w.open(choice, false); err != nil {
		t.Fatal(err)
	}
	defer w.ports.Close()
	signals := make(chan os.Signal, 1)
	tired := time.AfterFunc(10*time.Minute, func() { signals <- os.Interrupt })
	defer tired.Stop()
	found, finished, err := w.run(o, signals)
	close(o.over)
	o.acting.Wait()
	if err != nil {
		t.Fatal(err)
	}
	return found, finished, kept
}

// From nothing to a rig, on made-up ports: what was found, what was passed on and when,
// and that nothing sounds on.
func TestWalkFromNothingToARig(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := &obedient{}
		began := time.Now()
		found, finished, kept := walkedThrough(t, o, linecheck.Found{}, linecheck.Steps...)
		if !finished {
			t.Fatalf("it goes on asking: %+v", o.prompts[len(o.prompts)-1])
		}
		if len(found.Done) != len(linecheck.Steps) || len(found.Troubles) != 0 || len(kept) < len(linecheck.Steps) {
			t.Fatalf("%+v, kept %d times", found, len(kept))
		}
		if took := time.Since(began); took > 5*time.Minute {
			t.Errorf("it took %v", took)
		}
		if o.sentAtQuestion != 0 || o.passed != 8 {
			t.Errorf("%d messages passed on before the question, %d after, want 0 and 8", o.sentAtQuestion, o.passed)
		}
		if p := found.Plugged; p == nil || !p.Noticed || p.Away <= 0 || p.Heard <= 0 || p.Heard > 1 {
			t.Errorf("replugged: %+v", found.Plugged)
		}
		path := file(t, "my-rig.yaml", "# mine\nname: Mine\nkeys: {a: step, b: fade}\nlevel: {ceiling: -6dB} # from the sound check\npedal: none\n")
		rig, old, err := soundcheck.WriteRig(path, found, linecheck.Steps...)
		if err != nil || old != path+".bak" {
			t.Fatalf("%v, kept %q", err, old)
		}
		want := gathering.Ports{InKeys: []string{"Stage"}, InFeet: []string{"Board"}, Out: []string{"Module"}, Thru: "on"}
		if fmt.Sprint(rig.Ports) != fmt.Sprint(want) || len(rig.Feet) != 2 || !rig.Pedal.On || rig.Bed.Balance.Ceiling != -6 || rig.Name != "Mine" {
			t.Errorf("the rig: %+v", rig)
		}
		data, err := os.ReadFile(path)
		if err != nil || !strings.HasPrefix(string(data), "# mine\nname: Mine\n") || strings.Contains(string(data), "none") {
			t.Errorf("%v:\n%s", err, data)
		}
		if again, old, err := soundcheck.WriteRig(path, found, linecheck.Steps...); err != nil || old != "" || again.Name != "Mine" {
			t.Errorf("written again: kept %q, %v", old, err)
		}
	})
}

// The tones of a walk rise from nothing, are soft, and are ended, also where the player
// leaves in the middle of one.
func TestWalkSoundsSoftlyAndEndsIt(t *testing.T) {
	for _, quit := range []linecheck.Step{"", linecheck.Plug} {
		synctest.Test(t, func(t *testing.T) {
			o := &obedient{quitAt: quit}
			_, finished, _ := walkedThrough(t, o, linecheck.Found{
				Keys: &linecheck.Keys{Input: "Stage", Channel: 1}, Thru: "off", Synth: "Module",
				Feet: []linecheck.Switch{{Step: linecheck.Left, Control: linecheck.Control{Input: "Board", Kind: "controller", Number: 80, Channel: 1}}},
			}, linecheck.Synth, linecheck.Silence, linecheck.Plug)
			if finished != (quit == "") {
				t.Errorf("finished %v", finished)
			}
			on := map[byte]bool{}
			level, first := -1, true
			for _, msg := range o.machine.Sent(o.module) {
				switch {
				case msg[0]&0xF0 == 0x90:
					if level != 0 && first || msg[2] > 64 {
						t.Errorf("a note of velocity %d begins at level %d", msg[2], level)
					}
					on[msg[1]], first = true, false
				case msg[0]&0xF0 == 0x80:
					delete(on, msg[1])
				case msg[0]&0xF0 == 0xB0 && msg[1] == 11:
					if int(msg[2])-level > 8 && level >= 0 || msg[2] > 100 {
						t.Errorf("the level jumps from %d to %d", level, msg[2])
					}
					if level = int(msg[2]); level == 0 {
						first = true
					}
				}
			}
			if len(on) > 0 {
				t.Errorf("%v sound on", on)
			}
		})
	}
}

// A walk that was left goes on where it was; one that is done begins anew.
func TestWalkGoesOnWhereItWasLeft(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := &obedient{quitAt: linecheck.Right}
		found, finished, kept := walkedThrough(t, o, linecheck.Found{}, linecheck.Steps...)
		if finished || len(found.Feet) != 1 || len(kept) == 0 {
			t.Fatalf("finished %v: %+v", finished, found)
		}
		var f walkFlags
		steps, goesOn, err := f.stepsOf(&found)
		if err != nil || !goesOn || steps[0] != linecheck.Right {
			t.Errorf("goes on at %v, %v", steps, err)
		}
		found, finished, _ = walkedThrough(t, &obedient{}, found, steps...)
		if !finished || len(found.Feet) != 2 || found.Feet[0].Number != 80 || found.Pedal == nil || found.Next() != "" {
			t.Errorf("finished %v: %+v", finished, found)
		}
		if steps, goesOn, err := f.stepsOf(&found); err != nil || goesOn || !slices.Equal(steps, linecheck.Steps) || found.Keys != nil {
			t.Errorf("begins at %v with %+v, %v", steps, found, err)
		}
	})
}

func TestWalkFlags(t *testing.T) {
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--step", "pedals"}, "bedd: --step \"pedals\" is no step: use one of rest, keys, left, right, more, pedal, synth, thru, layer, silence, plug\n"},
		{[]string{"--from", "keys", "--step", "pedal"}, "bedd: --from and --step exclude each other\n"},
		{[]string{"--rig", "saltmere"}, "bedd: --rig saltmere is a built-in rig: name a file to write, as in my-rig.yaml\n"},
		{[]string{"trip"}, "bedd: name the output and the input of the loop with --out and --in: bedd ports lists them\n"},
		{[]string{"trip", "--in", "a", "--out", "b", "--count", "3"}, "bedd: --count 3 is out of range 10…10000\n"},
		{[]string{"cable", "--baud", "3"}, "bedd: --baud 3 is out of range 1200…10000000\n"},
	} {
		args := append([]string{"soundcheck"}, c.args...)
		if c.args[0] == "--step" || c.args[0] == "--from" {
			args = append(args, "--rig", file(t, "r.yaml", "keys: {a: step, b: fade}\n"))
		}
		if r := bedd(t, args...); r.code != 2 || r.stderr != c.want {
			t.Errorf("%v: exit %d, %q", c.args, r.code, r.stderr)
		}
	}
}

func TestCableIsReckonedForARig(t *testing.T) {
	r := bedd(t, "soundcheck", "cable", "--rig", "saltmere")
	if r.code != 0 || !strings.Contains(r.stdout, "a key waits") {
		t.Errorf("%+v", r)
	}
}

// A rig's ports are taken where no flag names others; of its inputs those that are not
// there are left out, a missing output is told.
func TestPlayTakesTheRigsPorts(t *testing.T) {
	var machine porttest.System
	for _, name := range []string{"Stage", "Spare"} {
		machine.Plug(midiio.PortInfo{Way: midiio.In, Name: name})
	}
	machine.Plug(midiio.PortInfo{Way: midiio.Out, Name: "Module"})
	rig := gathering.Ports{InKeys: []string{"Stage"}, InFeet: []string{"Board"}, Out: []string{"Module"}, Thru: "off"}
	unset := func(string) bool { return false }
	for _, c := range []struct {
		flags        midiFlags
		ins, absent  []string
		thru, failed string
	}{
		{midiFlags{thru: "auto"}, []string{"Stage"}, []string{"Board"}, "off", ""},
		{midiFlags{thru: "auto", ins: []string{"Spare"}}, []string{"Spare"}, nil, "off", ""},
		{midiFlags{thru: "auto", outs: []string{"Other"}}, nil, []string{"Board"}, "off", "no MIDI output matches \"Other\""},
	} {
		f := c.flags
		f.driver = "auto"
		f.take(rig, unset)
		wishes, err := f.wishes()
		if err != nil {
			t.Fatal(err)
		}
		if f.rigIns {
			wishes.Ins = f.present(&machine, wishes.Ins)
		}
		choice, err := choose(&machine, wishes)
		if c.failed != "" {
			if err == nil || !strings.Contains(err.Error(), c.failed) {
				t.Errorf("%+v: %v", c.flags, err)
			}
			continue
		}
		var ins []string
		for _, v := range midiio.Chosen(choice.Ins) {
			ins = append(ins, v.Port.Name)
		}
		if err != nil || !slices.Equal(ins, c.ins) || !slices.Equal(f.absent, c.absent) || f.thru != c.thru {
			t.Errorf("%+v: takes %v without %v, thru %s, %v", c.flags, ins, f.absent, f.thru, err)
		}
	}
}

// A step that is done again changes its own part of a rig and nothing of the player's
// changes elsewhere.
func TestStepAloneLeavesTheRestOfARig(t *testing.T) {
	const mine = `player: {channel: 1, aside: [3 to 5]}
ports: {in: [Stage], out: [Other]}
# my feet
switches:
  - {control: controller 80, press: swap}
  - {control: controller 81, press: fade, hold: bring-in}
`
	path := file(t, "mine.yaml", mine)
	control := linecheck.Control{Input: "Board", Kind: "controller", Number: 4, Channel: 2}
	found := linecheck.Found{Pedal: &linecheck.Pedal{Control: control, Heel: 10, Toe: 100}}
	rig, _, err := soundcheck.WriteRig(path, found, linecheck.Foot)
	if err != nil {
		t.Fatal(err)
	}
	if rig.Pedal.Control.Number != 4 || rig.Feet[0].Press.String() != "swap" || rig.Ports.Out[0] != "Other" || rig.Player.Aside[2] != 4 {
		t.Errorf("%+v", rig)
	}
	// The pedal is on a channel of the bed's: that moves, with its programs.
	if warm := rig.Layers[0]; warm.Channel != 2 || warm.Program != 89 {
		t.Errorf("warm is %+v", warm)
	}
	found.Keys = &linecheck.Keys{Input: "Stage", Channel: 5}
	if rig, _, err = soundcheck.WriteRig(path, found, linecheck.Piano); err != nil || rig.Player.Channel != 4 || rig.Ports.InKeys[0] != "Stage" || rig.Feet[0].Press.String() != "swap" {
		t.Errorf("%+v, %v", rig, err)
	}
	if data, err := os.ReadFile(path); err != nil || !strings.Contains(string(data), "# my feet\nswitches:\n") {
		t.Errorf("%v\n%s", err, data)
	}
}

// At its end the walk writes the rig, and leads through words and levels to the desk's
// page, which knows what is plugged where.
func TestWalkLeadsToTheDesk(t *testing.T) {
	dir := t.TempDir()
	f := walkFlags{rig: filepath.Join(dir, "mine.yaml"), keep: filepath.Join(dir, "mine.check.json")}
	foot := func(step linecheck.Step, number int) linecheck.Switch {
		return linecheck.Switch{Step: step, Control: linecheck.Control{Input: "Board", Kind: "controller", Number: number, Channel: 1}}
	}
	found := linecheck.Found{
		Keys: &linecheck.Keys{Input: "Stage", Channel: 1, Channels: []int{1}}, Synth: "Module", Thru: "on",
		Feet: []linecheck.Switch{foot(linecheck.Left, 80), foot(linecheck.Right, 81)}, Skipped: []linecheck.Step{linecheck.Foot},
		Troubles: []linecheck.Trouble{{Step: linecheck.Left, Text: "the left switch bounces for 30 ms", Cure: "have it seen to"}},
	}
	says, err := os.Create(filepath.Join(dir, "says"))
	if err != nil {
		t.Fatal(err)
	}
	defer says.Close()
	words := make(chan string, 3)
	for _, w := range []string{"", "s", ""} { // words, no levels, the page
		words <- w
	}
	if err := f.finish(newSoundcheck(), says, found, linecheck.Steps, words); err != nil {
		t.Fatal(err)
	}
	said, err := os.ReadFile(says.Name())
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"! the left switch bounces for 30 ms: have it seen to", "left switch from Board: controller 80 on channel 1, momentary", "a key waits", "bedd play --rig " + f.rig} {
		if !strings.Contains(string(said), want) {
			t.Errorf("no %q in\n%s", want, said)
		}
	}
	record, err := soundcheck.Load(f.keep)
	if err != nil || record.Words == nil || record.Levels != nil || record.Cable == nil || record.Rig != "mine" {
		t.Errorf("%+v, %v", record, err)
	}
	page, err := os.ReadFile(filepath.Join(dir, "mine.desk.html"))
	for _, want := range []string{"MIDI from Stage to bedd", "MIDI from Board to bedd", "MIDI from bedd to Module"} {
		if err != nil || !strings.Contains(string(page), want) {
			t.Errorf("the page lacks %q, %v", want, err)
		}
	}
}
