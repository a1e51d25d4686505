package session

import (
	"fmt"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/midiio"
)

// message is a short MIDI message as a value.
type message struct {
	n    uint8
	data [6]byte
}

func short(bytes ...byte) (m message) {
	m.n = uint8(copy(m.data[:], bytes))
	return m
}

func (m *message) bytes() []byte { return m.data[:m.n] }

func (m message) String() string { return fmt.Sprintf("% X", m.data[:m.n]) }

// deed is a kind of thing that happens of a night.
type deed uint8

const (
	arrives deed = iota // a message comes in at an input
	asks                // a key of the computer asks for something
	takes               // the core takes what has arrived
	unplugs             // a port goes after so many messages more, and nobody notices
	loses               // a port goes
	returns             // a port comes back
	flaps               // a port comes back and goes after so many messages
)

// happening is one thing that happens of a night.
type happening struct {
	at    time.Duration
	deed  deed
	who   int // input or port
	after int // so many messages
	msg   message
	order gathering.Order
}

func (h happening) String() string {
	switch what := fmt.Sprintf("%v: port %d ", h.at, h.who); h.deed {
	case arrives:
		return fmt.Sprintf("%v: input %d gets %v", h.at, h.who, h.msg)
	case asks:
		return fmt.Sprintf("%v: asked for %v", h.at, h.order)
	case takes:
		return fmt.Sprintf("%v: the core takes what waits", h.at)
	case unplugs:
		return fmt.Sprintf("%sgoes unnoticed after %d messages", what, h.after)
	case flaps:
		return fmt.Sprintf("%sreturns and goes after %d messages", what, h.after)
	case loses:
		return what + "is lost"
	default:
		return what + "returns"
	}
}

// parts is what is to be heard at each port of a night.
var parts = [...]midiio.Part{midiio.AllParts, midiio.AllParts, midiio.PianoPart, midiio.BedPart}

// input is where a player's messages come in.
type input struct {
	role midiio.Role
	to   midiio.Outputs // the ports it is for
	past midiio.Outputs // those that it reaches by itself, as through the kernel
}

// isFoot reports whether a message from there is a foot's or the pedal's.
func (in input) isFoot(rig *gathering.Rig, m message) bool {
	return in.role == midiio.FeetRole || in.role == midiio.AnyRole && belongs(rig, m)
}

// night is a rig, a plan and all that happens.
type night struct {
	seed       uint64
	rig        gathering.Rig
	inputs     [3]input
	moments    []bed.Moment
	happenings []happening
}

func (e *night) String() string {
	c := e.rig.Bed
	return fmt.Sprintf("rig %q: share %v, player on channel %d, aside %v, in %+d, out %+d, inputs %+v, stillness %v, no bass %v, bring-in %v, fade %v, leave %v, overlap %v",
		e.rig.Name, e.rig.Share, e.rig.Player.Channel+1, e.rig.Player.Aside, e.rig.In, e.rig.Out, e.inputs, c.Voicing.Stillness, c.Voicing.NoBass, c.BringIn, c.Fade, c.Leave, c.Overlap)
}
