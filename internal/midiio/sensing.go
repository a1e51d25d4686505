package midiio

import (
	"context"
	"time"
)

// Active Sensing (MIDI 1.0 Detailed Specification 4.2): a receiver that has heard
// FE once expects some byte at most every 300 ms, and without one ends its voices
// and goes back to expecting nothing. So a synth falls silent by itself when bedd,
// its guard, the computer or the cable is gone.
//
// It is bedd's only message to the player's synth that neither the player nor the
// bed has asked for, and what it is good for can go wrong: the line must not fall
// silent while anything sounds for another reason than that bedd is gone. So bedd
// begins when it strikes a note and goes on until nothing of its own sounds there,
// no key or pedal that it hears is down, and what rings on has died away. Where the
// piano goes past bedd, the synth must not depend on it, and bedd doesn't begin.
const (
	// sensingIdle is how long a line is idle before a byte is sent, sensingLook how
	// often that is looked for. Together they leave half of the 300 ms for a machine
	// that is late.
	sensingIdle = 100 * time.Millisecond
	sensingLook = 50 * time.Millisecond

	// sensingTail is how long a line is kept after the last note has ended: a
	// receiver may end what rings on, too. Common practice, no source: slow pads
	// ring for some seconds.
	sensingTail = 10 * time.Second
)

// sensing is what an output needs for Active Sensing.
type sensing struct {
	on     bool // it is wanted
	begun  bool // the receiver counts on it
	sounds holds
	until  time.Duration // it goes on at least
	sent   time.Duration // when a message was sent last
}

// note takes a message into account that was sent.
func (s *sensing) note(at time.Duration, msg []byte) {
	s.sent = at
	s.sounds.note(msg)
}

// due reports whether a byte is to be sent. held tells of keys and pedals that the
// player holds, carried of a piano that goes past bedd.
func (s *sensing) due(at time.Duration, held, carried bool) bool {
	sounds := s.sounds.any()
	switch {
	case !s.on || !s.begun && (!sounds || carried):
		return false
	case sounds || held:
		s.until = at + sensingTail
	}
	s.begun = at < s.until
	return s.begun && at-s.sent >= sensingIdle
}

// Sensing says whether the output sends Active Sensing. It is to be called before
// [Ports.Sense].
func (o *Output) Sensing(on bool) { o.sensing.on = on }

// sense sends a byte if one is due.
func (o *Output) sense(held bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	at := o.clock()
	if o.port == nil || o.waiting.messages > 0 || !o.sensing.due(at, held, o.carried.Load() > 0) {
		return
	}
	o.sensing.sent = at
	_, _ = o.port.Send([]byte{activeSensing}) // a receiver that has no room has bytes enough
	if o.pace != nil {
		o.pace.Sent(at, 1)
	}
}

// Sense sends Active Sensing where it is wanted, until ctx ends. It has a goroutine
// to itself: what else Run has to do may take its time.
func (p *Ports) Sense(ctx context.Context) {
	tick := time.NewTicker(sensingLook)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		ins, outs := p.lists()
		held := false
		for _, in := range ins {
			h := in.held()
			held = held || h.any()
		}
		for _, o := range outs {
			o.sense(held)
		}
	}
}
