package gathering

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/dynamics"
	"bedd/internal/harmony"
	"bedd/internal/listening"
	"bedd/internal/midiio"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

func cc(number uint8) midiio.Switch {
	return midiio.Switch{Control: midiio.Control{Kind: midiio.Controller, Number: number}}
}

// The controllers are general purpose controllers 5 to 8, which MIDI 1.0 has
// as on/off buttons, and expression; the program is General MIDI's "Pad 2
// (warm)", printed as 90.
func TestDefaultRigIsAsAgreed(t *testing.T) {
	rig := DefaultRig()
	feet := []Foot{
		{Name: "left", Switch: cc(80), Press: Order{Command: bed.Step}},
		{Name: "right", Switch: cc(81), Press: Order{Command: bed.Arm}, Hold: Order{Command: bed.FadeOut}},
		{Name: "stay", Switch: cc(82), Press: Order{Command: bed.Stay}},
		{Name: "out", Switch: cc(83), Press: Order{Command: bed.OutNow}, Hold: Order{Command: bed.AllNotesOff}},
	}
	if !reflect.DeepEqual(rig.Feet, feet) {
		t.Errorf("feet are\n%+v, want\n%+v", rig.Feet, feet)
	}
	if rig.Hold != 700*time.Millisecond {
		t.Errorf("hold time is %v", rig.Hold)
	}
	if want := (Pedal{On: true, Control: midiio.Control{Kind: midiio.Controller, Number: 11}}); rig.Pedal != want {
		t.Errorf("pedal is %+v", rig.Pedal)
	}
	if rig.Player.Channel != 0 || rig.Layers[bed.Warm].Channel != 1 || rig.Layers[bed.Air].Channel != 2 {
		t.Errorf("channels are %d, %d, %d", rig.Player.Channel, rig.Layers[bed.Warm].Channel, rig.Layers[bed.Air].Channel)
	}
	if rig.Layers[bed.Warm].Program != 89 {
		t.Errorf("warm is program %d", rig.Layers[bed.Warm].Program)
	}
	if !reflect.DeepEqual(rig.Bed.Arms, []bed.Command{bed.Swap, bed.Land}) {
		t.Errorf("arms are %v", rig.Bed.Arms)
	}
	if rig.In != 0 || rig.Out != 0 || rig.Share || rig.Separate || !rig.Setup {
		t.Errorf("rig is %+v", rig)
	}
	if !reflect.DeepEqual(rig.Bed, bed.DefaultConfig()) {
		t.Errorf("the bed is set to\n%+v, want\n%+v", rig.Bed, bed.DefaultConfig())
	}
}

// What the default rig's file says must be what a file that leaves it out gets.
func TestLeftOutMeansTheDefaultRig(t *testing.T) {
	got, err := ReadRig("rig-x.yaml", []byte("keys: {a: step, b: fade}\n"))
	if err != nil {
		t.Fatal(err)
	}
	want := DefaultRig()
	want.Name, want.Feet = "x", nil
	want.Keys = map[string]Order{"a": {Command: bed.Step}, "b": {Command: bed.FadeOut}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%+v, want\n%+v", got, want)
	}
}

