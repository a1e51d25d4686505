// Package session is one run of bedd, the same live, offline and in practice: the player's messages in, the wires' messages and marks out.
package session

import (
	"fmt"
	"sync"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/journal"
	"bedd/internal/midiio"
)

// Origin is where a message on the wire comes from.
type Origin uint8

// The origins.
const (
	SetUp Origin = iota // what bedd sends to prepare the synth, and to end what the player left on
	Thru                // the player's own
	Warm                // the bed's layers
	Air

	NumOrigins
)

func (o Origin) String() string {
	return [...]string{"setup", "thru", "bed warm", "bed air"}[o]
}

// Recorder takes all that a session plays, whether a port is there or not. Both
// methods must be quick. Send may be called by whoever calls [Session.Thru], one
// call at a time, Mark only by whoever drives the session.
type Recorder interface {
	// Send gets one whole message, good only during the call.
	Send(at time.Duration, from Origin, msg []byte)
	// Mark tells of a chord entered, a command carried out, a notice or another
	// moment.
	Mark(a bed.Action)
}

// Session joins feet, pedal, bed and wires. Its methods serve one goroutine at a
// time, but for Thru. Times never go back: an earlier one counts as the latest.
type Session struct {
	rig      gathering.Rig
	bed      *bed.Bed
	feet     *midiio.Feet
	recorder Recorder
	record   *outlet   // to the recorder
	outlets  []*outlet // to the ports, then the record
	now      time.Duration

	mapped   mapped
	held     []bool // by switch: the long press has acted
	pedalMSB uint8

	reset   bool // the player has reset the synths
	resetAt time.Duration

	level  [bed.NumLayers]uint8
	bright int     // of both layers, −1 before the first
	msg    [3]byte // the bed's message that is on its way

	actions  []bed.Action
	gestures []midiio.Gesture
	watch    Watcher

	journal *journal.Writer // nil where none is kept
	ledger  sync.Mutex      // puts what player and core do in the record's ledger in order
	steps   uint64          // that the core has taken there
	replay  *replay         // nil but offline

	at    time.Duration // of the call that is being carried out
	event bed.Event
	busy  bool // one is
}

// Watcher is told of every event that the bed has handled, with when that was and
// what the bed was like then. It must be quick.
type Watcher func(at time.Duration, e bed.Event, v bed.View)

// New makes a session that waits in silence on the first moment. It fails when
// the rig contradicts itself or a chord has no voicing.
func New(rig gathering.Rig, moments []bed.Moment, recorder Recorder, ports ...Destination) (*Session, error) {
	c := rig.Bed
	c.Moments = moments
	b, err := bed.New(c)
	if err != nil {
		return nil, err
	}
	switches := make([]midiio.Switch, len(rig.Feet))
	for i, f := range rig.Feet {
		switches[i] = f.Switch
	}
	feet, err := midiio.NewFeet(switches, rig.Hold)
	if err != nil {
		return nil, err
	}
	s := &Session{rig: rig, bed: b, feet: feet, recorder: recorder, bright: -1,
		held:     make([]bool, len(rig.Feet)),
		actions:  make([]bed.Action, 0, 256),
		gestures: make([]midiio.Gesture, 0, 64),
	}
	s.mapped.fill(rig)
	use := midiio.WireConfig{Aside: rig.Player.Aside}
	if rig.Share {
		use.Channels[rig.Player.Channel] = midiio.Shared
	} else {
		for l, layer := range rig.Layers {
			if layer.Channel == rig.Player.Channel {
				return nil, fmt.Errorf("the bed's %v layer and the player are both on channel %d: give one of them another channel, or share a sound", bed.Layer(l), layer.Channel+1)
			}
			use.Channels[layer.Channel] = midiio.Reserved
		}
	}
	for _, d := range ports {
		o := &outlet{parts: d.Parts}
		here := use
		if !o.carries(midiio.BedPart) { // all channels are the player's
			here.Channels = [16]midiio.Use{}
		}
		o.wire = midiio.NewWire(here, &portSink{port: d.Port, shift: rig.Out})
		s.outlets = append(s.outlets, o)
	}
	s.record = &outlet{parts: midiio.AllParts, wire: midiio.NewWire(use, &recordSink{rig: &s.rig, recorder: recorder})}
	s.outlets = append(s.outlets, s.record) // last: the ports are in a hurry
	return s, nil
}

// Watch has the bed watched from now on.
func (s *Session) Watch(w Watcher) { s.watch = w }

