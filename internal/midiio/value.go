package midiio

import "fmt"

// A value is a message that says where a control stands: pitch bend, pressure, or
// a controller. A newer one makes it void, so that one of them may be left out when
// there are too many. Not among them are the controllers that mean something by
// their order (bank select, data entry, increment and decrement, parameter
// numbers) and the channel mode messages (MIDI 1.0 Detailed Specification 4.2).

// The numbers of the controls on one channel: first the controllers.
const (
	pressureControl = 128 + iota // of the channel
	bendControl
	keyPressureControl // and 127 more, by key
	numControls        = keyPressureControl + 128
)

// controlNumber identifies a control among those of all channels.
type controlNumber uint16

func (n controlNumber) channel() uint8 { return uint8(n / numControls) }
func (n controlNumber) onChannel() int { return int(n % numControls) }

// lowerHalf reports whether it is a controller that holds the lower seven bits of
// another, whose number is less by 32.
func (n controlNumber) lowerHalf() bool { return n.onChannel() >= 32 && n.onChannel() < 64 }

// String is the control in words, with the channel counted from 1.
func (n controlNumber) String() string {
	channel := n.channel() + 1
	switch c := n.onChannel(); {
	case c < pressureControl:
		return fmt.Sprintf("controller %d on channel %d", c, channel)
	case c == pressureControl:
		return fmt.Sprintf("pressure on channel %d", channel)
	case c == bendControl:
		return fmt.Sprintf("pitch bend on channel %d", channel)
	default:
		return fmt.Sprintf("pressure of note %d on channel %d", c-keyPressureControl, channel)
	}
}

// valueOf tells which control a message is a value of, if it is one.
func valueOf(msg []byte) (n controlNumber, ok bool) {
	c := 0
	switch msg[0] & 0xF0 {
	case controller:
		switch number := msg[1]; {
		case number == bankMSB, number == bankLSB, number == dataMSB, number == dataLSB,
			number >= increment && number <= parameterMSB, number >= allSoundOff:
			return 0, false
		}
		c = int(msg[1])
	case channelPressure:
		c = pressureControl
	case pitchBend:
		c = bendControl
	case polyPressure:
		c = keyPressureControl + int(msg[1])
	default:
		return 0, false
	}
	return controlNumber(int(msg[0]&0x0F)*numControls + c), true
}

// isForAll reports whether a message may change the controls of all channels: a
// SysEx or a reset.
func isForAll(msg []byte) bool { return msg[0] == sysexStart || msg[0] == reset }

// switchValue is what a message says of a control that may be a switch, with on
// at 64…127: a controller or channel pressure.
func switchValue(msg []byte) (value uint8, ok bool) {
	switch msg[0] & 0xF0 {
	case controller:
		return msg[2], true
	case channelPressure:
		return msg[1], true
	}
	return 0, false
}

// shortMessage is a copy of a message of three bytes at most.
type shortMessage struct {
	data [3]byte
	size uint8
}

func shortCopy(msg []byte) (m shortMessage) {
	m.size = uint8(copy(m.data[:], msg))
	return m
}

func (m *shortMessage) bytes() []byte { return m.data[:m.size] }
