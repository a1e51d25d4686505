package midiio

import "fmt"

// ControlKind is the kind of message a switch sends.
type ControlKind uint8

const (
	Controller ControlKind = iota // a control change, on at 64…127
	Note                          // a note, on at any velocity above 0
	Program                       // a program change, a press each time
	Pressure                      // channel pressure, on at 64…127
	numControlKinds
)

// String is the kind in words.
func (k ControlKind) String() string {
	switch k {
	case Controller:
		return "controller"
	case Note:
		return "note"
	case Program:
		return "program"
	case Pressure:
		return "pressure"
	}
	return fmt.Sprintf("control kind %d", uint8(k))
}

// Control is the message that a switch sends.
type Control struct {
	Kind    ControlKind
	Channel int8  // 0…15, or -1 for any
	Number  uint8 // controller 0…119, note or program 0…127, 0 for pressure
}

// String is the control in words, with the channel counted from 1.
func (c Control) String() string {
	what := c.Kind.String()
	if c.Kind != Pressure {
		what = fmt.Sprintf("%v %d", c.Kind, c.Number)
	}
	if c.Channel < 0 {
		return what + " on any channel"
	}
	return fmt.Sprintf("%s on channel %d", what, int(c.Channel)+1)
}

// Switch is one foot switch.
type Switch struct {
	Control
	Latching bool // stays where it was put: each change is a press
	Inverted bool // sends off when pressed
}

func (s Switch) check() error {
	limit := uint8(127)
	if s.Kind == Controller {
		limit = allSoundOff - 1
	}
	switch {
	case s.Kind >= numControlKinds:
		return fmt.Errorf("%v is none of controller, note, program, pressure", s.Kind)
	case s.Channel < -1 || s.Channel > 15:
		return fmt.Errorf("channel %d is out of range 1…16", int(s.Channel)+1)
	case s.Kind == Pressure && s.Number != 0:
		return fmt.Errorf("%v has no number: it must be 0, not %d", s.Kind, s.Number)
	case s.Number > limit:
		return fmt.Errorf("%v %d is out of range 0…%d", s.Kind, s.Number, limit)
	case s.Kind == Program && (s.Latching || s.Inverted):
		return fmt.Errorf("%v can be neither latching nor inverted", s.Control)
	}
	return nil
}