// SetUp prepares the synths: for each layer bank, program and volume where the
// rig asks for it, in the order General MIDI 2 gives, expression at 0, since a bed
// begins from nothing.
func (s *Session) SetUp(at time.Duration) {
	at = s.catchUp(at)
	for _, o := range s.outlets {
		s.step(o, func(o *outlet) { s.prepare(o, at) })
	}
	s.journal.Step(journal.Prepared, at)
	s.journal.Stands(at, s.bed)
}

// prepare is SetUp for one outlet.
func (s *Session) prepare(o *outlet, at time.Duration) {
	if s.rig.Share || !o.carries(midiio.BedPart) {
		return
	}
	for _, l := range s.rig.Layers {
		control, program := 0xB0|l.Channel, 0xC0|l.Channel
		if s.rig.Setup {
			if l.BankSet {
				o.wire.Prepare(at, []byte{control, 0, l.Bank[0]})
				o.wire.Prepare(at, []byte{control, 32, l.Bank[1]})
			}
			o.wire.Prepare(at, []byte{program, l.Program})
			o.wire.Prepare(at, []byte{control, 7, l.Volume})
		}
		if !s.rig.Bed.NoLevel {
			o.wire.Prepare(at, []byte{control, 11, 0})
		}
		if s.bright >= 0 { // after a loss or a reset: the bed sends only what changes
			o.wire.Prepare(at, []byte{control, 74, uint8(s.bright)})
		}
	}
}

// Message takes one whole message of the player's that arrived at a time.
// Hot path: no allocation in steady state.
func (s *Session) Message(at time.Duration, msg []byte) {
	at = s.catchUp(at)
	s.Thru(at, msg, Passage{Role: midiio.AnyRole, To: ^midiio.Outputs(0)})
	s.Observe(at, msg, midiio.AnyRole)
}

// Observe lets the bed know of a message that Thru has dealt with, from an input
// of some role.
func (s *Session) Observe(at time.Duration, msg []byte, role midiio.Role) {
	at = s.catchUp(at)
	if resets(msg) {
		s.resetAt, s.reset = at+resetTime, true
	}
	if role&midiio.FeetRole != 0 && s.footwork(at, msg) || role&midiio.KeysRole == 0 || len(msg) != 3 || msg[0] >= 0xF0 {
		return
	}
	channel := msg[0] & 0x0F
	if to, aside := s.rig.Player.Aside[channel]; aside {
		channel = to
	}
	if channel != s.rig.Player.Channel {
		return
	}
	note := int(msg[1]) + s.rig.In
	if note < 0 || note > 127 {
		note = int(msg[1])
	}
	switch status := msg[0] & 0xF0; {
	case status == 0x90 && msg[2] > 0:
		s.handle(at, bed.Event{Kind: bed.NoteStruck, Note: uint8(note), Velocity: msg[2]})
	case status == 0x80 || status == 0x90:
		s.handle(at, bed.Event{Kind: bed.NoteLeft, Note: uint8(note)})
	case status == 0xB0 && msg[1] == 64:
		s.handle(at, bed.Event{Kind: bed.DamperMoved, On: msg[2] >= 64})
	}
}

// resetTime is how long a synth that was reset is left alone before the bed is
// prepared and struck again. Common practice, no source: devices ask for 50 ms.
const resetTime = 60 * time.Millisecond

// resets reports whether a message puts a synth back to where it was when it was
// switched on: System Reset, or General MIDI on or off (Universal Non-Real Time,
// sub-ID 09; General MIDI 2, 1.2a).
func resets(msg []byte) bool {
	return len(msg) == 1 && msg[0] == 0xFF ||
		len(msg) == 6 && msg[0] == 0xF0 && msg[1] == 0x7E && msg[3] == 0x09 && msg[4] >= 1 && msg[4] <= 3 && msg[5] == 0xF7
}

// footwork takes what belongs to feet and pedal.
func (s *Session) footwork(at time.Duration, msg []byte) (used bool) {
	s.gestures, used = s.feet.Message(at, msg, s.gestures[:0])
	for _, g := range s.gestures {
		s.gesture(g)
	}
	return used || s.pedal(at, msg)
}

// pedal takes the intensity pedal's messages.
func (s *Session) pedal(at time.Duration, msg []byte) bool {
	p := s.rig.Pedal
	if !p.On || len(msg) != 3 || msg[0]&0xF0 != 0xB0 {
		return false
	}
	if p.Control.Channel >= 0 && msg[0]&0x0F != uint8(p.Control.Channel) {
		return false
	}
	switch {
	case msg[1] == p.Control.Number:
		s.pedalMSB = msg[2]
		s.handle(at, bed.Event{Kind: bed.PedalMoved, Raw: p.Raw(msg[2], 0)}) // a new upper half clears the lower
	case p.Fine && msg[1] == p.Control.Number+32:
		s.handle(at, bed.Event{Kind: bed.PedalMoved, Raw: p.Raw(s.pedalMSB, msg[2])})
	default:
		return false
	}
	return true
}