func TestEverySettingOfARigIsRead(t *testing.T) {
	got, err := ReadRig("stage.yaml", []byte(`
name: Stage left
ports: {in: [A], in-keys: B, in-feet: [C, D], out: E, out-piano: F, out-bed: [G], thru: on}
player: {channel: 4, aside: [16 to 1, 15 to 5], route: kernel}
transpose: {in: -2, out: 12}
pedal: {controller: 4, channel: any, bits: 14, heel: 16000, toe: 200, dead: 0.1, noise: 0.05}
hold: 1s
switches:
  - {control: controller 64, tap: step, hold: arm, inverted: yes}
  - {name: far, control: note Bb-1, channel: 16, press: key-to Ab}
  - {control: note 21, latching: on, press: next}
  - {control: program 128, channel: any, press: stay}
  - {control: pressure, channel: 9, latching: yes, inverted: yes, press: swap}
keys:
  space: step
  é: out-now
  "#": fade
  f12: key-to Eb
arms: [land, fade, capture]
setup: no
sensing: no
separate: yes
sounds:
  warm: {channel: 16, program: 1, bank: 121/3, volume: 0}
  air: {channel: 15, program: 128, bank: 8, volume: 127}
voicing:
  voices: {thin: 1, usual: 3, full: 5}
  range: E3 – G5
  centre: 70
  bass: above E2
  stillness: 1
  colours: 2
  colour: 9, 6 sus
  plain: yes
  pedal-point: dominant
  weights: {movement: 2, few_held: 0.5}
breath: 5s
feel: tide
foot: {curve: gentle, holds: 3 breaths}
level: {heel: silent, ceiling: -3dB, rise: 12 dB/s, fall: 9dB/s, air-from: 0.5, air-top: -1.5dB, step: 0.25, velocity: 40}
times: {bring-in: 1.5s, fade: 2 breaths, out-now: 250ms, overlap: 20ms, bloom: 0s, hand-over: 1 breath}
swell: {to: 0.7, over: 1.5 breaths}
settle: {to: 0, over: 700ms}
playing: {counts: 0.5, room: 1}
grows: {voices: no, register: 2, register-from: 0.1, air: no, level: no, brightness: 70-40}
follow: {split: E4, steady: 0s, pace: 2 s}
landing: {ending: plagal, pace: 2 breaths, thin: no, hands: 3s}
listening: {on: yes, input: Desk, low: 0.3, high: 0.7, rise: 5s, fall: 6s, rate: 0.03, norm: 2m, rest: 30s, settle-to: 0.4, settle: 40s, under: 15LU, voice: -24LUFS}
`))
	if err != nil {
		t.Fatal(err)
	}
	weights := voicing.DefaultWeights()
	weights.Movement, weights.FewHeld = 2, 0.5
	want := Rig{
		Name: "Stage left",
		Ports: Ports{In: []string{"A"}, InKeys: []string{"B"}, InFeet: []string{"C", "D"}, Out: []string{"E"},
			OutPiano: []string{"F"}, OutBed: []string{"G"}, Thru: "on"},
		Player: Player{Channel: 3, Aside: map[uint8]uint8{15: 0, 14: 4}, Route: "kernel"},
		In:     -2,
		Out:    12,
		Pedal:  Pedal{On: true, Control: midiio.Control{Kind: midiio.Controller, Channel: -1, Number: 4}, Fine: true},
		Hold:   time.Second,
		Feet: []Foot{
			{Switch: midiio.Switch{Control: midiio.Control{Kind: midiio.Controller, Channel: 3, Number: 64}, Inverted: true}, Tap: Order{Command: bed.Step}, Hold: Order{Command: bed.Arm}},
			{Name: "far", Switch: midiio.Switch{Control: midiio.Control{Kind: midiio.Note, Channel: 15, Number: 10}}, Press: Order{Command: bed.KeyTo, Tonic: 8}},
			{Switch: midiio.Switch{Control: midiio.Control{Kind: midiio.Note, Channel: 3, Number: 21}, Latching: true}, Press: Order{Command: bed.Next}},
			{Switch: midiio.Switch{Control: midiio.Control{Kind: midiio.Program, Channel: -1, Number: 127}}, Press: Order{Command: bed.Stay}},
			{Switch: midiio.Switch{Control: midiio.Control{Kind: midiio.Pressure, Channel: 8}, Latching: true, Inverted: true}, Press: Order{Command: bed.Swap}},
		},
		Keys: map[string]Order{"space": {Command: bed.Step}, "é": {Command: bed.OutNow}, "#": {Command: bed.FadeOut}, "f12": {Command: bed.KeyTo, Tonic: 3}},
		Layers: [bed.NumLayers]Layer{
			bed.Warm: {Channel: 15, Program: 0, BankSet: true, Bank: [2]uint8{121, 3}, Volume: 0},
			bed.Air:  {Channel: 14, Program: 127, BankSet: true, Bank: [2]uint8{8, 0}, Volume: 127},
		},
		Sensing:  false,
		Separate: true,
		Listening: Listening{true, "Desk", listening.Manner{Rise: 5 * time.Second, Fall: 6 * time.Second, Rate: 0.03, Low: 0.3, High: 0.7, Rest: 30 * time.Second,
			SettleTo: 0.4, Settle: 40 * time.Second, Norm: 2 * time.Minute}, listening.Clearance{Under: 15, Voice: -24}},
		Bed: bed.Config{
			Voicing: voicing.Settings{
				Low: 52, High: 79, BassLow: 40, BassHigh: 54, Voices: 3, Thin: 1, Full: 5,
				Stillness: 1, Colours: 2, Centre: 70, Plain: true, Palette: voicing.AddNinth | voicing.AddSixth | voicing.Suspend,
				PedalPoint: voicing.DominantPedal, Weights: weights, RungWeight: voicing.EvenRungs(),
			},
			Pedal: dynamics.Pedal{Heel: 16000, Toe: 200, Dead: 0.1, Noise: 0.05, Curve: dynamics.Gentle},
			Feel: dynamics.Feel{Rise: 12, Fall: 9, Holds: 15 * time.Second, HandOver: 5 * time.Second, Playing: 0.5, Room: 1,
				Swell: dynamics.Goal{To: 0.7, Over: 7500 * time.Millisecond}, Settle: dynamics.Goal{To: 0, Over: 700 * time.Millisecond}},
			Balance:    dynamics.Balance{Floor: math.Inf(-1), Ceiling: -3, AirFrom: 0.5, AirTop: -1.5, NoAir: true},
			Brightness: dynamics.Brightness{Dark: 70, Bright: 40},
			Lift:       2,
			LiftFrom:   0.1,
			SameVoices: true,
			NoLevel:    true,
			Velocity:   40,
			BringIn:    1500 * time.Millisecond,
			Fade:       10 * time.Second,
			Leave:      250 * time.Millisecond,
			Overlap:    20 * time.Millisecond,
			Split:      64,
			Pace:       2 * time.Second,
			Ending:     harmony.PlagalEnding,
			Walk:       10 * time.Second,
			Hands:      3 * time.Second,
			Nudge:      0.25,
			Arms:       []bed.Command{bed.Land, bed.FadeOut, bed.Capture},
		},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%+v, want\n%+v", got, want)
	}

	// None is forgotten when the bed is given a new one: here each differs from
	// its default.
	kept := []string{"Moments", "Songs", "First", "Voicing.Weights", "Voicing.RungWeight", "Voicing.NoBass", "Brightness.Off"} // not of a rig; off in other tests
	for _, name := range same("", reflect.ValueOf(got.Bed), reflect.ValueOf(bed.DefaultConfig())) {
		if !slices.ContainsFunc(kept, func(k string) bool { return strings.HasPrefix(name, k) }) {
			t.Errorf("%s is left at its default: can a rig set it?", name)
		}
	}
}

