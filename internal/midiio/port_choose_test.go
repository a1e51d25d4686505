package midiio

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// The ports of an imagined machine.
var (
	ownIn     = PortInfo{Way: In, Name: "bedd:bedd", Address: "128:0", Ours: true}
	ownOut    = PortInfo{Way: Out, Name: "bedd:bedd", Address: "129:0", Ours: true}
	loopIn    = PortInfo{Way: In, Name: "Midi Through:Midi Through Port-0", Address: "14:0", LoopThrough: true}
	loopOut   = PortInfo{Way: Out, Name: "Midi Through:Midi Through Port-0", Address: "14:0", LoopThrough: true}
	otherIn   = PortInfo{Way: In, Name: "Editor:out", Address: "130:0", Program: true}
	otherOut  = PortInfo{Way: Out, Name: "Editor:in", Address: "130:1", Program: true}
	pianoIn   = PortInfo{Way: In, Name: "Piano:Piano MIDI 1", Address: "20:0"}
	pianoOut  = PortInfo{Way: Out, Name: "Piano:Piano MIDI 1", Address: "20:0"}
	piano2In  = PortInfo{Way: In, Name: "Piano:Piano MIDI 1", Address: "32:0"}
	feetIn    = PortInfo{Way: In, Name: "Feet:Feet MIDI 1", Address: "24:0"}
	moduleOut = PortInfo{Way: Out, Name: "Module:Module MIDI 1", Address: "28:0"}
)

// told is a choice in words.
func told(c Choice) string {
	var list []string
	for _, v := range append(append([]Verdict{}, c.Ins...), c.Outs...) {
		word := "not"
		if v.Chosen {
			word = "take"
		}
		if v.Thru {
			word += " thru"
		}
		list = append(list, fmt.Sprintf("%s %v %s: %s", word, v.Port.Way, v.Port.Address, v.Why))
	}
	return strings.Join(list, "\n")
}

func TestChoose(t *testing.T) {
	for _, c := range []struct {
		name             string
		ins, outs        []PortInfo
		wantIn, wantOuts []string
		want             string
	}{
		{"nothing there", nil, nil, nil, nil, ""},
		{"nothing but what is never taken unasked",
			[]PortInfo{loopIn, ownIn, otherIn}, []PortInfo{loopOut, ownOut, otherOut}, nil, nil,
			`not input 14:0: gives back what it gets, so it has to be named with --in
not input 128:0: bedd's own
not input 130:0: another program's, so it has to be named with --in
not output 14:0: gives back what it gets, so it has to be named with --out
not output 129:0: bedd's own
not output 130:1: another program's, so it has to be named with --out`},
		{"one stage piano",
			[]PortInfo{loopIn, pianoIn}, []PortInfo{loopOut, pianoOut}, nil, nil,
			`not input 14:0: gives back what it gets, so it has to be named with --in
take input 20:0: a device to play on; the sound is the same device's, so thru is off: its own keys already sound (if they don't: --thru on)
not output 14:0: gives back what it gets, so it has to be named with --out
take output 20:0: the only device to send to`},
		{"piano, feet and a module",
			[]PortInfo{pianoIn, feetIn}, []PortInfo{pianoOut, moduleOut}, nil, nil,
			`take thru input 20:0: a device to play on
take thru input 24:0: a device to play on
not output 20:0: "Module:Module MIDI 1" comes first; to take this one, name it with --out
take output 28:0: the first device that is not played on`},
		{"the piano's sound named",
			[]PortInfo{pianoIn, feetIn}, []PortInfo{pianoOut, moduleOut}, nil, []string{"piano"},
			`take input 20:0: a device to play on; the sound is the same device's, so thru is off: its own keys already sound (if they don't: --thru on)
take thru input 24:0: a device to play on
take output 20:0: named with --out "piano"
not output 28:0: others were named`},
		{"keys named, twice",
			[]PortInfo{pianoIn, feetIn}, []PortInfo{moduleOut}, []string{"feet", "24:0"}, nil,
			`not input 20:0: others were named
take thru input 24:0: named with --in "feet"
take output 28:0: the only device to send to`},
		{"another program named",
			[]PortInfo{otherIn, loopIn}, []PortInfo{otherOut}, []string{"editor", "through"}, []string{"editor"},
			`take input 130:0: named with --in "editor"; the sound is the same device's, so thru is off: its own keys already sound (if they don't: --thru on)
take thru input 14:0: named with --in "through"
take output 130:1: named with --out "editor"`},
		{"two pianos of one name: the second sounds",
			[]PortInfo{piano2In, pianoIn}, []PortInfo{pianoOut}, nil, nil,
			`take thru input 32:0: a device to play on
take input 20:0: a device to play on; the sound is the same device's, so thru is off: its own keys already sound (if they don't: --thru on)
take output 20:0: the only device to send to`},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Choose(c.ins, c.outs, Wishes{Ins: inWishes(c.wantIn...), Outs: outWishes(c.wantOuts)})
			if err != nil {
				t.Fatal(err)
			}
			if text := told(got); text != c.want {
				t.Errorf("got\n%s\nwant\n%s", text, c.want)
			}
		})
	}
}

