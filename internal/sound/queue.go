package sound

import (
	"fmt"
	"sync/atomic"
)

// Message is one MIDI channel message. Data bytes that the status does not
// use are 0.
type Message struct{ Status, Data1, Data2 byte }

// Queue carries messages from one goroutine that pushes to one that pops,
// in order, without locks. Any other number of goroutines needs a lock of
// its own.
type Queue struct {
	ring    *ring[Message]
	refused atomic.Uint64
}

// NewQueue makes a queue that holds capacity messages, a power of two from
// 2 up.
func NewQueue(capacity int) (*Queue, error) {
	r, err := newRing[Message](capacity)
	if err != nil {
		return nil, fmt.Errorf("message queue: %w", err)
	}
	return &Queue{ring: r}, nil
}

// Push adds m, or returns false and counts it when the queue is full.
// Hot path: no allocation, never waits.
func (q *Queue) Push(m Message) bool {
	if q.ring.put(m) {
		return true
	}
	q.refused.Add(1)
	return false
}

// Pop takes the oldest message; ok is false when there is none.
// Hot path: no allocation, never waits.
func (q *Queue) Pop() (m Message, ok bool) { return q.ring.take() }

// Refused counts the messages Push found no room for. Any goroutine may ask.
func (q *Queue) Refused() uint64 { return q.refused.Load() }
