package gathering

import (
	"fmt"
	"strings"
	"time"

	"bedd/internal/midiio"
	"bedd/internal/pitch"
)

// Learner finds out what switches and a pedal send from a player who presses
// each switch twice, briefly and with a second between, and moves the pedal from
// heel to toe. The zero value has heard nothing. Not safe for several
// goroutines.
type Learner struct {
	controls []heard // in the order they came
	over     bool    // there were more controls than are kept
}

// maxHeard is as many controls as are kept: what a rig reads, and a pedal of 14
// bits.
const maxHeard = maxFeet + 2

// heard is a control and what is known of it.
type heard struct {
	midiio.Control
	presses
	came        int      // messages so far
	values      int      // how many different values they had
	first       [128]int // which message had a value first, counted from 1; 0 where none had
	last        uint8    // the value that came last
	least, most uint8
	fine        bool   // a lower half came
	low, high   uint16 // the least and the largest of both halves, when fine
}

// sweepValues is how many different values make a controller a pedal's: a switch
// has two.
const sweepValues = 3

func (h *heard) sweeps() bool { return h.Kind == midiio.Controller && h.values >= sweepValues }

// Hear takes one message that arrived at the time at, and gives the name of the
// control where it is a new one, as in "controller 80 on channel 1", else
// nothing. Programs and channels count from 1 as in a rig file. Messages that
// neither a switch nor a pedal sends are passed over, and new controls when
// there are more than a rig reads.
func (l *Learner) Hear(at time.Duration, msg []byte) (name string) {
	c, value, ok := controlOf(msg)
	if !ok {
		return ""
	}
	h := l.find(c)
	if h == nil {
		switch {
		case c.Kind == midiio.Note && value == 0:
			return "" // the end of one that was struck before
		case len(l.controls) == maxHeard:
			l.over = true
			return ""
		}
		l.controls = append(l.controls, heard{Control: c, least: value, most: value})
		h, name = &l.controls[len(l.controls)-1], onChannel(c)
	}
	h.hear(value)
	h.presses.hear(at, value >= 64 || c.Kind == midiio.Note && value > 0)
	if upper := l.upper(c); upper != nil {
		upper.refine(value)
	}
	return name
}

// controlOf is what a message says of which control; value is a note's velocity,
// 0 at its end.
func controlOf(msg []byte) (c midiio.Control, value uint8, ok bool) {
	if len(msg) < 2 || msg[1] > 127 || len(msg) > 2 && msg[2] > 127 {
		return c, 0, false
	}
	c = midiio.Control{Channel: int8(msg[0] & 0x0F), Number: msg[1]}
	switch status := msg[0] & 0xF0; {
	case status == 0xB0 && len(msg) == 3 && c.Number <= lastController:
		c.Kind = midiio.Controller
		return c, msg[2], true
	case status == 0x90 && len(msg) == 3:
		c.Kind = midiio.Note
		return c, msg[2], true
	case status == 0x80 && len(msg) == 3:
		c.Kind = midiio.Note
		return c, 0, true
	case status == 0xC0 && len(msg) == 2:
		c.Kind = midiio.Program
		return c, 127, true
	case status == 0xD0 && len(msg) == 2:
		c.Kind, c.Number = midiio.Pressure, 0
		return c, msg[1], true
	}
	return c, 0, false
}

func (l *Learner) find(c midiio.Control) *heard {
	for i := range l.controls {
		if l.controls[i].Control == c {
			return &l.controls[i]
		}
	}
	return nil
}

// upper is the controller whose lower seven bits c carries, if it was heard.
func (l *Learner) upper(c midiio.Control) *heard {
	if c.Kind != midiio.Controller || c.Number < 32 || c.Number > 63 {
		return nil
	}
	c.Number -= 32
	return l.find(c)
}

func (h *heard) hear(value uint8) {
	h.came++
	if h.first[value] == 0 {
		h.first[value] = h.came
		h.values++
	}
	h.least, h.most = min(h.least, value), max(h.most, value)
	h.last = value
}