// same names the fields in which two structs agree.
func same(prefix string, a, b reflect.Value) (names []string) {
	for i := range a.NumField() {
		name := prefix + a.Type().Field(i).Name
		switch x, y := a.Field(i), b.Field(i); {
		case x.Kind() == reflect.Struct:
			names = append(names, same(name+".", x, y)...)
		case reflect.DeepEqual(x.Interface(), y.Interface()):
			names = append(names, name)
		}
	}
	return names
}

func TestPedalReadings(t *testing.T) {
	for _, c := range []struct {
		fine       bool
		value, low uint8
		want       uint16
	}{
		{false, 0, 0, 0}, {false, 64, 0, 8192}, {false, 127, 127, 16256},
		{true, 64, 0, 8192}, {true, 127, 127, 16383}, {true, 1, 1, 129},
	} {
		if got := (Pedal{Fine: c.fine}).Raw(c.value, c.low); got != c.want {
			t.Errorf("%+v: Raw = %d", c, got)
		}
	}
	rig, err := ReadRig("r.yaml", []byte("keys: {a: step, b: fade}\npedal: {heel: 3, toe: 120}\n"))
	if err != nil || rig.Bed.Pedal.Heel != 3<<7 || rig.Bed.Pedal.Toe != 120<<7 {
		t.Errorf("seven bits are read as %+v, %v", rig.Bed.Pedal, err)
	}
	rig, err = ReadRig("r.yaml", []byte("keys: {a: step, b: fade}\npedal: {controller: 1, bits: 14}\n"))
	if err != nil || rig.Bed.Pedal.Position(dynamics.MaxRaw) != 1 {
		t.Errorf("fourteen bits are read as %+v, %v", rig.Bed.Pedal, err)
	}
	rig, err = ReadRig("r.yaml", []byte("keys: {a: step, b: fade}\npedal: none\n"))
	if err != nil || rig.Pedal.On {
		t.Errorf("no pedal is read as %+v, %v", rig.Pedal, err)
	}
}

func TestFeetAndPedalAreOnThePlayersChannel(t *testing.T) {
	for text, want := range map[string]int8{
		"pedal: {controller: 4}": 4, "pedal: {channel: 2}": 1, "pedal: {channel: any}": -1, "hold: 1s": 4,
	} {
		rig, err := ReadRig("r.yaml", []byte(text+"\nswitches: [{control: controller 80, press: step, hold: fade}]\nplayer: {channel: 5}\n"))
		if err != nil {
			t.Fatal(err)
		}
		if got := rig.Pedal.Control.Channel; got != want {
			t.Errorf("%s: the pedal is on channel %d, want %d", text, got, want)
		}
		if got := rig.Feet[0].Switch.Channel; got != 4 {
			t.Errorf("%s: the switch is on channel %d, want 4", text, got)
		}
	}
}

func TestBassBesideABassPlayer(t *testing.T) {
	for text, want := range map[string][2]uint8{
		"on": {36, 50}, "above A2": {45, 59}, "above 45": {45, 59}, "C2-B2": {36, 47}, "36…50": {36, 50}, "C1 - C2": {24, 36},
	} {
		rig, err := ReadRig("r.yaml", []byte("keys: {a: step, b: fade}\nvoicing: {bass: '"+text+"'}\n"))
		v := rig.Bed.Voicing
		if err != nil || v.NoBass || v.BassLow != want[0] || v.BassHigh != want[1] {
			t.Errorf("bass %s is %d…%d, %v, %v", text, v.BassLow, v.BassHigh, v.NoBass, err)
		}
	}
	if rig, err := ReadRig("r.yaml", []byte("keys: {a: step, b: fade}\nvoicing: {bass: off}\n")); err != nil || !rig.Bed.Voicing.NoBass {
		t.Errorf("bass off: %v, %v", rig.Bed.Voicing.NoBass, err)
	}
	rig, err := ReadRig("r.yaml", []byte("keys: {a: step, b: fade}\nvoicing: {range: G3-G5}\n"))
	if err != nil || rig.Bed.Voicing.Centre != 67 {
		t.Errorf("the centre of G3 to G5 is %v, %v", rig.Bed.Voicing.Centre, err)
	}
}

func TestSharedSound(t *testing.T) {
	rig, err := ReadRig("r.yaml", []byte("player: {channel: 5}\nkeys: {a: step, b: fade}\nshare: yes\n"))
	if err != nil || !rig.Share || rig.Setup || rig.Layers[bed.Warm].Channel != 4 || rig.Layers[bed.Air].Channel != 4 {
		t.Errorf("got %+v, %v", rig, err)
	}
}

