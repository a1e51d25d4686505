// Package curve draws a run over time: intensity and its source, rungs, levels.
package curve

import (
	"time"

	"bedd/internal/bed"
	"bedd/internal/dynamics"
	"bedd/internal/gathering"
	"bedd/internal/session"
)

// Curve is what a run's intensity did, gathered while it runs.
type Curve struct {
	rig     gathering.Rig
	states  []state
	pedal   []reading
	strikes []reading
	voice   voice
}

// state is what the bed was like from a time on.
type state struct {
	at        time.Duration
	intensity float32
	source    dynamics.Source
	voices    uint8
	sounding  bool
}

// reading is a value from a time on, or at it.
type reading struct {
	at    time.Duration
	value float32
}

// New makes a curve for a run with a rig.
func New(rig gathering.Rig) *Curve { return &Curve{rig: rig} }

// See is a [session.Watcher]. It keeps what has changed: up to 32 bytes an event,
// and 16 bytes up to 50 times a second while the intensity moves.
func (c *Curve) See(at time.Duration, e bed.Event, v bed.View) {
	switch e.Kind {
	case bed.PedalMoved:
		c.pedal = append(c.pedal, reading{at, float32(c.rig.Bed.Pedal.Position(e.Raw))})
	case bed.NoteStruck:
		c.strikes = append(c.strikes, reading{at, float32(e.Velocity) / 127})
	}
	now := state{at, float32(v.Intensity), v.Source, uint8(v.Density), v.Phase != bed.Silent}
	if n := len(c.states); n > 0 {
		last := c.states[n-1]
		if last.at = at; last == now {
			return
		}
	}
	c.states = append(c.states, now)
}

// Run is what else a drawing shows of the run that a curve has seen.
type Run struct {
	Title   string
	Source  string // what was run, and with which rig
	Take    *session.Take
	Cues    []session.ReportCue
	End     time.Duration    // when all was silent
	Moments func(int) string // names a moment by its number from 0
}

// point is where a step series goes at a time. It stays there until the next; an
// empty class draws nothing.
type point struct {
	at    time.Duration
	value float64
	class string
}

// intensity gives the intensity by its source, pale while nothing sounds.
func (c *Curve) intensity() (points []point) {
	for _, s := range c.states {
		class := sourceClass(s.source)
		if !s.sounding {
			class += " silent"
		}
		points = append(points, point{s.at, float64(s.intensity), class})
	}
	return points
}

// sources gives the source while something sounds.
func (c *Curve) sources() (points []point) {
	for _, s := range c.states {
		p := point{at: s.at}
		if s.sounding {
			p.class = sourceClass(s.source)
		}
		if n := len(points); n == 0 || points[n-1].class != p.class {
			points = append(points, p)
		}
	}
	return points
}

// voices gives the number of upper notes while something sounds.
func (c *Curve) voices() (points []point) {
	for _, s := range c.states {
		p := point{s.at, float64(s.voices), "voices"}
		if !s.sounding {
			p = point{at: s.at}
		}
		if n := len(points); n == 0 || points[n-1].class != p.class || points[n-1].value != p.value {
			points = append(points, p)
		}
	}
	return points
}

// silences gives the class silence while nothing sounds.
func (c *Curve) silences() []point {
	points := []point{{class: "silence"}}
	for _, s := range c.states {
		class := "silence"
		if s.sounding {
			class = ""
		}
		if points[len(points)-1].class != class {
			points = append(points, point{at: s.at, class: class})
		}
	}
	return points
}

// pedalled gives the pedal's position once it has moved.
func (c *Curve) pedalled() (points []point) {
	for _, r := range c.pedal {
		points = append(points, point{r.at, float64(r.value), "pedal"})
	}
	return points
}

// The controllers that carry a layer's expression (General MIDI 1 Developer
// Guidelines, p. 9) and brightness (General MIDI 2, 1.2a, sound controller 5).
const (
	expression = 11
	brightness = 74
)

// controlled gives what a take sends on a layer's channel as a controller.
func (c *Curve) controlled(sent []session.Sent, l bed.Layer, controller byte) (points []point) {
	if c.rig.Share { // the channel is the player's
		return nil
	}
	status := 0xB0 | c.rig.Layers[l].Channel
	for _, s := range sent {
		if s.From != session.Thru && len(s.Data) == 3 && s.Data[0] == status && s.Data[1] == controller {
			points = append(points, point{s.At, float64(s.Data[2]), l.String()})
		}
	}
	return points
}

// sourceClass names how a source is drawn.
func sourceClass(s dynamics.Source) string { return "from-" + s.String() }
