package sound

import (
	"fmt"
	"math/bits"
	"sync/atomic"
)

// ring is a first-in first-out buffer of values between exactly one writing
// and one reading goroutine. Neither side ever waits.
//
// head and tail count for ever and are reduced to an index only on use, so
// full and empty never look alike. The writer owns tail, the reader owns head.
type ring[T any] struct {
	slots []T
	mask  uint64
	head  atomic.Uint64 // next to read
	_     [56]byte      // keeps the two counters on separate cache lines
	tail  atomic.Uint64 // next to write
}

// newRing makes a ring of capacity slots, a power of two.
func newRing[T any](capacity int) (*ring[T], error) {
	if capacity < 2 || bits.OnesCount(uint(capacity)) != 1 {
		return nil, fmt.Errorf("ring capacity %d is not a power of two from 2 up", capacity)
	}
	return &ring[T]{slots: make([]T, capacity), mask: uint64(capacity - 1)}, nil
}

// put stores v and reports whether there was room.
func (r *ring[T]) put(v T) bool {
	tail := r.tail.Load()
	if tail-r.head.Load() == uint64(len(r.slots)) {
		return false
	}
	r.slots[tail&r.mask] = v
	r.tail.Store(tail + 1)
	return true
}

// take removes the oldest value; ok is false when there is none.
func (r *ring[T]) take() (v T, ok bool) {
	head := r.head.Load()
	if head == r.tail.Load() {
		return v, false
	}
	v = r.slots[head&r.mask]
	r.head.Store(head + 1)
	return v, true
}

// putAll stores all of values or none of them.
func (r *ring[T]) putAll(values []T) bool {
	tail := r.tail.Load()
	if uint64(len(r.slots))-(tail-r.head.Load()) < uint64(len(values)) {
		return false
	}
	first := copy(r.slots[tail&r.mask:], values)
	copy(r.slots, values[first:])
	r.tail.Store(tail + uint64(len(values)))
	return true
}

// takeAll moves up to len(into) of the oldest values and gives their count.
func (r *ring[T]) takeAll(into []T) int {
	head := r.head.Load()
	n := min(uint64(len(into)), r.tail.Load()-head)
	at := head & r.mask
	first := copy(into[:n], r.slots[at:])
	copy(into[first:n], r.slots)
	r.head.Store(head + n)
	return int(n)
}
