package midiio

import (
	"sync"
	"time"
)

// Source is whose message it is.
type Source uint8

const (
	Player Source = iota
	Bed
	Ledger // nobody's in particular: what prepares the synth, and what ends what the player left on
)

// String is the source in one word.
func (s Source) String() string {
	switch s {
	case Player:
		return "player"
	case Bed:
		return "bed"
	case Ledger:
		return "ledger"
	}
	return "nobody"
}

// Use is what a channel of a wire is for.
type Use uint8

const (
	Open     Use = iota // the player's: everything passes unchanged, and the bed stays out
	Reserved            // the bed's: the player stays out
	Shared              // both play the same sound, and the ledger counts who holds what
)

// WireConfig says what the channels are for. The zero value has no bed.
type WireConfig struct {
	Channels [16]Use
	// Aside moves what the player sends on one channel to another, both 0…15, as
	// if it had been sent there.
	Aside map[uint8]uint8
}

// Sink is where a wire's messages go: a port, a synth, a file.
type Sink interface {
	// Write sends one whole message, good only during the call, and reports
	// whether it went out; false means that the port is lost. It must be quick and
	// must not call the wire.
	Write(at time.Duration, from Source, msg []byte) bool
}

// Wire is one output with a ledger of who sounds which note, so that each
// note-on gets its off. Its methods may be called from several goroutines; one
// lock, held while the sink writes, puts the messages in order. Messages that
// are not whole are refused.
//
// On a shared channel a note sounds until its last owner lets go. At any time
// one strike of it sounds at most: the player's note-on on a sounding note sends
// its off and the on, since an attack was asked for, and the bed's on a sounding
// note sends nothing. The player's damper is not sent but kept here: it holds
// back the player's own offs. Sostenuto and hold 2 (CC 66, 69), which would hold
// the bed, bank select, program changes and the channel mode messages CC 120,
// 121 and 123…127 are refused from the player.
//
// On an open channel nothing of the player's is held back, doubled or dropped;
// the ledger only counts along. A CC 123 or 120 of the player's does not empty
// it: an off too many is harmless.
//
// While the port is lost nothing is sent. The notes that sounded are owed their
// offs and get them first when it returns. What the bed holds by then is struck
// by Resume; what the player struck meanwhile is not sent later.
type Wire struct {
	mu       sync.Mutex
	sink     Sink
	use      [16]Use
	aside    [16]uint8 // where the player's messages on a channel go, mostly that channel
	order    [16]uint8 // channels, the bed's first
	parts    [16]part
	sounding int
	refused  uint64
	lost     bool
	closed   bool
	silence  bool    // all notes off was asked for while the port was lost
	buf      [3]byte // for messages the wire makes itself
	moved    [3]byte // for a message of the player's that goes aside
}

// NewWire makes a wire with nothing sounding.
func NewWire(cfg WireConfig, sink Sink) *Wire {
	w := &Wire{sink: sink, use: cfg.Channels}
	for ch := range w.aside {
		w.aside[ch] = uint8(ch)
	}
	for from, to := range cfg.Aside {
		w.aside[from&0x0F] = to & 0x0F
	}
	n := 0
	for _, bedFirst := range []bool{true, false} {
		for ch, use := range cfg.Channels {
			if (use != Open) == bedFirst {
				w.order[n] = uint8(ch)
				n++
			}
		}
	}
	return w
}

// Player sends the player's message and reports whether it was refused instead.
// Hot path: no allocation; one lock; O(1), and O(128) when the damper comes up
// on a shared channel.
func (w *Wire) Player(at time.Duration, msg []byte) (refused bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	refused = w.closed || !whole(msg)
	switch {
	case refused:
	case msg[0] >= sysexStart:
		w.send(at, Player, msg)
	default:
		if ch := msg[0] & 0x0F; w.aside[ch] != ch {
			n := copy(w.moved[:], msg)
			msg = w.moved[:n]
			msg[0] = msg[0]&0xF0 | w.aside[ch]
		}
		switch p := &w.parts[msg[0]&0x0F]; w.use[msg[0]&0x0F] {
		case Open:
			w.open(at, p, msg)
		case Shared:
			refused = !w.shared(at, p, msg)
		default:
			refused = true
		}
	}
	if refused {
		w.refused++
	}
	return refused
}

