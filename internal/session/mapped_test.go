package session

import (
	"testing"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/midiio"
)

// What belongs to a switch as the feet read it is exactly what is kept from
// thru, message by message.
func TestMappedIsWhatFeetUse(t *testing.T) {
	controls := []midiio.Control{
		{Kind: midiio.Controller, Channel: 0, Number: 80}, {Kind: midiio.Controller, Channel: -1, Number: 81},
		{Kind: midiio.Note, Channel: 3, Number: 21}, {Kind: midiio.Note, Channel: -1, Number: 0},
		{Kind: midiio.Program, Channel: 15, Number: 127}, {Kind: midiio.Program, Channel: -1, Number: 5},
		{Kind: midiio.Pressure, Channel: 9},
	}
	everywhere := []midiio.Control{{Kind: midiio.Pressure, Channel: -1}}
	for _, list := range [][]midiio.Control{controls, everywhere, nil} {
		var rig gathering.Rig
		var switches []midiio.Switch
		for _, c := range list {
			rig.Feet = append(rig.Feet, gathering.Foot{Switch: midiio.Switch{Control: c}})
			switches = append(switches, midiio.Switch{Control: c})
		}
		feet, err := midiio.NewFeet(switches, 700*ms)
		if err != nil {
			t.Fatal(err)
		}
		var m mapped
		m.fill(rig)
		kept := 0
		for status := 0x80; status < 0xF0; status++ {
			for number := range byte(128) {
				msg := []byte{byte(status), number, 64}
				if status&0xF0 == 0xC0 || status&0xF0 == 0xD0 {
					msg = msg[:2]
				}
				_, used := feet.Message(0, msg, nil)
				if got := m.has(msg); got != used {
					t.Fatalf("% X is kept from thru: %v, used by the feet: %v", msg, got, used)
				}
				if used {
					kept++
				}
			}
		}
		if (kept > 0) != (len(list) > 0) {
			t.Errorf("%d messages are kept from thru for %d switches", kept, len(list))
		}
	}
}

// Pressure on the channel of a switch moves the bed and stays out of thru; on
// another channel it is the player's.
func TestPressureAsASwitch(t *testing.T) {
	rig := gathering.DefaultRig()
	rig.Feet[0].Switch.Control = midiio.Control{Kind: midiio.Pressure, Channel: 8}
	h := newHeard(t, rig, evening(t))
	for i, value := range []byte{20, 63, 64, 127, 63, 0} {
		h.Message(time.Duration(i)*100*ms, []byte{0xD8, value})
	}
	if got, want := h.words(), "do bring-in, chord C"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	h.Message(1000*ms, []byte{0xD0, 90})
	var through [][]byte
	for _, s := range h.take.Sent() {
		if s.From == Thru {
			through = append(through, s.Data)
		}
	}
	if len(through) != 1 || string(through[0]) != "\xD0\x5A" {
		t.Errorf("% X goes through, want D0 5A alone", through)
	}
	h.finish(t)
}