// refine takes the lower half of the value that came last.
func (h *heard) refine(value uint8) {
	raw := Pedal{Fine: true}.Raw(h.last, value)
	if !h.fine {
		h.fine, h.low, h.high = true, raw, raw
	}
	h.low, h.high = min(h.low, raw), max(h.high, raw)
}

// pedal is the controller that had the most different values, the first of
// equals, and whether the controller 32 above carries its lower half; nil when
// none sweeps.
func (l *Learner) pedal() (p *heard, fine bool) {
	for i := range l.controls {
		if h := &l.controls[i]; h.sweeps() && (p == nil || h.values > p.values) && !l.isLower(h) {
			p = h
		}
	}
	if p == nil || p.Number > 31 || p.low == p.high {
		return p, false
	}
	return p, l.find(low(p.Control)).sweeps() // it was heard: it told low from high
}

// isLower reports whether h carries the lower half of a controller that sweeps.
func (l *Learner) isLower(h *heard) bool {
	upper := l.upper(h.Control)
	return upper != nil && upper.sweeps() && h.sweeps()
}

// ends are the least and the largest value, in the order in which the pedal was
// there. The first eighth of the way counts as its end: a pedal that starts at
// rest on its heel does not send the heel's own value until it comes back.
func (h *heard) ends(fine bool) (heel, toe uint16) {
	low, high := uint16(h.least), uint16(h.most)
	toLow, toHigh := h.came, h.came
	for d := range int(h.most-h.least)/8 + 1 {
		if at := h.first[int(h.least)+d]; at > 0 {
			toLow = min(toLow, at)
		}
		if at := h.first[int(h.most)-d]; at > 0 {
			toHigh = min(toHigh, at)
		}
	}
	if fine {
		low, high = h.low, h.high
	}
	if toHigh < toLow {
		return high, low
	}
	return low, high
}

// Lines gives what was learned as lines of a rig file, each switch's press:
// waiting for its command, or nothing where nothing was heard. What is only
// likely, or of no use to a rig, stands in comments.
func (l *Learner) Lines() string {
	if len(l.controls) == 0 {
		return ""
	}
	var b, others strings.Builder
	pedal, fine := l.pedal()
	if pedal == nil {
		b.WriteString("pedal: none # none was moved\n")
	} else {
		heel, toe := pedal.ends(fine)
		fmt.Fprintf(&b, "pedal:\n  controller: %d\n  channel: %d\n", pedal.Number, pedal.Channel+1)
		if fine {
			b.WriteString("  bits: 14\n")
		}
		fmt.Fprintf(&b, "  heel: %d\n  toe: %d # swap the two if it works backwards\n", heel, toe)
	}
	switches, over := 0, l.over
	for i := range l.controls {
		switch h := &l.controls[i]; {
		case h == pedal || fine && h.Control == low(pedal.Control):
		case h.sweeps():
			fmt.Fprintf(&others, "# %s moves too, %d…%d: a rig has one pedal\n", onChannel(h.Control), h.least, h.most)
		case switches == maxFeet:
			over = true
		default:
			if switches == 0 {
				b.WriteString("switches:\n")
			}
			switches++
			h.write(&b)
		}
	}
	b.WriteString(others.String())
	if over {
		fmt.Fprintf(&b, "# more controls came than the %d switches that a rig reads\n", maxFeet)
	}
	return b.String()
}

func (h *heard) write(b *strings.Builder) {
	fmt.Fprintf(b, "  - control: %s\n    channel: %d\n", controlText(h.Control), h.Channel+1)
	if h.Kind != midiio.Program {
		b.WriteString(h.presses.guess())
	}
	b.WriteString("    press: # a command, as in step\n")
}

func onChannel(c midiio.Control) string {
	return fmt.Sprintf("%s on channel %d", controlText(c), c.Channel+1)
}

// controlText writes a control as a rig file has it.
func controlText(c midiio.Control) string {
	switch c.Kind {
	case midiio.Note:
		return "note " + pitch.NoteName(int(c.Number), pitch.Key{})
	case midiio.Program:
		return fmt.Sprintf("program %d", int(c.Number)+1)
	case midiio.Pressure:
		return "pressure"
	}
	return fmt.Sprintf("controller %d", c.Number)
}
