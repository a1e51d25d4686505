package midiio

import (
	"sync"
	"time"
)

const (
	// echoStrike is how soon after it was sent a strike comes back through a synth
	// or an interface that repeats what it gets. No hand strikes one key twice with
	// the same velocity as fast as that. Common practice, no source.
	echoStrike = 30 * time.Millisecond

	// echoSlowest is how late an echo may be: more than the longest SysEx takes on a
	// serial cable, 2,048 bytes of 320 µs (MIDI 1.0 Detailed Specification 4.2).
	echoSlowest = 700 * time.Millisecond

	// echoProof is how many messages have to come back before it is taken for an
	// echo, where one alone may be chance.
	echoProof = 4

	// echoMemory is how long nothing has to come back before the echo counts as
	// gone.
	echoMemory = 5 * time.Second

	// echoEarly is how long before it was sent a message may seem to come back, for
	// the inaccuracy of the kernel's stamps.
	echoEarly = 2 * time.Millisecond

	echoSlots = 1024
)

// echo finds what bedd sent and hears again, before it goes round and round.
// What comes back is one message for each that was sent. On the bed's own
// channels some of that is proof: nobody else plays there. On others a strike is,
// or several, where bedd sends other notes than the player plays. Everything else
// passes until there is proof, since a control that trembles repeats itself too.
// Its methods may be called from several goroutines.
type echo struct {
	beds     uint16 // the bed's own channels, by bit
	rewrites bool   // what is sent for the player's notes may be other notes

	mu    sync.Mutex
	sent  [echoSlots]sentOnce // a ring
	next  int
	proof int           // of an echo
	found bool          // there is one
	last  time.Duration // when something came back last
	delay time.Duration // the longest that it took, of late
	cut   uint64
}

// sentOnce is a message that went out and has not come back.
type sentOnce struct {
	hash uint64
	at   time.Duration
	open bool
}

// noteSent notes a message that goes out. Hot path: no allocation; O(length).
func (e *echo) noteSent(at time.Duration, msg []byte) {
	hash := hashOf(msg)
	e.mu.Lock()
	defer e.mu.Unlock()
	e.sent[e.next] = sentOnce{hash, at, true}
	e.next = (e.next + 1) % echoSlots
}

// forget takes back noteSent: the message did not go out.
func (e *echo) forget(msg []byte) {
	hash := hashOf(msg)
	e.mu.Lock()
	defer e.mu.Unlock()
	for i := range echoSlots {
		if s := &e.sent[(e.next-1-i+echoSlots)%echoSlots]; s.open && s.hash == hash || s.hash == 0 {
			s.open = false
			return
		}
	}
}

// heard reports whether a message that arrives is to be cut, since it was sent a
// moment before. Hot path: no allocation; O(length) and O(messages sent in the
// last echoSlowest).
func (e *echo) heard(at time.Duration, msg []byte) bool {
	hash := hashOf(msg)
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.found && at-e.last > echoMemory {
		e.found, e.proof, e.delay = false, 0, 0
	}
	channel := msg[0] < sysexStart
	own := channel && e.beds>>(msg[0]&0x0F)&1 != 0
	on, _ := noteEdge(msg)
	limit := echoStrike
	switch {
	case own:
		limit = echoSlowest
	case e.found:
		limit = max(limit, e.delay+e.delay/2)
	}
	slot := e.first(hash, at, limit)
	if slot == nil {
		if on {
			e.proof = 0
		}
		return false
	}
	late := at - slot.at
	slot.open = false
	switch {
	case own, on && e.rewrites:
		e.proof++
	case on:
		e.proof = echoProof
	}
	if e.proof >= echoProof {
		e.found = true
	}
	if !e.found {
		return false
	}
	e.last, e.delay = at, max(e.delay, late)
	e.cut++
	return true
}

// first finds the earliest message that was sent within the limit and has not
// come back.
func (e *echo) first(hash uint64, at, limit time.Duration) (found *sentOnce) {
	for i := range echoSlots {
		s := &e.sent[(e.next-1-i+echoSlots)%echoSlots]
		if s.hash == 0 || at-s.at > limit {
			break
		}
		if s.open && s.hash == hash && s.at-echoEarly <= at {
			found = s
		}
	}
	return found
}

// cuts is how many messages were cut.
func (e *echo) cuts() uint64 {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.cut
}

// hashOf is FNV-1a, 64 bits; it is never 0 for a message.
func hashOf(msg []byte) uint64 {
	hash := uint64(14695981039346656037)
	for _, b := range msg {
		hash = (hash ^ uint64(b)) * 1099511628211
	}
	return hash | 1
}
