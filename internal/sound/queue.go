package sound

import (
	"fmt"
	"sync/atomic"
	"time"
)

// Message is one MIDI channel message. Data bytes that the status does not
// use are 0.
type Message struct{ Status, Data1, Data2 byte }

// stamped is a message at a time, by the clock of who pushes it.
type stamped struct {
	at time.Duration
	Message
}

// queue carries messages from one goroutine that pushes to one that pops,
// in order, without locks. Any other number of goroutines needs a lock of
// its own.
type queue struct {
	ring    *ring[stamped]
	refused atomic.Uint64
}

// newQueue makes a queue that holds capacity messages, a power of two from
// 2 up.
func newQueue(capacity int) (*queue, error) {
	r, err := newRing[stamped](capacity)
	if err != nil {
		return nil, fmt.Errorf("message queue: %w", err)
	}
	return &queue{ring: r}, nil
}

// push adds m, or returns false and counts it when the queue is full.
// Hot path: no allocation, never waits.
func (q *queue) push(m stamped) bool {
	if q.ring.put(m) {
		return true
	}
	q.refused.Add(1)
	return false
}

// pop takes the oldest message; ok is false when there is none.
// Hot path: no allocation, never waits.
func (q *queue) pop() (m stamped, ok bool) { return q.ring.take() }

// dropped counts the messages push found no room for. Any goroutine may ask.
func (q *queue) dropped() uint64 { return q.refused.Load() }
