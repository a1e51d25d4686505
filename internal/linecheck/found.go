package linecheck

import (
	"fmt"
	"slices"

	"bedd/internal/midiio"
	"bedd/internal/pitch"
)

// Found is what a walk has found, as a file keeps it. Channels and programs count
// from 1.
type Found struct {
	Done     []Step    `json:"done,omitempty"`
	Skipped  []Step    `json:"skipped,omitempty"`
	Keys     *Keys     `json:"keys,omitempty"`
	Feet     []Switch  `json:"feet,omitempty"`
	Pedal    *Pedal    `json:"pedal,omitempty"`
	Synth    string    `json:"synth,omitempty"` // the output
	Thru     string    `json:"thru,omitempty"`  // on or off; empty where it was not tried
	Plugged  *Replug   `json:"plugged,omitempty"`
	Troubles []Trouble `json:"troubles,omitempty"`
}

// Keys is the keyboard.
type Keys struct {
	Input      string    `json:"input"`
	Channel    int       `json:"channel"`
	Channels   []int     `json:"channels"`             // on which its keys arrive
	Transposed int       `json:"transposed,omitempty"` // semitones, −5…6, whole octaves left out
	Controls   []Control `json:"controls,omitempty"`   // that it moved besides, such as its damper
}

// Control is a control of some input.
type Control struct {
	Input   string `json:"input"`
	Kind    string `json:"kind"` // controller, note, program, pressure
	Number  int    `json:"number"`
	Channel int    `json:"channel"`
}

// Switch is a foot switch.
type Switch struct {
	Step Step `json:"step"`
	Control
	Latching bool `json:"latching,omitempty"`
	Inverted bool `json:"inverted,omitempty"`
	Bounces  int  `json:"bounces_ms,omitempty"` // for how long after a change
}

// Pedal is the intensity pedal.
type Pedal struct {
	Control
	Fine  bool    `json:"fine,omitempty"` // 14 bits
	Heel  int     `json:"heel"`           // 0…127, or 0…16383 where it is fine
	Toe   int     `json:"toe"`
	Noise float64 `json:"noise,omitempty"` // how far it wanders to either side at rest, part of its way
}

// Replug is how a cable was pulled out and put in again.
type Replug struct {
	Input   string  `json:"input"`
	Noticed bool    `json:"noticed"`          // the system told
	Heard   float64 `json:"heard_s"`          // from the return, or the player's word, to the first message
	Away    float64 `json:"away_s,omitempty"` // from the loss to the return, where they were noticed
}

func (f Found) clone() Found {
	f.Done, f.Skipped = slices.Clone(f.Done), slices.Clone(f.Skipped)
	f.Feet, f.Troubles = slices.Clone(f.Feet), slices.Clone(f.Troubles)
	return f
}

// forget leaves out what a step had found before it begins again.
func (f *Found) forget(s Step) {
	same := func(o Step) bool { return o == s }
	f.Done, f.Skipped = slices.DeleteFunc(f.Done, same), slices.DeleteFunc(f.Skipped, same)
	f.Troubles = slices.DeleteFunc(f.Troubles, func(t Trouble) bool { return t.Step == s })
	f.Feet = slices.DeleteFunc(f.Feet, func(w Switch) bool { return w.Step == s })
	switch s {
	case Piano:
		f.Keys = nil
	case Foot:
		f.Pedal = nil
	case Synth:
		f.Synth = ""
	case Thru:
		f.Thru = ""
	case Plug:
		f.Plugged = nil
	}
}

// Next is the first step that was neither done nor skipped; "" when there is none.
func (f Found) Next() Step {
	for _, s := range Steps {
		if !slices.Contains(f.Done, s) && !slices.Contains(f.Skipped, s) {
			return s
		}
	}
	return ""
}

var kinds = map[what]midiio.ControlKind{controller: midiio.Controller, note: midiio.Note, program: midiio.Program, pressure: midiio.Pressure}

// control is what a file says of a source.
func (c *Check) control(s source) Control {
	out := Control{Input: c.gear.Ins[s.in], Kind: kinds[s.what].String(), Number: int(s.number), Channel: int(s.channel) + 1}
	if s.what == program {
		out.Number++
	}
	return out
}

// source is the other way round.
func (c Control) source(in int) (source, bool) {
	for w, kind := range kinds {
		if kind.String() == c.Kind && c.Channel >= 1 && c.Channel <= 16 && c.Number >= 0 && c.Number <= 128 {
			number := c.Number
			if w == program {
				number--
			}
			return source{in, w, uint8(c.Channel - 1), uint8(number)}, true
		}
	}
	return source{}, false
}

// Words writes a control as a rig file has it.
func (c Control) Words() string {
	switch c.Kind {
	case midiio.Note.String():
		return "note " + pitch.NoteName(c.Number, pitch.Key{})
	case midiio.Pressure.String():
		return c.Kind
	}
	return fmt.Sprintf("%s %d", c.Kind, c.Number)
}

// String is the control with its channel.
func (c Control) String() string { return fmt.Sprintf("%s on channel %d", c.Words(), c.Channel) }

// Lines says what was found, for people.
func (f Found) Lines() (lines []string) {
	if k := f.Keys; k != nil {
		lines = append(lines, fmt.Sprintf("keys: %s, channel %d", k.Input, k.Channel))
	}
	for _, w := range f.Feet {
		lines = append(lines, fmt.Sprintf("%s switch from %s: %s, %s", w.Step, w.Input, w.Control, w.how()))
	}
	if p := f.Pedal; p != nil {
		lines = append(lines, "pedal from "+p.Input+": "+p.line())
	}
	if f.Synth != "" {
		lines = append(lines, "synth: "+f.Synth)
	}
	if p := f.Plugged; p != nil && p.Noticed {
		lines = append(lines, fmt.Sprintf("%s pulled out: away for %.1f s, and heard again", p.Input, p.Away))
	}
	return lines
}

func (p Pedal) line() string {
	bits := ""
	if p.Fine {
		bits = ", 14 bits"
	}
	return fmt.Sprintf("%s, heel %d, toe %d%s", p.Control, p.Heel, p.Toe, bits)
}