// badRigs hold a fault or several, with what is said of them.
var badRigs = []struct{ text, want string }{
	{"keys: {a: step, b: fade}\nlistening:\n  low: 0.6\n  high: 0.5\n", "r.yaml:4: the band from 0.6 to 0.5 is none within 0…1"},
	{"keys: {a: step, b: fade}\nlistening: {settle-to: 0.9}\n", "r.yaml:2: settling to 0.9 leaves the band 0.1…0.8"},
	{"keys: {a: step, b: fade}\nlistening:\n  on: perhaps\n  rise: 100ms\n  rate: 2\n  under: 10dB\n  voice: 5LUFS\n",
		"r.yaml:3: on \"perhaps\" is neither yes nor no\n" +
			"r.yaml:4: rise 100ms is out of range 500ms…5m0s\n" +
			"r.yaml:5: rate 2 is out of range 0.002…0.2\n" +
			"r.yaml:6: under \"10dB\" is not a number of LU: write it with its unit, as in 60LU\n" +
			"r.yaml:7: voice 5LUFS is out of range -70…0LUFS"},
	{"keys: {a: step, b: fade}\nlistening: yes\n", `r.yaml:2: listening is written as fields with a colon each, not as the value "yes"`},
	{"", "r.yaml:1: the file is empty: a rig lists switches: or keys:"},
	{"name: x\n", "r.yaml:1: this rig gives the player nothing to press: list switches: or keys:"},
	{"name: x\nswitches: []\n", "r.yaml:2: this rig gives the player nothing to press: its lists are empty"},
	{"keys: {a: fade}\n", "r.yaml:1: nothing in this rig brings the bed in: use step or bring-in"},
	{"keys: {a: step}\n", "r.yaml:1: nothing in this rig ends the bed: use fade, out-now or all-notes-off, or list fade under arms:"},
	{"keys: {a: step, b: arm}\n", "r.yaml:1: nothing in this rig ends the bed: use fade, out-now or all-notes-off, or list fade under arms:"},
	{"keys: {a: step, b: arm, c: fade}\narms: []\n", "r.yaml:2: arm has nothing to go round: list commands under arms:"},
	{"keys: {a: stpe}\n", `r.yaml:1: key a: unknown command "stpe": did you mean "step"?`},
	{"keys: {spcae: step, b: fade}\n", `r.yaml:1: unknown key "spcae": did you mean "space"?`},
	{"keys:\n  a: step\n  b: fade\n  a: land\n", `r.yaml:4: "a" is here twice: it is already on line 2`},
	{"keys: [a]\n", "r.yaml:1: keys is written as fields with a colon each, as in space: step, not as a list"},
	{"keys: {a: [step], b: fade}\n", "r.yaml:1: key a is one value, not a list"},
	{"keys: {a: step, b: fade, ' ': next}\n", `r.yaml:1: unknown key " ": use one of space, enter, tab, esc, backspace, up, down, left, right, pageup, pagedown, home, end, f1, f2, f3, f4, f5, f6, f7, f8, f9, f10, f11, f12, a single character`},
	{"keys: {a: step, b: fade, c: }\n", "r.yaml:1: key c has no value"},
	{"keys: {a: step, b: fade}\npedla: none\n", `r.yaml:2: unknown field "pedla": did you mean "pedal"?`},
	{"keys: {a: step, b: fade}\nplayer: {channel: 17}\n", "r.yaml:2: player channel 17 is out of range 1…16"},
	{"keys: {a: step, b: fade}\nplayer: {channel: any}\n", `r.yaml:2: player channel "any" is not a whole number 1…16`},
	{"keys: {a: step, b: fade}\nplayer: 1\n", `r.yaml:2: the player is written as fields with a colon each, not as the value "1"`},
	{"keys: {a: step, b: fade}\npedal:\n  controller: 128\n", "r.yaml:3: pedal controller 128 is out of range 0…127"},
	{"keys: {a: step, b: fade}\npedal:\n  controller: 123\n", "r.yaml:3: pedal controller 123 is a channel mode message: controllers 0…119 can be a pedal"},
	{"keys: {a: step, b: fade}\npedal:\n  controller: 40\n  bits: 14\n", "r.yaml:4: a pedal of 14 bits is on one of the controllers 0…31, not on 40"},
	{"keys: {a: step, b: fade}\npedal:\n  bits: 8\n", `r.yaml:3: pedal bits "8" is not known: use one of 7, 14`},
	{"keys: {a: step, b: fade}\npedal:\n  heel: 128\n", "r.yaml:3: pedal heel 128 is out of range 0…127"},
	{"keys: {a: step, b: fade}\npedal:\n  heel: 9\n  toe: 9\n", "r.yaml:3: the pedal's heel and toe are the same"},
	{"keys: {a: step, b: fade}\npedal:\n  dead: 0.5\n", "r.yaml:3: pedal dead zone 0.5 is out of range 0…0.45"},
	{"keys: {a: step, b: fade}\npedal: off\n", `r.yaml:2: the pedal is written as fields with a colon each, not as the value "off"`},
	{"keys: {a: step, b: fade}\nhold: 700\n", `r.yaml:2: hold "700" is not a time: write it with its unit, as in 3s or 700ms`},
	{"keys: {a: step, b: fade}\nhold: 40ms\n", "r.yaml:2: hold 40ms is out of range 100ms…5s"},
	{"keys: {a: step, b: fade}\ntranspose: {in: 25}\n", "r.yaml:2: transposition in 25 is out of range -24…24"},
	{"keys: {a: step, b: fade}\narms: [swap, stpe, step, swap]\n", "r.yaml:2: unknown command \"stpe\": did you mean \"stay\"?\nr.yaml:2: \"step\" cannot be armed: use one of swap, land, land-through, first-chord, capture, fade, out-now, stay, follow, swell, settle, choose-song, choose-key\nr.yaml:2: \"swap\" is armed twice"},
	{"keys: {a: step, b: fade}\nsensing: often\n", `r.yaml:2: sensing "often" is neither yes nor no`},
	{"keys: {a: step, b: fade}\nplayer: {route: wire}\n", `r.yaml:2: route "wire" is not known: use one of auto, kernel, bedd`},
	{"keys: {a: step, b: fade}\nseparate: maybe\n", `r.yaml:2: separate "maybe" is neither yes nor no`},
	{"keys: {a: step, b: fade}\nsounds:\n  warm: {channel: 3}\n", "r.yaml:3: warm and air are both on channel 3"},
	{"keys: {a: step, b: fade}\nplayer: {channel: 2}\n", "r.yaml:2: warm is on channel 2, which is the player's: choose another, or share: yes for a synth with one sound"},
	{"keys: {a: step, b: fade}\nplayer: {aside: [2 to 17, 2-4, 2 to 5, 2 to 6]}\n", "r.yaml:2: an item of aside 17 is out of range 1…16\nr.yaml:2: an item of aside is two channels, as in 2 to 4, not \"2-4\"\nr.yaml:2: channel 2 goes aside twice"},
	{"keys: {a: step, b: fade}\nplayer: {aside: [3 to 2, 5 to 6]}\n", "r.yaml:2: channel 2 is the bed's too: nothing can go aside to it\nr.yaml:2: channel 5 is not the bed's, so nothing has to go aside from it"},
	{"keys: {a: step, b: fade}\nshare: yes\nplayer: {aside: [3 to 4]}\n", "r.yaml:3: with share: the bed has no channel of its own, so nothing has to go aside"},
	{"keys: {a: step, b: fade}\nsounds: {warm: {program: 0}}\n", "r.yaml:2: warm program 0 is out of range 1…128"},
	{"keys: {a: step, b: fade}\nsounds: {warm: {bank: 121/128}}\n", "r.yaml:2: warm bank 128 is out of range 0…127"},
	{"keys: {a: step, b: fade}\nsounds: {warm: {bank: x}}\n", `r.yaml:2: warm bank "x" is not a whole number 0…127`},
	{"keys: {a: step, b: fade}\nshare: yes\nsetup: yes\nsounds: {warm: {program: 5}}\n", "r.yaml:3: with share: nothing is set up, since it would change the player's own sound\nr.yaml:4: with share: the bed plays the player's own sound: leave sounds: out"},
	{"keys: {a: step, b: fade}\nvoicing: {voices: {thin: 5}}\n", "r.yaml:2: voices must grow: thin is 5, usual 4, full 6"},
	{"keys: {a: step, b: fade}\nvoicing: {voices: {full: 8}}\n", "r.yaml:2: full 8 is out of range 1…7"},
	{"keys: {a: step, b: fade}\nvoicing: {range: E5-F3}\n", "r.yaml:2: range E5-F3 runs downwards: write the lower note first"},
	{"keys: {a: step, b: fade}\nvoicing: {range: F3}\n", `r.yaml:2: range "F3" is not a range of notes, as in F3-E5`},
	{"keys: {a: step, b: fade}\nvoicing: {range: F3-H5}\n", `r.yaml:2: range: unknown note "H5": 'H' does not start a note name: write a capital letter A to G, then b or # where needed`},
	{"keys: {a: step, b: fade}\nvoicing: {centre: C2}\n", "r.yaml:2: centre C2 lies outside the range"},
	{"keys: {a: step, b: fade}\nvoicing: {bass: low}\n", `r.yaml:2: bass "low" is none of on, off, a range as in C2-D3, above E2`},
	{"keys: {a: step, b: fade}\nvoicing: {bass: C2-A2}\n", "r.yaml:2: bass C2-A2 does not hold every note: it needs twelve semitones"},
	{"keys: {a: step, b: fade}\nvoicing: {bass: above F9}\n", "r.yaml:2: bass above F9 does not hold every note: it needs twelve semitones"},
	{"keys: {a: step, b: fade}\nvoicing: {bass: 0-24}\n", "r.yaml:2: bass 0-24 starts too low: note 1 is the lowest"},
	{"keys: {a: step, b: fade}\nvoicing: {colour: blue}\n", `r.yaml:2: colour "blue" is not known: use any, plain, or some of 9, 11, 6, 7, sus, open`},
	{"keys: {a: step, b: fade}\nvoicing: {pedal-point: on}\n", `r.yaml:2: pedal point "on" is not known: use none, tonic or dominant`},
	{"keys: {a: step, b: fade}\nvoicing:\n  weights:\n    leap: 4\n    few-held: 2\n", `r.yaml:5: unknown field "few-held": did you mean "few_held"?`},
	{"keys: {a: step, b: fade}\nvoicing:\n  weights: {leap: NaN, strike: 1001}\n", "r.yaml:3: weight strike 1001 is out of range 0…1000\nr.yaml:3: weight leap \"NaN\" is not a number 0…1000"},
	{"keys: {a: step, b: fade}\nvoicing: {weights: 3}\n", "r.yaml:2: weights is written as fields with a colon each, not as the value \"3\""},
	{"keys: {a: step, b: fade}\nvoicing: {stillness: 1.1}\n", "r.yaml:2: stillness 1.1 is out of range 0…1"},
	{"keys: {a: step, b: fade}\nlevel: {floor: 0}\n", `r.yaml:2: floor "0" is not a number of dB: write it with its unit, as in -3dB`},
	{"keys: {a: step, b: fade}\nlevel: {floor: 0dB}\n", "r.yaml:2: floor 0dB is out of range -33…-3dB"},
	{"keys: {a: step, b: fade}\nlevel: {floor: softdB}\n", `r.yaml:2: floor "softdB" is not a number of dB: write it with its unit, as in -3dB`},
	{"keys: {a: step, b: fade}\nlevel: {ceiling: -20dB}\n", "r.yaml:2: the ceiling of -20dB lies below the floor of -14dB"},
	{"keys: {a: step, b: fade}\nlevel: {rise: 8dB}\n", `r.yaml:2: rise "8dB" is not a number of dB/s: write it with its unit, as in 24dB/s`},
	{"keys: {a: step, b: fade}\nlevel: {fall: 0.5dB/s}\n", "r.yaml:2: fall 0.5dB/s is out of range 1…24dB/s"},
	{"keys: {a: step, b: fade}\nlevel: {air-top: 1dB}\n", "r.yaml:2: air-top 1dB is out of range -40…0dB"},
	{"keys: {a: step, b: fade}\nfeel: hsuh\n", `r.yaml:2: feel "hsuh" is not known: did you mean "hush"?`},
	{"keys: {a: step, b: fade}\nfeel: [hush]\n", "r.yaml:2: feel is one value, not a list"},
	{"keys: {a: step, b: fade}\nbreath: 100ms\n", "r.yaml:2: breath 100ms is out of range 1s…20s"},
	{"keys: {a: step, b: fade}\nbreath:\n", `r.yaml:2: "breath" has no value`},
	{"keys: {a: step, b: fade}\nfoot: {curve: steep}\n", `r.yaml:2: curve "steep" is not known: use one of eager, even, gentle, rounded, or a power 0.25…4`},
	{"keys: {a: step, b: fade}\nfoot: {curve: 9}\n", "r.yaml:2: the curve's power 9 is out of range 0.25…4"},
	{"keys: {a: step, b: fade}\nfoot: {holds: ever}\n", `r.yaml:2: holds "ever" is not a time: write it with its unit, as in 3s, 700ms or 2 breaths`},
	{"keys: {a: step, b: fade}\ntimes: {fade: x breaths}\n", `r.yaml:2: fade "x breaths" is not a time: write it with its unit, as in 3s, 700ms or 2 breaths`},
	{"keys: {a: step, b: fade}\ntimes: {fade: 40 breaths}\n", "r.yaml:2: fade 40 breaths is out of range 100ms…2m0s"},
	{"keys: {a: step, b: fade}\ntimes: {fade: 1e30 breaths}\n", `r.yaml:2: fade "1e30 breaths" is not a time: write it with its unit, as in 3s, 700ms or 2 breaths`},
	{"keys: {a: step, b: fade}\nswell: 3s\n", `r.yaml:2: swell is written as fields with a colon each, not as the value "3s"`},
	{"keys: {a: step, b: fade}\nsettle: {to: 2}\n", "r.yaml:2: settle to 2 is out of range 0…1"},
	{"keys: {a: step, b: fade}\nplaying: {room: -1}\n", "r.yaml:2: room -1 is out of range 0…1"},
	{"keys: {a: step, b: fade}\ngrows: {register: 13}\n", "r.yaml:2: register 13 is out of range 0…12"},
	{"keys: {a: step, b: fade}\ngrows: {brightness: 64}\n", `r.yaml:2: brightness "64" is neither two values of controller 74, as in 56-76, nor no`},
	{"keys: {a: step, b: fade}\ngrows: {brightness: 0-128}\n", "r.yaml:2: brightness 128 is out of range 0…127"},
	{"keys: {a: step, b: fade}\ngrows: {level: perhaps}\n", `r.yaml:2: level "perhaps" is neither yes nor no`},
	{"keys: {a: step, b: fade}\npedal: {noise: 0.2}\n", "r.yaml:2: pedal noise 0.2 is out of range 0…0.1"},
	{"keys: {a: step, b: fade}\nlevel: {heel: silent, floor: -10dB}\n", "r.yaml:2: floor is the quietest audible level: with heel: silent there is none"},
	{"keys: {a: step, b: fade}\nvoicing:\n  range: F3-G3\n", "r.yaml:3: no 3-voice voicing of C fits between F3 and G3: widen the range or ask for fewer voices"},
	{"keys: {a: step, b: fade}\nlevel: {heel: quiet}\n", `r.yaml:2: heel "quiet" is not known: use one of audible, silent`},
	{"keys: {a: step, b: fade}\nlevel: {velocity: 0}\n", "r.yaml:2: velocity 0 is out of range 1…127"},
	{"keys: {a: step, b: fade}\ntimes: {overlap: 10ms}\n", "r.yaml:2: overlap 10ms is out of range 20ms…2s"},
	{"keys: {a: step, b: fade}\ntimes: {fade: -3s}\n", "r.yaml:2: fade -3s is out of range 100ms…2m0s"},
	{"keys: {a: step, b: fade}\nfollow: {split: 128}\n", "r.yaml:2: split 128 is out of range 0…127"},
	{"switches: {control: controller 80}\n", "r.yaml:1: switches is a list with a dash before each item, not fields"},
	{"switches:\n- controller 80\n", `r.yaml:2: a switch is written as fields with a colon each, not as the value "controller 80"`},
	{"switches:\n- press: step\n", "r.yaml:2: a switch needs control: what it sends, as in controller 80"},
	{"switches:\n- control: controller 80\n", "r.yaml:2: this switch does nothing: give it press:, tap: or hold:"},
	{"switches:\n- control: pedal 80\n  press: step\n", `r.yaml:2: control "pedal 80" is none of controller 80, note A0, program 5, pressure and their like`},
	{"switches:\n- control: controller\n  press: step\n", `r.yaml:2: controller "" is not a whole number 0…127`},
	{"switches:\n- control: controller 128\n  press: step\n", "r.yaml:2: controller 128 is out of range 0…127"},
	{"switches:\n- control: controller 121\n  press: step\n", "r.yaml:2: controller 121 is a channel mode message: controllers 0…119 can be a switch"},
	{"switches:\n- control: program 0\n  press: step\n", "r.yaml:2: program 0 is out of range 1…128"},
	{"switches:\n- control: pressure 5\n  press: step\n", `r.yaml:2: pressure has no number, not "5": write control: pressure`},
	{"switches:\n- {control: pressure, press: step}\n- {control: pressure, channel: any, press: fade}\n", "r.yaml:3: pressure on any channel is already the switch on line 2"},
	{"switches:\n- control: note X\n  press: step\n", `r.yaml:2: note: unknown note "X": 'X' does not start a note name: write a capital letter A to G, then b or # where needed`},
	{"switches:\n- control: controller 80\n  press: step\n  tap: fade\n", "r.yaml:4: press and tap exclude each other: press acts when the foot goes down, tap when it comes up in time"},
	{"switches:\n- control: controller 80\n  latching: yes\n  press: step\n  hold: fade\n", "r.yaml:2: a latching switch does not come up again: use press"},
	{"switches:\n- control: program 5\n  tap: step\n", "r.yaml:2: a program change says only that the foot went down: use press"},
	{"switches:\n- control: program 5\n  press: step\n  inverted: yes\n", "r.yaml:2: a program change can be neither latching nor inverted"},
	{"switches:\n- {control: controller 80, press: step}\n- {control: controller 80, channel: any, press: fade}\n", "r.yaml:3: controller 80 on any channel is already the switch on line 2"},
	{"switches:\n- {control: controller 80, press: step}\n- {control: controller 11, press: fade}\n", "r.yaml:3: controller 11 on channel 1 is the pedal's"},
	{"pedal: {bits: 14, controller: 4}\nswitches:\n- {control: controller 80, press: step}\n- {control: controller 36, press: fade}\n", "r.yaml:4: controller 36 on channel 1 is the pedal's"},
	{"switches:\n- control: controller 80\n  press: step\n  hold: key-to\n", `r.yaml:4: hold: "key-to" needs one tonic after key-to, as in key-to Eb`},
}