func inWishes(patterns ...string) (wishes []InWish) {
	for _, p := range patterns {
		wishes = append(wishes, InWish{p, AnyRole})
	}
	return wishes
}

func outWishes(patterns []string) (wishes []OutWish) {
	for _, p := range patterns {
		wishes = append(wishes, OutWish{p, AllParts})
	}
	return wishes
}

// Piano and bed may go to devices of their own, and thru to some outputs only.
func TestChooseParts(t *testing.T) {
	ins, outs := []PortInfo{pianoIn, feetIn}, []PortInfo{pianoOut, moduleOut}
	for _, c := range []struct {
		wishes Wishes
		want   string // where the piano's and the feet's messages go, and what the outputs carry
		why    string // of the piano's
	}{
		{Wishes{Outs: []OutWish{{"module", BedPart}}}, "0 0, 0 2",
			"a device to play on; no output carries the piano, so thru is off"},
		{Wishes{Outs: []OutWish{{"piano", AllParts}, {"module", AllParts}}}, "10 11, 3 3",
			"a device to play on; thru goes to the other outputs only: its own keys already sound"},
		{Wishes{Outs: []OutWish{{"piano", PianoPart}, {"module", BedPart}}, Thru: ThruOn}, "1 1, 1 2",
			"a device to play on"},
		{Wishes{Outs: []OutWish{{"module", PianoPart}, {"28:0", BedPart}}}, "1 1, 0 3", "a device to play on"},
		{Wishes{Outs: []OutWish{{"piano", AllParts}}, Thru: ThruOn}, "1 1, 3 0", "a device to play on"},
		{Wishes{Thru: ThruOff}, "0 0, 0 2", "a device to play on; thru is off, as asked"},
	} {
		got, err := Choose(ins, outs, c.wishes)
		if err != nil {
			t.Fatal(err)
		}
		text := fmt.Sprintf("%b %b, %d %d", got.Ins[0].Outs, got.Ins[1].Outs, got.Outs[0].Parts, got.Outs[1].Parts)
		if text != c.want || got.Ins[0].Why != c.why {
			t.Errorf("%+v: %s, %q; want %s, %q", c.wishes, text, got.Ins[0].Why, c.want, c.why)
		}
		for _, v := range got.Ins {
			if v.Thru != (v.Outs != 0) {
				t.Errorf("%+v: thru is %v, to %b", c.wishes, v.Thru, v.Outs)
			}
		}
	}
	for _, c := range []struct {
		ins  []InWish
		want string // roles, and where the messages go
		why  string // of the feet's
	}{
		{nil, "3 3, 1 1", "a device to play on"},
		{[]InWish{{"piano", KeysRole}, {"feet", FeetRole}}, "1 2, 1 0", `named with --in-feet "feet"; for feet alone, so nothing of it goes thru`},
		{[]InWish{{"piano", AnyRole}}, "3 0, 1 0", "others were named"},
		{[]InWish{{"feet", FeetRole}, {"24:0", KeysRole}}, "0 3, 0 1", `named with --in-feet "feet" and --in-keys "24:0"`},
		{[]InWish{{"feet", FeetRole}, {"24:0", AnyRole}}, "0 3, 0 1", `named with --in-feet "feet" and --in "24:0"`},
	} {
		got, err := Choose(ins, []PortInfo{moduleOut}, Wishes{Ins: c.ins})
		if err != nil {
			t.Fatal(err)
		}
		text := fmt.Sprintf("%d %d, %b %b", got.Ins[0].Role, got.Ins[1].Role, got.Ins[0].Outs, got.Ins[1].Outs)
		if text != c.want || got.Ins[1].Why != c.why {
			t.Errorf("%+v: %s, %q; want %s, %q", c.ins, text, got.Ins[1].Why, c.want, c.why)
		}
	}
	_, err := Choose(ins, outs, Wishes{Ins: []InWish{{"organ", KeysRole}}})
	if err == nil || !strings.HasSuffix(err.Error(), "; name one with --in-keys") {
		t.Errorf("no such keys: %v", err)
	}
	if c, err := Choose(ins, outs, Wishes{Outs: []OutWish{{"module", PianoPart}, {"28:0", BedPart}}}); err != nil || c.Outs[1].Why != `named with --out-piano "module" and --out-bed "28:0"` {
		t.Errorf("named twice: %q, %v", c.Outs[1].Why, err)
	}
	if _, err := Choose(ins, outs, Wishes{Outs: []OutWish{{"module", PianoPart}}}); !errors.Is(err, ErrNoBed) {
		t.Errorf("the piano alone: %v, want %v", err, ErrNoBed)
	}
	_, err = Choose(ins, outs, Wishes{Outs: []OutWish{{"organ", BedPart}}})
	const none = `no MIDI output matches "organ": found "Piano:Piano MIDI 1", "Module:Module MIDI 1"; name one with --out-bed`
	if err == nil || err.Error() != none {
		t.Errorf("got %v, want %s", err, none)
	}
	if _, err := Choose(ins, outs, Wishes{Outs: make([]OutWish, MaxOutputs+1)}); err == nil {
		t.Error("too many outputs are taken")
	}
	alone, err := Choose(ins, nil, Wishes{})
	if err != nil || !alone.Ins[0].Thru || alone.Ins[0].Outs != 0 {
		t.Errorf("with the built-in sound alone: %+v, %v", alone.Ins[0], err)
	}
}

