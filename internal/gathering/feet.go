package gathering

import (
	"strings"
	"time"

	"bedd/internal/midiio"

	"go.yaml.in/yaml/v3"
)

// Foot is a switch and what it asks for. Press acts when it goes down; Tap
// acts when it comes up before the hold time; a foot has at most one of the
// two. Hold acts when it has been down for the hold time.
type Foot struct {
	Name             string // for screens: "left", or empty
	Switch           midiio.Switch
	Press, Tap, Hold Order
}

// maxHold is longer than anyone waits for a switch.
const maxHold = 5 * time.Second

// maxFeet is as many switches as are watched.
const maxFeet = 64

// feetReader remembers where each switch of a rig is written.
type feetReader struct{ lines []int }

func (f *feetReader) switches(r *reader, n *yaml.Node, rig *Rig) {
	for _, item := range r.list(n, "switches", maxFeet) {
		foot, ok := r.foot(item, rig.Player.Channel)
		if !ok {
			continue
		}
		c := foot.Switch.Control
		if p := rig.Pedal; p.On && (alike(c, p.Control) || p.Fine && alike(c, low(p.Control))) {
			r.fault(item.Line, "%v is the pedal's", c)
			continue
		}
		taken := false
		for i, other := range rig.Feet {
			if alike(c, other.Switch.Control) {
				r.fault(item.Line, "%v is already the switch on line %d", c, f.lines[i])
				taken = true
				break
			}
		}
		if !taken {
			rig.Feet, f.lines = append(rig.Feet, foot), append(f.lines, item.Line)
		}
	}
}

// low is the controller that carries the lower seven bits.
func low(c midiio.Control) midiio.Control {
	c.Number += 32
	return c
}

// alike reports whether one message may be both.
func alike(a, b midiio.Control) bool {
	return a.Kind == b.Kind && a.Number == b.Number && (a.Channel == b.Channel || a.Channel < 0 || b.Channel < 0)
}

func (r *reader) foot(n *yaml.Node, channel uint8) (Foot, bool) {
	f := Foot{Switch: midiio.Switch{Control: midiio.Control{Channel: int8(channel)}}}
	s := &f.Switch
	before := len(r.faults)
	said := r.mapping(n, "a switch",
		field{"name", r.text("name", &f.Name)},
		field{"control", func(n *yaml.Node) { r.control(n, &s.Control) }},
		field{"channel", r.channelOrAny("channel", &s.Channel)},
		field{"latching", r.flag("latching", &s.Latching)},
		field{"inverted", r.flag("inverted", &s.Inverted)},
		field{"press", r.order("press", &f.Press)},
		field{"tap", r.order("tap", &f.Tap)},
		field{"hold", r.order("hold", &f.Hold)},
	)
	if said == nil {
		return f, false
	}
	program := s.Kind == midiio.Program
	switch {
	case !said.has("control"):
		r.fault(n.Line, "a switch needs control: what it sends, as in controller 80")
	case !said.has("press") && !said.has("tap") && !said.has("hold"):
		r.fault(n.Line, "this switch does nothing: give it press:, tap: or hold:")
	case said.has("press") && said.has("tap"):
		r.fault(said.line("tap"), "press and tap exclude each other: press acts when the foot goes down, tap when it comes up in time")
	case program && (s.Latching || s.Inverted):
		r.fault(n.Line, "a program change can be neither latching nor inverted")
	case program && (said.has("tap") || said.has("hold")):
		r.fault(n.Line, "a program change says only that the foot went down: use press")
	case s.Latching && (said.has("tap") || said.has("hold")):
		r.fault(n.Line, "a latching switch does not come up again: use press")
	}
	return f, len(r.faults) == before
}

// control reads what a switch sends: "controller 80", "note A0", "program 5",
// "pressure".
func (r *reader) control(n *yaml.Node, to *midiio.Control) bool {
	s, ok := r.words(n, "control")
	if !ok {
		return false
	}
	kind, number, _ := strings.Cut(s, " ")
	number = strings.TrimSpace(number)
	switch kind {
	case "controller":
		v, ok := r.number(n.Line, "controller", number, 0, 127)
		if ok && v > lastController {
			r.fault(n.Line, "controller %d is a channel mode message: controllers 0…%d can be a switch", v, lastController)
			return false
		}
		to.Kind, to.Number = midiio.Controller, uint8(v)
		return ok
	case "note":
		v, ok := r.noteIn(n.Line, "note", number)
		to.Kind, to.Number = midiio.Note, v
		return ok
	case "program":
		v, ok := r.number(n.Line, "program", number, 1, 128)
		to.Kind, to.Number = midiio.Program, uint8(v-1)
		return ok
	case "pressure":
		if number != "" {
			r.fault(n.Line, "pressure has no number, not %q: write control: pressure", clip(number))
			return false
		}
		to.Kind, to.Number = midiio.Pressure, 0
		return true
	}
	r.fault(n.Line, "control %q is none of controller 80, note A0, program 5, pressure and their like", clip(s))
	return false
}

func (r *reader) channelOrAny(what string, to *int8) func(*yaml.Node) {
	return func(n *yaml.Node) {
		if n.Kind == yaml.ScalarNode && strings.TrimSpace(n.Value) == "any" {
			*to = -1
			return
		}
		r.whole(what, 1, 16, func(v int) { *to = int8(v - 1) })(n)
	}
}

func (r *reader) order(what string, to *Order) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.words(n, what)
		if !ok {
			return
		}
		o, err := ParseOrder(s)
		if err != nil {
			r.fault(n.Line, "%s: %v", what, err)
			return
		}
		*to = o
	}
}
