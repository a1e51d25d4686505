package sound

import (
	"errors"
	"sync/atomic"
)

// liveQueue holds the messages of one block. A MIDI wire carries about 1000
// messages a second, so this is seconds of a wire kept busy, or a panic on
// all channels with room to spare.
const liveQueue = 4096

// Live plays a Synth from an audio callback: one goroutine pushes messages,
// the callback fills blocks.
type Live struct {
	synth   *Synth
	queue   *Queue
	tee     *Tee
	blocks  atomic.Uint64
	restart atomic.Bool
}

// NewLive wraps synth, which then belongs to the callback. tee may be nil;
// otherwise it gets a copy of every block.
func NewLive(synth *Synth, tee *Tee) (*Live, error) {
	if synth == nil {
		return nil, errors.New("live sound needs a synth")
	}
	q, err := NewQueue(liveQueue)
	if err != nil {
		return nil, err
	}
	return &Live{synth: synth, queue: q, tee: tee}, nil
}

// Push hands over one channel message for the next block, or returns false
// when too many wait. One goroutine at a time.
// Hot path: no allocation, never waits.
func (l *Live) Push(status, data1, data2 byte) bool {
	return l.queue.Push(Message{status, data1, data2})
}

// Fill takes what waits and renders one block of interleaved stereo. It is
// the audio callback's.
// Hot path: no allocation, never waits; O(messages + voices).
func (l *Live) Fill(out []float32) {
	if l.restart.Swap(false) {
		l.synth.FadeIn()
	}
	// No more than one queue's worth, so that a producer that never stops
	// cannot keep the callback here.
	for range liveQueue {
		m, ok := l.queue.Pop()
		if !ok {
			break
		}
		l.synth.Send(m.Status, m.Data1, m.Data2)
	}
	l.synth.Render(out)
	if l.tee != nil {
		l.tee.write(out)
	}
	l.blocks.Add(1)
}

// Restart makes the next block fade in from silence, as after a device was
// opened again. Any goroutine may call it.
func (l *Live) Restart() { l.restart.Store(true) }

// Blocks counts the blocks filled. Any goroutine may ask.
func (l *Live) Blocks() uint64 { return l.blocks.Load() }

// Refused counts the messages that found no room. Any goroutine may ask.
func (l *Live) Refused() uint64 { return l.queue.Refused() }
