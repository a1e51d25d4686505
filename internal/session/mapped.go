package session

import (
	"bedd/internal/gathering"
	"bedd/internal/midiio"
)

// mapped is the set of messages that the rig gives to feet and pedal: they do
// not reach thru.
type mapped struct {
	controllers, notes, programs [16][128]bool
	pressures                    [16]bool
}

func (m *mapped) fill(rig gathering.Rig) {
	for _, f := range rig.Feet {
		m.add(f.Switch.Control)
	}
	if rig.Pedal.On {
		m.add(rig.Pedal.Control)
		if rig.Pedal.Fine {
			low := rig.Pedal.Control
			low.Number += 32
			m.add(low)
		}
	}
}

func (m *mapped) add(c midiio.Control) {
	for channel := range m.pressures {
		if c.Channel >= 0 && int(c.Channel) != channel {
			continue
		}
		switch c.Kind {
		case midiio.Controller:
			m.controllers[channel][c.Number] = true
		case midiio.Note:
			m.notes[channel][c.Number] = true
		case midiio.Program:
			m.programs[channel][c.Number] = true
		case midiio.Pressure:
			m.pressures[channel] = true
		}
	}
}

// has reports whether msg belongs to the rig. Hot path: O(1).
func (m *mapped) has(msg []byte) bool {
	if len(msg) < 2 || msg[1] > 127 {
		return false
	}
	channel, number := msg[0]&0x0F, msg[1]
	switch msg[0] & 0xF0 {
	case 0x80, 0x90, 0xA0:
		return m.notes[channel][number]
	case 0xB0:
		return m.controllers[channel][number]
	case 0xC0:
		return m.programs[channel][number]
	case 0xD0:
		return m.pressures[channel]
	}
	return false
}
