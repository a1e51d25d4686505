package session

import (
	"slices"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/midiio"
)

// What a message may come from decides what it is: keys alone are no feet, and
// feet alone no piano.
func TestRolesOfInputs(t *testing.T) {
	press, strike := []byte{0xB0, 80, 127}, []byte{0x90, 60, 80}
	for _, c := range []struct {
		role  midiio.Role
		heard []string
		moved bool // the bed comes in
	}{
		{midiio.AnyRole, []string{"903C50"}, true},
		{midiio.KeysRole, []string{"B0507F", "903C50"}, false},
		{midiio.FeetRole, nil, true},
	} {
		var piano synth
		h := newHeard(t, gathering.DefaultRig(), evening(t), Destination{&piano, midiio.PianoPart})
		for _, msg := range [][]byte{press, strike} {
			h.Thru(0, msg, Passage{Role: c.role, To: 1})
			h.Observe(0, msg, c.role)
		}
		if got := piano.take(); !slices.Equal(got, c.heard) {
			t.Errorf("role %d: the piano's synth hears %v, want %v", c.role, got, c.heard)
		}
		if got := !h.bed.Silent(); got != c.moved {
			t.Errorf("role %d: the bed came in: %v, want %v", c.role, got, c.moved)
		}
		h.End(time.Second)
	}
}

// Feet alone play no notes to the bed: with capture what they send is no chord.
func TestFeetAreNotCaptured(t *testing.T) {
	h := newHeard(t, gathering.DefaultRig(), evening(t))
	before := h.View().Chord
	for _, note := range []byte{62, 66, 69} {
		h.Observe(0, []byte{0x90, note, 80}, midiio.FeetRole)
	}
	h.Ask(time.Second, gathering.Order{Command: bed.Capture})
	if got := h.View().Chord; got.String() != before.String() {
		t.Errorf("feet were captured as %v", got)
	}
}

// What has reached a synth by itself is not sent there, is recorded, and is in
// the synth's ledger, whatever it is for.
func TestCarriedIsNotSentButKnown(t *testing.T) {
	var past, sent synth
	h := newHeard(t, gathering.DefaultRig(), evening(t), Destination{&past, midiio.PianoPart}, Destination{&sent, midiio.PianoPart})
	for _, msg := range [][]byte{{0x90, 60, 80}, {0xB0, 80, 127}} {
		h.Thru(0, msg, Passage{Role: midiio.AnyRole, To: 2, Carried: 1})
	}
	if got := past.take(); len(got) > 0 {
		t.Errorf("it is sent again: %v", got)
	}
	if got, want := sent.take(), []string{"903C50"}; !slices.Equal(got, want) {
		t.Errorf("the other synth hears %v, want %v", got, want)
	}
	var recorded []string
	for _, s := range h.take.Sent() {
		if s.From == Thru {
			recorded = append(recorded, string(s.Data))
		}
	}
	if !slices.Equal(recorded, []string{"\x90\x3C\x50"}) {
		t.Errorf("recorded is %q", recorded)
	}
	h.Finish(time.Second)
	if got, want := past.take(), []string{"803C40"}; !slices.Equal(got, want) {
		t.Errorf("at the end it hears %v, want %v", got, want)
	}
}

// What bedd does on the way is told, and nothing that it doesn't do.
func TestFilterOf(t *testing.T) {
	none, err := gathering.ReadRig("none.yaml", []byte("pedal: none\nkeys: {a: step, b: fade}\n"))
	if err != nil {
		t.Fatal(err)
	}
	changed := none
	changed.Out, changed.Player.Aside = -2, map[uint8]uint8{1: 3}
	share := none
	share.Share = true
	standard := gathering.DefaultRig()
	feet := "feet and pedal (controller 80, controller 81, controller 82, controller 83, controller 11 on channel 1)"
	mixed := none
	for _, control := range []midiio.Control{{Kind: midiio.Note, Channel: 3, Number: 21}, {Kind: midiio.Pressure, Channel: -1}} {
		mixed.Feet = append(mixed.Feet, gathering.Foot{Switch: midiio.Switch{Control: control}})
	}
	for _, c := range []struct {
		rig   *gathering.Rig
		role  midiio.Role
		parts midiio.Part
		want  string
	}{
		{&none, midiio.AnyRole, midiio.PianoPart, " | "},
		{&none, midiio.AnyRole, midiio.AllParts, " | the bed's channels 2 and 3"},
		{&standard, midiio.KeysRole, midiio.PianoPart, " | "},
		{&standard, midiio.AnyRole, midiio.PianoPart, " | " + feet},
		{&standard, midiio.AnyRole, midiio.AllParts, " | " + feet + "; the bed's channels 2 and 3"},
		{&mixed, midiio.AnyRole, midiio.PianoPart, " | feet and pedal (note 21 on channel 4, pressure on any channel)"},
		{&changed, midiio.KeysRole, midiio.PianoPart, "transposes by -2 (transpose: out); moves channels (aside:) | "},
		{&share, midiio.KeysRole, midiio.PianoPart, " | "},
		{&share, midiio.KeysRole, midiio.AllParts, "keeps two players of one sound apart (share:) | "},
	} {
		f := FilterOf(c.rig, c.role, c.parts)
		if got := strings.Join(f.Changes, "; ") + " | " + strings.Join(f.LeftOut, "; "); got != c.want || f.Nothing() != (c.want == " | ") {
			t.Errorf("%s, role %d, parts %d: %q, nothing %v, want %q", c.rig.Name, c.role, c.parts, got, f.Nothing(), c.want)
		}
	}
}
