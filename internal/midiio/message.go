package midiio

// Status bytes of the MIDI 1.0 Detailed Specification (4.2). A channel message
// has its channel in the low four bits.
const (
	noteOff         = 0x80
	noteOn          = 0x90
	polyPressure    = 0xA0
	controller      = 0xB0
	program         = 0xC0
	channelPressure = 0xD0
	pitchBend       = 0xE0
	sysexStart      = 0xF0
	sysexEnd        = 0xF7
	realTime        = 0xF8 // and above: messages of one byte that may come at any time
	activeSensing   = 0xFE
	reset           = 0xFF
	metaEvent       = 0xFF // in files
)

// Controllers that the ledger looks at (1.3 of the same specification).
const (
	bankMSB          = 0
	dataMSB          = 6
	bankLSB          = 32
	dataLSB          = 38
	damper           = 64
	sostenuto        = 66
	hold2            = 69
	increment        = 96 // to 101: data increment and decrement, parameter numbers
	parameterMSB     = 101
	allSoundOff      = 120 // the first of the channel mode messages
	resetControllers = 121
	allNotesOff      = 123 // 124…127 turn all notes off too
)

// holdPedals are the controllers that keep notes sounding whose keys are up.
var holdPedals = [...]uint8{damper, sostenuto, hold2}

// holdPedal is the index in holdPedals of what a message moves.
func holdPedal(msg []byte) (i int, ok bool) {
	if msg[0]&0xF0 != controller {
		return 0, false
	}
	for i, number := range holdPedals {
		if msg[1] == number {
			return i, true
		}
	}
	return 0, false
}

// releaseVelocity is what an off has that has none to pass on (from memory of
// the same specification).
const releaseVelocity = 64

// switchedOn is the least value that counts as on for switch controllers such
// as the damper: 64…127 is on, 0…63 is off (MIDI 1.0, controllers 64–69).
const switchedOn = 64

// dataBytes is how many data bytes follow a status byte, or -1 where the
// status itself doesn't say (SysEx) or is undefined.
func dataBytes(status byte) int {
	switch {
	case status < 0x80:
		return -1
	case status < 0xC0, status >= 0xE0 && status < 0xF0:
		return 2
	case status < 0xE0:
		return 1
	}
	switch status {
	case 0xF1, 0xF3: // time code quarter frame, song select
		return 1
	case 0xF2: // song position
		return 2
	case 0xF6, 0xF8, 0xFA, 0xFB, 0xFC, 0xFE, 0xFF:
		return 0
	}
	return -1
}

// whole reports whether msg is exactly one well-formed message.
func whole(msg []byte) bool {
	if len(msg) == 0 {
		return false
	}
	data := msg[1:]
	if msg[0] == sysexStart {
		if len(data) == 0 || data[len(data)-1] != sysexEnd {
			return false
		}
		data = data[:len(data)-1]
	} else if len(data) != dataBytes(msg[0]) {
		return false
	}
	for _, b := range data {
		if b >= 0x80 {
			return false
		}
	}
	return true
}