func TestBadRigsAreExplained(t *testing.T) {
	for _, b := range badRigs {
		_, err := ReadRig("r.yaml", []byte(b.text))
		if err == nil || err.Error() != b.want {
			t.Errorf("%s\ngot  %v\nwant %s", b.text, err, b.want)
		}
	}
}

func TestAsManySwitchesAsAreWatched(t *testing.T) {
	text := "keys: {a: step, b: fade}\nswitches:\n"
	for i := range 65 {
		text += "- {control: note " + pitch.NoteName(i, pitch.Key{}) + ", press: next}\n"
	}
	_, err := ReadRig("r.yaml", []byte(text))
	if want := "r.yaml:3: switches has 65 items: at most 64 are read"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

func TestWhatASynthMisreadsIsSwitchedOff(t *testing.T) {
	rig, err := ReadRig("r.yaml", []byte("keys: {a: step, b: fade}\ngrows: {brightness: no, register: no}\n"))
	if err != nil || !rig.Bed.Brightness.Off || rig.Bed.Lift != 0 {
		t.Errorf("brightness %+v, lift %v, %v", rig.Bed.Brightness, rig.Bed.Lift, err)
	}
	rig, err = ReadRig("r.yaml", []byte("keys: {a: step, b: fade}\nfeel: hush\ngrows: {brightness: 1-2}\n"))
	if err != nil || rig.Bed.Brightness != (dynamics.Brightness{Dark: 1, Bright: 2}) {
		t.Errorf("brightness %+v, %v", rig.Bed.Brightness, err)
	}
}

// Every feel reads well, says what it is like, and differs from the others; the
// first is what a rig has that names none. What a rig says besides comes on top,
// and its breath counts for the feel too.
func TestFeels(t *testing.T) {
	seen := map[string]bool{}
	var beds []bed.Config
	for i, f := range feels() {
		rig, err := ReadRig("r.yaml", []byte("times: {out-now: 1s}\nfeel: "+f.name+"\nkeys: {a: step, b: fade}\n"))
		if err != nil || f.says == "" || seen[f.name] || rig.Bed.Leave != time.Second {
			t.Errorf("%+v: %v", f, err)
		}
		seen[f.name] = true
		slow, err := ReadRig("r.yaml", []byte("breath: 20s\nfeel: "+f.name+"\nkeys: {a: step, b: fade}\n"))
		if ratio := float64(slow.Bed.Feel.Swell.Over) / float64(rig.Bed.Feel.Swell.Over); err != nil || ratio != 5 {
			t.Errorf("%s: with a breath five times as long the swell takes %v times as long; %v", f.name, ratio, err)
		}
		rig.Bed.Leave = bed.DefaultConfig().Leave
		if i == 0 && (f.name != defaultFeel || !reflect.DeepEqual(rig.Bed, bed.DefaultConfig())) {
			t.Errorf("the first feel, %s, is not the default:\n%+v\n%+v", f.name, rig.Bed, bed.DefaultConfig())
		}
		for _, other := range beds {
			if reflect.DeepEqual(other, rig.Bed) {
				t.Errorf("%s is like another feel", f.name)
			}
		}
		beds = append(beds, rig.Bed)
	}
	if len(beds) < 4 {
		t.Errorf("there are %d feels", len(beds))
	}
	rig, err := ReadRig("r.yaml", []byte("swell: {to: 0.6}\nfeel: hush\nbreath: 10s\nkeys: {a: step, b: fade}\n"))
	if want := (dynamics.Goal{To: 0.6, Over: 40 * time.Second}); err != nil || rig.Bed.Feel.Swell != want {
		t.Errorf("swell %+v, want %+v; %v", rig.Bed.Feel.Swell, want, err)
	}
}

func TestBadFeelsAreExplained(t *testing.T) {
	for text, want := range map[string]string{
		"":          "f.yaml:1: the file is empty: it lists feels",
		"name: x":   "f.yaml:1: feels is a list with a dash before each item, not fields",
		"- says: x": `f.yaml:1: a feel has name and says: "name" is missing`,
		"- name: x": `f.yaml:1: a feel has name and says: "says" is missing`,
		"- {name: x, says: y}\n- {name: x, says: z}": `f.yaml:2: there is a feel "x" already`,
		"- {name: x, says: y, voicing: {}}":          `f.yaml:1: unknown field "voicing": use one of name, says, foot, level, times, swell, settle, playing, grows`,
		"- {name: x, says: y, level: {rise: 0dB/s}}": "f.yaml:1: rise 0dB/s is out of range 1…24dB/s",
	} {
		if _, err := readFeels("f.yaml", []byte(text)); err == nil || err.Error() != want {
			t.Errorf("%q\ngot  %v\nwant %s", text, err, want)
		}
	}
}

func FuzzReadRig(f *testing.F) {
	for _, b := range badRigs {
		f.Add([]byte(b.text))
	}
	for _, b := range brokenFiles {
		f.Add([]byte(b.text))
	}
	addBuiltIn(f)
	f.Add([]byte("pedal: {bits: 14, controller: 4, heel: 16000}\nswitches:\n- {control: note A0, channel: any, tap: step, hold: fade}\nkeys: {é: arm}\nsounds: {air: {bank: 1/2}}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		rig, err := ReadRig("r.yaml", data)
		if err != nil {
			checkFaults(t, data, err)
			return
		}
		var switches []midiio.Switch
		for _, foot := range rig.Feet {
			switches = append(switches, foot.Switch)
		}
		if _, err := midiio.NewFeet(switches, rig.Hold); err != nil {
			t.Fatalf("the feet are refused: %v", err)
		}
		c := rig.Bed
		c.Moments = []bed.Moment{{Home: []harmony.Chord{harmony.Diatonic(pitch.Key{}, 1)}}}
		if _, err := bed.New(c); err != nil {
			t.Fatalf("the bed is refused: %v", err)
		}
		warm, air := rig.Layers[bed.Warm].Channel, rig.Layers[bed.Air].Channel
		if max(warm, air, rig.Player.Channel) > 15 || rig.Share != (warm == air) || rig.Share != (warm == rig.Player.Channel) || rig.Share != (air == rig.Player.Channel) {
			t.Fatalf("channels %d, %d, %d, shared %v", rig.Player.Channel, warm, air, rig.Share)
		}
		if len(rig.Feet)+len(rig.Keys) == 0 {
			t.Fatal("a rig with nothing to press")
		}
	})
}

// What a rig says of listening, and what it leaves out; it is off unless it says so.
func TestListening(t *testing.T) {
	const feet = "keys: {a: step, b: fade}\n"
	rig, err := ReadRig("r.yaml", []byte(feet))
	if err != nil || rig.Listening.On || rig.Listening.Manner != listening.DefaultManner() || rig.Listening.Clearance != listening.DefaultClearance() {
		t.Errorf("without a word of it: %+v, %v", rig.Listening, err)
	}
	rig, err = ReadRig("r.yaml", []byte(feet+`level: {ceiling: -4dB}
listening: {on: yes, input: Desk, low: 0.3, high: 0.7, rise: 5s, fall: 6s, rate: 0.03, norm: 2m, rest: 30s, settle: 40s, under: 15LU, voice: -24.5LUFS}
`))
	want := Listening{true, "Desk", listening.Manner{Rise: 5 * time.Second, Fall: 6 * time.Second, Rate: 0.03, Low: 0.3, High: 0.7, Rest: 30 * time.Second,
		SettleTo: 0.3, Settle: 40 * time.Second, Norm: 2 * time.Minute}, listening.Clearance{Under: 15, Voice: -24.5}}
	if err != nil || rig.Listening != want {
		t.Errorf("%+v, %v, want %+v", rig.Listening, err, want)
	}
	if c := rig.Cleared(); c.Ceiling != -4 || c.Voice != -24.5 {
		t.Errorf("its clearance is %+v", c)
	}
}