// Carried takes a message of the player's into the ledger that has reached the
// output by itself, on a channel that is the player's own; on others it has no
// place, though it was heard. Hot path: no allocation; one lock; O(1).
func (w *Wire) Carried(msg []byte) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closed || w.lost || !whole(msg) || msg[0] >= sysexStart || w.use[msg[0]&0x0F] != Open {
		return
	}
	p := &w.parts[msg[0]&0x0F]
	switch on, off := noteEdge(msg); {
	case on:
		w.struck(Player, &p.pitches[msg[1]])
	case off:
		w.released(&p.pitches[msg[1]])
	default:
		if i, ok := holdPedal(msg); ok {
			p.pedals[i] = pedal{said: msg[2], heard: msg[2]}
		}
	}
}

// Bed sends the bed's message and reports whether it was refused instead, as it
// is on the player's channels. A note-on of a note the bed already sounds and an
// off of one it doesn't are counted and not sent. Hot path: no allocation; one
// lock; O(1).
func (w *Wire) Bed(at time.Duration, msg []byte) (refused bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closed || !whole(msg) {
		return true
	}
	if msg[0] >= sysexStart {
		w.send(at, Bed, msg)
		return false
	}
	ch := msg[0] & 0x0F
	if w.use[ch] == Open {
		return true
	}
	on, off := noteEdge(msg)
	switch {
	case !on && !off:
		w.send(at, Bed, msg)
	case on:
		p := &w.parts[ch].pitches[msg[1]]
		p.velocity = msg[2]
		if count(&p.bed); p.strikes == 0 && !w.lost {
			w.strike(at, Bed, p, msg)
		}
	default:
		p := &w.parts[ch].pitches[msg[1]]
		if uncount(&p.bed) && !p.owned() && !w.lost {
			w.release(at, p, msg)
		}
	}
	return false
}

// Prepare sends a message that prepares the synth for the bed, and reports
// whether it was refused, as Bed does. It is not for notes.
func (w *Wire) Prepare(at time.Duration, msg []byte) (refused bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closed || !whole(msg) || msg[0] < sysexStart && w.use[msg[0]&0x0F] == Open {
		return true
	}
	if on, off := noteEdge(msg); on || off {
		return true
	}
	w.send(at, Ledger, msg)
	return false
}

// noteEdge tells a note-on from a note-off; velocity 0 is an off.
func noteEdge(msg []byte) (on, off bool) {
	switch msg[0] & 0xF0 {
	case noteOn:
		return msg[2] > 0, msg[2] == 0
	case noteOff:
		return false, true
	}
	return false, false
}

// open passes the player's message on a channel of the player's own.
func (w *Wire) open(at time.Duration, p *part, msg []byte) {
	on, off := noteEdge(msg)
	switch {
	case on && w.lost: // not sent, so nothing to end
	case on:
		w.strike(at, Player, &p.pitches[msg[1]], msg)
	case off:
		w.release(at, &p.pitches[msg[1]], msg)
	default:
		if i, ok := holdPedal(msg); ok {
			p.pedals[i].said = msg[2]
			w.movePedal(at, Player, &p.pedals[i], msg)
		} else {
			w.send(at, Player, msg)
		}
	}
}

// shared takes the player's message on a shared channel and reports whether it
// has a place there.
func (w *Wire) shared(at time.Duration, p *part, msg []byte) bool {
	on, off := noteEdge(msg)
	switch {
	case (on || off) && w.lost: // the ledger keeps what is owed
	case on:
		n := &p.pitches[msg[1]]
		if n.strikes > 0 && !w.end(at, msg[0]&0x0F, msg[1], n) {
			break
		}
		count(&n.keys)
		w.strike(at, Player, n, msg)
	case off:
		n := &p.pitches[msg[1]]
		if !uncount(&n.keys) {
			break
		}
		n.ringing = p.damped()
		if !n.owned() {
			w.release(at, n, msg)
		}
	case msg[0]&0xF0 == program:
		return false
	case msg[0]&0xF0 == controller:
		return w.sharedControl(at, p, msg)
	default:
		w.send(at, Player, msg)
	}
	return true
}

func (w *Wire) sharedControl(at time.Duration, p *part, msg []byte) bool {
	switch number := msg[1]; number {
	case damper:
		if p.pedals[0].said = msg[2]; !p.damped() {
			w.dampen(at, msg[0]&0x0F, p)
		}
	case sostenuto, hold2, bankMSB, bankLSB, allSoundOff, resetControllers:
		return false
	default:
		if number >= allNotesOff {
			return false
		}
		w.send(at, Player, msg)
	}
	return true
}

// dampen ends what only the player's damper held on a shared channel.
func (w *Wire) dampen(at time.Duration, ch uint8, p *part) {
	for key := range p.pitches {
		n := &p.pitches[key]
		if !n.ringing {
			continue
		}
		n.ringing = false
		if !n.owned() {
			w.end(at, ch, uint8(key), n)
		}
	}
}
