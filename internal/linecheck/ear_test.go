package linecheck

import (
	"strings"
	"testing"
	"time"
)

// What the player hears decides what no message tells: which output sounds, whether the
// keys go through bedd, whether there is a pad, whether the synth falls silent.
func TestWhatTheEarDecides(t *testing.T) {
	stage := Found{
		Keys: &Keys{Input: "Stage", Channel: 1}, Synth: "Module", Thru: "on",
		Feet: []Switch{{Step: Left, Control: Control{Input: "Board", Kind: "controller", Number: 80, Channel: 1}}},
	}
	for _, c := range []struct {
		name    string
		step    Step
		answers []Answer
		synth   string
		thru    string
		told    string // "" for nothing
	}{
		{"the first output", Synth, []Answer{Yes, Yes}, "Stage", "on", ""},
		{"the second", Synth, []Answer{Yes, No, Yes, Yes}, "Module", "on", ""},
		{"none", Synth, []Answer{Yes, No, Yes, No}, "", "on", "nothing was heard from any output"},
		{"no before the note does nothing", Synth, []Answer{No, Yes, Yes}, "Stage", "on", ""},
		{"doubled", Thru, []Answer{Yes, Yes}, "Module", "off", "your keys sound twice"},
		{"by themselves", Thru, []Answer{Yes, No}, "Module", "off", ""},
		{"through bedd", Thru, []Answer{No, Yes}, "Module", "on", ""},
		{"not at all", Thru, []Answer{No, No}, "Module", "on", "neither by themselves nor through bedd"},
		{"a pad", Layer, []Answer{Yes}, "Module", "on", "a pad sounds in the keyboard's own sound"},
		{"no pad", Layer, []Answer{No}, "Module", "on", ""},
		{"silent", Silence, []Answer{Yes, Yes, Yes}, "Module", "on", ""},
		{"it hangs", Silence, []Answer{Yes, Yes, No}, "Module", "on", "goes on sounding after all notes off"},
	} {
		t.Run(c.name, func(t *testing.T) {
			check := New(boardAndKeys, stage, c.step)
			at := time.Second
			passing, on := false, 0
			for _, a := range c.answers {
				if check.Over() {
					t.Fatal("it is over too soon")
				}
				check.Answer(at, a)
				at += 6 * time.Second
				check.Advance(at)
				for _, act := range check.Acts() {
					switch {
					case act.Kind == ThruBegin:
						passing = true
					case act.Kind == ThruEnd:
						passing = false
					case act.Msg[0]&0xF0 == 0x90:
						on++
					case act.Msg[0]&0xF0 == 0x80:
						on--
					}
				}
			}
			f := check.Found()
			if !check.Over() || f.Synth != c.synth || f.Thru != c.thru || passing || on > 0 {
				t.Errorf("over %v, passing %v, %d notes on: %+v", check.Over(), passing, on, f)
			}
			told := ""
			for _, x := range f.Troubles {
				told += x.Text
			}
			if c.told == "" && told != "" || !strings.Contains(told, c.told) {
				t.Errorf("told %q", told)
			}
		})
	}
}

// A cable that nobody notices, behind an interface, is walked through by the player's
// word; one that does not come back is told after a minute and can be skipped.
func TestCablesBehindAnInterface(t *testing.T) {
	stage := Found{Feet: []Switch{{Step: Left, Control: Control{Input: "Board", Kind: "controller", Number: 80, Channel: 1}}}}
	check := New(boardAndKeys, stage, Plug)
	check.Answer(time.Second, Yes)   // it is out
	check.Answer(2*time.Second, Yes) // it is in
	check.Hear(3*time.Second, 1, []byte{0xB0, 80, 127})
	f := check.Found()
	if p := f.Plugged; !check.Over() || p == nil || p.Noticed || p.Heard != 1 || len(f.Troubles) != 1 || !strings.Contains(f.Troubles[0].Text, "has not noticed that Board") {
		t.Errorf("%+v", f)
	}
	check = New(boardAndKeys, stage, Plug)
	check.Moved(time.Second, true, 0, true) // another one
	check.Moved(time.Second, true, 1, true)
	check.Advance(61 * time.Second)
	if p := check.Prompt(); p.Big != "plug in" || len(p.Troubles) != 1 || !strings.Contains(p.Troubles[0].Text, "within a minute") {
		t.Errorf("%+v", p)
	}
	check.Answer(62*time.Second, Skip)
	if f := check.Found(); !check.Over() || f.Plugged != nil || len(f.Troubles) != 0 || f.Skipped[0] != Plug {
		t.Errorf("%+v", f)
	}
}
