package session

import (
	"math"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/midiio"
)

// Port is a MIDI output of a session's.
type Port interface {
	// Send sends one whole message, good only during the call, and reports false
	// when the device is gone. It must be quick. What is not the player's may wait.
	Send(from midiio.Source, msg []byte) bool
}

// Destination is a port, and what it carries.
type Destination struct {
	Port  Port
	Parts midiio.Part
}

// outlet is one way out of a session, with a ledger of its own: what sounds on
// one port may be owed on another.
type outlet struct {
	wire  *midiio.Wire
	parts midiio.Part

	// After a loss the bed rises from nothing here, whatever it does elsewhere: a
	// synth that comes back must not come back with a bang.
	rising bool
	since  time.Duration
	next   time.Duration        // when it rises a step more
	sent   [bed.NumLayers]uint8 // levels
	msg    [3]byte              // a level on its way
}

// riseEvery is how often a rising outlet's levels move.
const riseEvery = 20 * time.Millisecond

func (o *outlet) carries(p midiio.Part) bool { return o.parts&p != 0 }

// rise moves the outlet's levels on to a part of what the bed's levels are, from
// nothing to all of it in a bring-in's time.
func (s *Session) rise(o *outlet, at time.Duration) {
	part := 1.0
	if gone, all := at-o.since, s.rig.Bed.BringIn; gone < all {
		part = float64(gone) / float64(all)
	}
	o.rising, o.next = part < 1, at+riseEvery
	for l, level := range s.level {
		v := uint8(math.Round(part * float64(level)))
		if v != o.sent[l] || !o.rising {
			o.sent[l] = v
			o.msg = [3]byte{0xB0 | s.rig.Layers[l].Channel, 11, v}
			o.wire.Bed(at, o.msg[:])
		}
	}
}

// portSink is a wire's way out to a port.
type portSink struct {
	port  Port
	shift int     // semitones added to every note
	moved [3]byte // a note on its way, shifted; the wire's lock guards it
}

func (k *portSink) Write(_ time.Duration, from midiio.Source, msg []byte) bool {
	msg, inside := shifted(msg, k.shift, &k.moved)
	return !inside || k.port.Send(from, msg)
}

// recordSink is a wire's way out to the recorder, which cannot be lost.
type recordSink struct {
	rig      *gathering.Rig
	recorder Recorder
	moved    [3]byte
}

func (k *recordSink) Write(at time.Duration, from midiio.Source, msg []byte) bool {
	origin := Thru
	switch {
	case from == midiio.Ledger:
		origin = SetUp
	case from == midiio.Bed && !k.rig.Share && msg[0]&0x0F == k.rig.Layers[bed.Air].Channel:
		origin = Air
	case from == midiio.Bed:
		origin = Warm
	}
	if msg, inside := shifted(msg, k.rig.Out, &k.moved); inside {
		k.recorder.Send(at, origin, msg)
	}
	return true
}

// shifted gives msg, a note transposed in buf, and whether it is still a MIDI
// note.
func shifted(msg []byte, semitones int, buf *[3]byte) ([]byte, bool) {
	if semitones == 0 || !isNote(msg) {
		return msg, true
	}
	note := int(msg[1]) + semitones
	if note < 0 || note > 127 {
		return msg, false
	}
	*buf = [3]byte{msg[0], byte(note), msg[2]}
	return buf[:], true
}

func isNote(msg []byte) bool {
	return len(msg) == 3 && (msg[0]&0xF0 == 0x80 || msg[0]&0xF0 == 0x90 || msg[0]&0xF0 == 0xA0)
}
