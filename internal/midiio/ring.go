package midiio

import (
	"sync/atomic"
	"time"
)

// Message is one message that arrived at an input.
type Message struct {
	At   time.Duration // since the session started
	Len  uint16        // of the message, in bytes
	Data [6]byte       // the message, or of a longer SysEx its first six bytes
}

// Bytes is the message, and of a SysEx its first six bytes at most. It is good
// while m is.
func (m *Message) Bytes() []byte { return m.Data[:min(int(m.Len), len(m.Data))] }

// ringSize is how many messages wait in a ring at most: four seconds of a cable
// that is full of three-byte messages (31,250 baud, ten bits a byte: 1,042 a
// second). It is a power of two.
const ringSize = 4096

// Ring takes messages from one goroutine to another, in order. Push is for one
// goroutine at a time, and so is Pop.
type Ring struct {
	pushed  atomic.Uint64 // messages ever pushed
	popped  atomic.Uint64 // messages ever popped
	dropped atomic.Uint64
	slots   [ringSize]Message
}

// Push puts a message in and reports whether there was room; if not, the message
// is dropped and counted. Hot path: no allocation, never waits; O(1).
func (r *Ring) Push(m Message) bool {
	at := r.pushed.Load()
	if at-r.popped.Load() == ringSize {
		r.dropped.Add(1)
		return false
	}
	r.slots[at%ringSize] = m
	r.pushed.Store(at + 1)
	return true
}

// Pop takes the oldest message out. Hot path: no allocation, never waits; O(1).
func (r *Ring) Pop() (m Message, ok bool) {
	m, ok = r.Peek()
	if ok {
		r.popped.Add(1)
	}
	return m, ok
}

// Peek gives the oldest message and leaves it in. It is for the goroutine that
// pops.
func (r *Ring) Peek() (m Message, ok bool) {
	at := r.popped.Load()
	if at == r.pushed.Load() {
		return Message{}, false
	}
	return r.slots[at%ringSize], true
}

// Dropped is how many messages found no room so far.
func (r *Ring) Dropped() uint64 { return r.dropped.Load() }
