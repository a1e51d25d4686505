package midiio

import (
	"sync/atomic"
	"time"
)

const (
	// echoWindow is how soon after it was sent a message comes back through a synth
	// or an interface that repeats what it gets. No hand strikes one key twice with
	// the same velocity as fast as that. Common practice, no source.
	echoWindow = 30 * time.Millisecond

	// echoRun is how many messages in a row, none of them a strike, come back within
	// echoFast before it is taken for an echo. A control that trembles sends values
	// it has sent before, but not as fast; a loop has made as many rounds in half a
	// second at most.
	echoRun  = 64
	echoFast = 8 * time.Millisecond

	// echoEarly is how long before it was sent a message may seem to come back, for
	// the inaccuracy of the kernel's stamps.
	echoEarly = 2 * time.Millisecond

	echoSlots = 1 << 14
)

// echo finds what bedd sent and hears again, before it goes round and round. A
// strike that comes back is cut at once, and from then on everything that does;
// without a strike, after echoRun messages. Its methods may be called from
// several goroutines.
type echo struct {
	sent  [echoSlots]atomic.Int64 // by hash: when it was sent, in µs and one more, above the rest of the hash; 0 never
	run   atomic.Int32
	found atomic.Bool
	cut   atomic.Uint64
}

// noteSent notes a message that goes out. Hot path: no allocation; O(length).
func (e *echo) noteSent(at time.Duration, msg []byte) {
	slot, rest := e.slot(msg)
	slot.Store((at.Microseconds()+1)<<16 | rest)
}

// forget takes back noteSent: the message did not go out.
func (e *echo) forget(msg []byte) {
	slot, _ := e.slot(msg)
	slot.Store(0)
}

// heard reports whether a message that arrives is to be cut, since it was sent a
// moment before. Hot path: no allocation; O(length).
func (e *echo) heard(at time.Duration, msg []byte) bool {
	slot, rest := e.slot(msg)
	was := slot.Load()
	gap := at - time.Duration(was>>16-1)*time.Microsecond
	back := was != 0 && was&0xFFFF == rest && gap > -echoEarly && gap < echoWindow
	switch on, _ := noteEdge(msg); {
	case back && (on || gap < echoFast && e.run.Add(1) >= echoRun):
		e.found.Store(true)
	case !back && !on:
		e.run.Store(0)
	}
	if !back || !e.found.Load() {
		return false
	}
	e.cut.Add(1)
	return true
}

// slot gives a message's place and what tells it from others of that place
// (FNV-1a, 32 bits).
func (e *echo) slot(msg []byte) (at *atomic.Int64, rest int64) {
	hash := uint32(2166136261)
	for _, b := range msg {
		hash = (hash ^ uint32(b)) * 16777619
	}
	return &e.sent[hash%echoSlots], int64(hash >> 16)
}
