package midiio

import (
	"fmt"
	"time"
)

// bounceWindow is how long after a switch's last accepted change another one is
// taken for bounce. Common practice, no source: well over the 6.2 ms that
// Ganssle measured as the worst of ordinary switches, well under the time a
// foot needs to lift and press again.
const bounceWindow = 40 * time.Millisecond

// maxSwitches bounds the work of one Message or Advance.
const maxSwitches = 64

// GestureKind is what a foot did.
type GestureKind uint8

const (
	Pressed  GestureKind = iota + 1 // the switch went down, or a latching one changed
	Held                            // it has been down for the hold time
	Released                        // it came up
)

// String is the gesture in one word.
func (k GestureKind) String() string {
	switch k {
	case Pressed:
		return "pressed"
	case Held:
		return "held"
	case Released:
		return "released"
	}
	return fmt.Sprintf("gesture kind %d", uint8(k))
}

// Gesture is something a foot did. At is when it was due, not when somebody
// looked.
type Gesture struct {
	At     time.Duration
	Switch int // index into the switches given to NewFeet
	Kind   GestureKind
}

// Feet turns the messages of foot switches into gestures. It is a pure state
// machine: the caller passes the time in. A clock that goes back is taken for
// one that stands still. Not safe for several goroutines.
type Feet struct {
	hold     time.Duration
	now      time.Duration
	switches []switchState
	owner    [numControlKinds][16][128]uint8 // index into switches plus 1, or 0
}

// switchState is a switch and what is known of it.
//
//	raw       ──┐ ┌┐ ┌────────┐ ┌────────
//	            └─┘└─┘        └─┘
//	accepted  ──┐             ┌──────────
//	            └─────────────┘
//	            |<- 40 ms ->|  judged by where raw has settled
type switchState struct {
	Switch
	raw, accepted bool
	seen          bool // at least one change has been accepted
	held          bool // Held has been reported for this press
	changed       time.Duration
}

// NewFeet makes a Feet for switches that are up. hold is how long a momentary
// switch is down before Held is reported; it must be longer than the 40 ms
// within which a change may be bounce. It refuses more than 64 switches,
// numbers out of range, two switches that send the same message, and a program
// change that is to be latching or inverted, since it says nothing but "press".
func NewFeet(switches []Switch, hold time.Duration) (*Feet, error) {
	if len(switches) > maxSwitches {
		return nil, fmt.Errorf("%d switches are more than the %d accepted", len(switches), maxSwitches)
	}
	if hold <= bounceWindow {
		return nil, fmt.Errorf("a hold time of %v is too short: more than %v is accepted", hold, bounceWindow)
	}
	f := &Feet{hold: hold}
	for i, s := range switches {
		if err := s.check(); err != nil {
			return nil, fmt.Errorf("switch %d: %w", i+1, err)
		}
		first, last := s.Channel, s.Channel
		if s.Channel < 0 {
			first, last = 0, 15
		}
		for ch := first; ch <= last; ch++ {
			owner := &f.owner[s.Kind][ch][s.Number]
			if *owner != 0 {
				other := int(*owner) - 1
				return nil, fmt.Errorf("switch %d: %v is already switch %d (%v)", i+1, s.Control, other+1, switches[other].Control)
			}
			*owner = uint8(i + 1)
		}
		f.switches = append(f.switches, switchState{Switch: s})
	}
	return f, nil
}

// Message takes one message that arrived at the time at. It appends to out the
// gestures that were due before at and those the message makes, and reports
// whether the message belongs to a switch, in which case it must not reach
// thru. Hot path: no allocation while out has room; O(switches).
func (f *Feet) Message(at time.Duration, msg []byte, out []Gesture) (gestures []Gesture, used bool) {
	at = max(at, f.now)
	out = f.until(at-1, out)
	f.now = at

	s, on, used := f.find(msg)
	if s < 0 {
		return out, used
	}
	sw := &f.switches[s]
	sw.raw = on != sw.Inverted
	if sw.seen && at-sw.changed < bounceWindow {
		return out, used // judged at the window's end
	}
	return sw.settle(at, s, out), used
}

// find is the switch a message belongs to and whether it says on, or -1 when
// it moves none; used holds for all that a switch sends.
func (f *Feet) find(msg []byte) (s int, on, used bool) {
	if !whole(msg) || msg[0] >= sysexStart {
		return -1, false, false
	}
	var kind ControlKind
	number, moves := msg[1], true
	switch msg[0] & 0xF0 {
	case controller:
		kind, on = Controller, msg[2] >= switchedOn
	case noteOn:
		kind, on = Note, msg[2] > 0
	case noteOff:
		kind = Note
	case polyPressure:
		kind, moves = Note, false
	case program:
		kind, on = Program, true
	case channelPressure:
		kind, on, number = Pressure, msg[1] >= switchedOn, 0
	default:
		return -1, false, false
	}
	s = int(f.owner[kind][msg[0]&0x0F][number]) - 1
	if s < 0 || !moves {
		return -1, false, s >= 0
	}
	return s, on, true
}

// settle accepts the raw state at a time when it is not bounce.
func (s *switchState) settle(at time.Duration, index int, out []Gesture) []Gesture {
	switch {
	case s.Kind == Program:
	case s.Latching && !s.seen:
	case s.raw == s.accepted:
		return out
	}
	s.accepted, s.changed, s.seen, s.held = s.raw, at, true, false
	kind := Pressed
	if !s.accepted && !s.Latching {
		kind = Released
	}
	return append(out, Gesture{At: at, Switch: index, Kind: kind})
}

// due is when the switch next does something without a message.
func (s *switchState) due(hold time.Duration) (time.Duration, bool) {
	switch {
	case s.Kind == Program || !s.seen:
		return 0, false
	case s.raw != s.accepted:
		return s.changed + bounceWindow, true
	case s.accepted && !s.Latching && !s.held:
		return s.changed + hold, true
	}
	return 0, false
}

// next is the switch that is due first, the lower index on equal times.
func (f *Feet) next() (s int, at time.Duration, ok bool) {
	for i := range f.switches {
		if due, waiting := f.switches[i].due(f.hold); waiting && (!ok || due < at) {
			s, at, ok = i, due, true
		}
	}
	return s, at, ok
}

// Deadline is when Advance next has something to report, if no message comes
// before. O(switches).
func (f *Feet) Deadline() (time.Duration, bool) {
	_, at, ok := f.next()
	return at, ok
}

// Advance appends the gestures due at or before at, in order of time, each with
// the time it was due. The messages that arrived at the very time at must have
// been given before: they count first. Hot path: no allocation while out has
// room; O(switches) a gesture.
func (f *Feet) Advance(at time.Duration, out []Gesture) []Gesture {
	at = max(at, f.now)
	out = f.until(at, out)
	f.now = at
	return out
}

func (f *Feet) until(at time.Duration, out []Gesture) []Gesture {
	for {
		i, due, ok := f.next()
		if !ok || due > at {
			return out
		}
		s := &f.switches[i]
		if s.raw != s.accepted {
			out = s.settle(due, i, out)
			continue
		}
		s.held = true
		out = append(out, Gesture{At: due, Switch: i, Kind: Held})
	}
}