// gesture does what the rig gives to a foot.
func (s *Session) gesture(g midiio.Gesture) {
	foot := &s.rig.Feet[g.Switch]
	at := max(g.At, s.now)
	switch g.Kind {
	case midiio.Pressed:
		s.held[g.Switch] = false
		s.order(at, foot.Press)
	case midiio.Held:
		s.held[g.Switch] = true
		e := foot.Hold.Event()
		e.Undo = foot.Press.Command == bed.Arm && foot.Hold.Command != bed.NoCommand
		if foot.Hold.Command != bed.NoCommand {
			s.handle(at, e)
		}
	case midiio.Released:
		if !s.held[g.Switch] {
			s.order(at, foot.Tap)
		}
	}
}

// Ask carries out an order, as from a computer key.
func (s *Session) Ask(at time.Duration, o gathering.Order) { s.order(s.catchUp(at), o) }

func (s *Session) order(at time.Duration, o gathering.Order) {
	if o.Command != bed.NoCommand {
		s.handle(at, o.Event())
	}
}

// Voice takes what was listened to: how intense a voice is, 0…1, and by how many dB the
// bed is to stay under its loudest for the words' sake, 0 for no limit.
func (s *Session) Voice(at time.Duration, intensity, eased float64) {
	s.handle(s.catchUp(at), bed.Event{Kind: bed.VoiceHeard, Intensity: intensity, Eased: eased})
}

// Deadline tells when Advance next has something to do, if nothing happens
// before.
func (s *Session) Deadline() (time.Duration, bool) {
	at, ok := s.bed.Deadline()
	if foot, any := s.feet.Deadline(); any && (!ok || foot < at) {
		at, ok = foot, true
	}
	if s.reset && (!ok || s.resetAt < at) {
		at, ok = s.resetAt, true
	}
	for _, o := range s.outlets {
		if o.rising && (!ok || o.next < at) {
			at, ok = o.next, true
		}
	}
	return at, ok
}

// Advance does all that is due at or before a time.
func (s *Session) Advance(at time.Duration) {
	at = max(at, s.now)
	for {
		due, ok := s.Deadline()
		if !ok || due > at {
			break
		}
		s.tick(due)
	}
	s.now = at
}

// catchUp does all that was due before a time, and gives the time: at the time
// itself the player comes first. A time that goes back counts as standing still.
func (s *Session) catchUp(at time.Duration) time.Duration {
	at = max(at, s.now)
	for {
		due, ok := s.Deadline()
		if !ok || due >= at {
			s.now = at
			return at
		}
		s.tick(due)
	}
}

// tick does what is due at the earliest deadline, feet first.
func (s *Session) tick(due time.Duration) {
	s.now = max(due, s.now)
	s.gestures = s.feet.Advance(due, s.gestures[:0])
	for _, g := range s.gestures {
		s.gesture(g)
	}
	if at, ok := s.bed.Deadline(); ok && at <= due {
		s.handle(due, bed.Event{Kind: bed.TimePassed})
	}
	again := s.reset && s.resetAt <= due
	s.reset = s.reset && !again
	for _, o := range s.outlets {
		switch {
		case again:
			s.step(o, func(o *outlet) { s.again(o, due) })
			s.note(o, journal.Reset, due)
		case o.rising && o.next <= due:
			s.step(o, func(o *outlet) { s.rise(o, due) })
			s.note(o, journal.Rose, due)
		}
	}
}

// handle gives the bed an event and carries out what it answers.
func (s *Session) handle(at time.Duration, e bed.Event) {
	s.at, s.event, s.busy = at, e, true
	s.actions = s.bed.Handle(at, e, s.actions[:0])
	s.answer(at, e)
	s.journal.Call(at, &e, s.actions, s.bed)
	s.busy = false
}

// answer carries out what the bed has answered.
func (s *Session) answer(at time.Duration, e bed.Event) {
	for i := range s.actions {
		s.carryOut(&s.actions[i])
	}
	if s.watch != nil {
		s.watch(at, e, s.bed.View())
	}
	for _, o := range s.outlets {
		if o.rising && s.bed.Silent() { // the next bring-in rises by itself
			o.rising = false
		}
	}
}