func TestChooseNamesWhatIsMissing(t *testing.T) {
	_, err := Choose([]PortInfo{pianoIn, piano2In}, nil, Wishes{Ins: inWishes("piano")})
	const two = `2 MIDI inputs are called "Piano:Piano MIDI 1": name one by its address with --in: 20:0, 32:0`
	if err == nil || err.Error() != two || !errors.Is(err, ErrSeveral) {
		t.Errorf("got %v, want %s", err, two)
	}
	_, err = Choose(nil, []PortInfo{moduleOut}, Wishes{Outs: outWishes([]string{"organ"})})
	const none = `no MIDI output matches "organ": found "Module:Module MIDI 1"; name one with --out`
	if err == nil || err.Error() != none || !errors.Is(err, ErrNoPort) {
		t.Errorf("got %v, want %s", err, none)
	}
}

// Whatever is plugged in, bedd takes on its own only devices, at most one
// output, and no thru from a device to itself.
func TestChooseUnasked(t *testing.T) {
	inKinds := []PortInfo{ownIn, loopIn, otherIn, pianoIn, piano2In, feetIn}
	outKinds := []PortInfo{ownOut, loopOut, otherOut, pianoOut, moduleOut}
	rapid.Check(t, func(t *rapid.T) {
		ins := rapid.Permutation(inKinds).Draw(t, "ins")[:rapid.IntRange(0, len(inKinds)).Draw(t, "in")]
		outs := rapid.Permutation(outKinds).Draw(t, "outs")[:rapid.IntRange(0, len(outKinds)).Draw(t, "out")]
		c, err := Choose(ins, outs, Wishes{})
		if err != nil {
			t.Fatal(err)
		}
		devices := 0
		for _, p := range outs {
			if p.Hardware() {
				devices++
			}
		}
		chosen := Chosen(c.Outs)
		if len(chosen) != min(devices, 1) {
			t.Fatalf("%d outputs taken of %d devices", len(chosen), devices)
		}
		for i, v := range c.Ins {
			if v.Port != ins[i] || v.Chosen != ins[i].Hardware() || v.Thru && !v.Chosen || v.Why == "" {
				t.Fatalf("input %v: %+v", ins[i], v)
			}
		}
		for i, o := range c.Outs {
			if o.Port != outs[i] || o.Chosen && !o.Port.Hardware() || o.Why == "" {
				t.Fatalf("output %v: %+v", outs[i], o)
			}
			for _, v := range c.Ins {
				if o.Chosen && v.Thru && v.Port.Address == o.Port.Address {
					t.Fatalf("thru from %v to itself", v.Port)
				}
			}
		}
	})
}