func (s *Session) carryOut(a *bed.Action) {
	channel := s.rig.Layers[a.Layer].Channel
	if s.rig.Share { // one sound: air would only double warm, and levels would move the piano
		channel = s.rig.Player.Channel
		if a.Layer != bed.Warm {
			return
		}
	}
	switch a.Kind {
	case bed.StrikeNote:
		s.msg = [3]byte{0x90 | channel, a.Note, a.Velocity}
	case bed.ReleaseNote:
		s.msg = [3]byte{0x80 | channel, a.Note, 64}
	case bed.SetLevel:
		s.level[a.Layer] = a.Value
		if s.rig.Share {
			return
		}
		s.msg = [3]byte{0xB0 | channel, 11, a.Value}
	case bed.SetBrightness:
		if s.rig.Share { // it would change the piano's sound
			return
		}
		s.bright = int(a.Value)
		s.msg = [3]byte{0xB0 | channel, 74, a.Value}
	case bed.SilenceAll:
		for _, o := range s.outlets {
			s.step(o, func(o *outlet) { o.wire.AllNotesOff(a.At) })
		}
		return
	default:
		s.recorder.Mark(*a)
		return
	}
	for _, o := range s.outlets {
		switch {
		case !o.carries(midiio.BedPart):
		case o.rising && a.Kind == bed.SetLevel:
			s.step(o, func(o *outlet) { s.rise(o, a.At) })
		default:
			s.step(o, func(o *outlet) { o.wire.Bed(a.At, s.msg[:]) })
		}
	}
}

// Leave tells the bed that no more input comes: it leaves fast, but for a fade,
// which goes on to its end unless there is a hurry. Go on with Advance until
// Deadline has nothing more, then call Finish.
func (s *Session) Leave(at time.Duration, hurry bool) {
	s.handle(s.catchUp(at), bed.Event{Kind: bed.InputEnded, On: hurry})
}

// Finish ends every note that is still on, whoever owns it, and lets nothing out
// any more. It asks nothing of the bed, which may have failed, and a port that
// fails does not keep the others from it.
func (s *Session) Finish(at time.Duration) {
	at = max(at, s.now)
	if s.busy { // it failed
		s.busy = false
		s.journal.Failed(s.at, &s.event)
	}
	var failed any
	for _, o := range s.outlets {
		o.rising = false
		func() {
			defer func() {
				if p := recover(); p != nil {
					failed = p
				}
			}()
			s.step(o, func(o *outlet) { o.wire.Close(at) })
		}()
	}
	s.journal.Step(journal.Finished, at)
	if failed != nil {
		panic(failed)
	}
}

// End is Leave, waiting without a clock, and Finish. It gives the time at which
// all is silent.
func (s *Session) End(at time.Duration) time.Duration {
	s.Leave(at, false)
	for {
		due, ok := s.Deadline()
		if !ok {
			break
		}
		s.Advance(due)
	}
	s.Finish(s.now)
	return s.now
}

// Lost says that a port is gone, by its number from 0: nothing more is sent
// there, and what sounds is owed its end.
func (s *Session) Lost(port int) {
	s.outlets[port].rising = false
	s.outlets[port].wire.Lost()
}

// Returned says that a port is back, also one whose loss nobody saw: what is
// owed is ended first, then the synth is prepared, then what the bed holds is
// struck again, and rises. The other ports notice nothing.
func (s *Session) Returned(at time.Duration, port int) {
	s.again(s.outlets[port], s.catchUp(at))
}

// again begins anew on one outlet.
func (s *Session) again(o *outlet, at time.Duration) {
	o.wire.Lost()
	o.wire.Returned(at)
	if !o.carries(midiio.BedPart) {
		return
	}
	s.prepare(o, at)
	o.wire.Resume(at)
	o.sent = [bed.NumLayers]uint8{}
	if o.rising = !s.rig.Share && !s.rig.Bed.NoLevel && !s.bed.Silent(); o.rising {
		o.since, o.next = at, at+riseEvery
	}
}

// Gone reports whether a port is lost.
func (s *Session) Gone(port int) bool { return s.outlets[port].wire.Gone() }

// Sounding counts the notes on all wires, the record's too, that still need
// their end.
func (s *Session) Sounding() (n int) {
	for _, o := range s.outlets {
		n += o.wire.Sounding()
	}
	return n
}

// Refused counts the player's messages that were kept off the bed's channels.
func (s *Session) Refused() uint64 { return s.record.wire.Refused() }

// View gives a copy of the bed's state.
func (s *Session) View() bed.View { return s.bed.View() }
