package sound

import (
	"errors"
	"sync/atomic"
	"time"
)

// liveQueue holds the messages of one block. A MIDI wire carries about 1000
// messages a second, so this is seconds of a wire kept busy, or a panic on
// all channels with room to spare.
const liveQueue = 4096

// Instrument is what turns messages into sound: a Synth, or a Font.
type Instrument interface {
	// Rate gives the frames a second.
	Rate() int
	// Send applies one channel message, between the frames rendered and those to
	// come.
	Send(status, data1, data2 byte)
	// Render fills out with interleaved stereo, full scale ±1.
	Render(out []float32)
	// FadeIn makes the sound rise from silence again, as at the start.
	FadeIn()
	// RenderTo renders events, ordered by Frame, and tail frames after the last
	// one; see Synth.RenderTo.
	RenderTo(events []Event, tail int64, sink func([]float32) error, progress func(done, total int64)) error
}

// Live plays an Instrument from an audio callback: one goroutine pushes messages,
// the callback fills blocks.
//
// A message sounds one block after it was pushed, to the frame, as long as the
// blocks come evenly: what is played in time is heard in time, whatever the
// length of a block. It never waits for longer than the callback did.
type Live struct {
	synth     Instrument
	rate      float64
	queue     *queue
	next      stamped // the oldest message, taken from the queue
	waits     bool    // next is there
	clock     func() time.Duration
	blocks    blockClock
	tee       *Tee
	filled    atomic.Uint64
	underruns atomic.Uint64
	restart   atomic.Bool
	ending    atomic.Bool
	end       fade
}

// NewLive wraps synth, which then belongs to the callback. tee may be nil;
// otherwise it gets a copy of every block.
func NewLive(synth Instrument, tee *Tee) (*Live, error) {
	start := time.Now()
	return newLive(synth, tee, func() time.Duration { return time.Since(start) })
}

func newLive(synth Instrument, tee *Tee, clock func() time.Duration) (*Live, error) {
	if synth == nil {
		return nil, errors.New("live sound needs a synth")
	}
	q, err := newQueue(liveQueue)
	if err != nil {
		return nil, err
	}
	return &Live{synth: synth, rate: float64(synth.Rate()), queue: q, tee: tee, clock: clock, end: newFade(synth.Rate())}, nil
}

// Push hands over one channel message, which is of now, or returns false when
// too many wait. One goroutine at a time.
// Hot path: no allocation, never waits.
func (l *Live) Push(status, data1, data2 byte) bool {
	return l.queue.push(stamped{l.clock(), Message{status, data1, data2}})
}

// Fill renders one block of interleaved stereo, with the messages whose time it
// is on their frames. It is the audio callback's.
// Hot path: no allocation, never waits; O(messages + voices).
func (l *Live) Fill(out []float32) {
	frames := len(out) / 2
	length := time.Duration(float64(frames) / l.rate * float64(time.Second))
	if l.restart.Swap(false) {
		l.blocks = blockClock{}
		l.synth.FadeIn()
	}
	from, late := l.blocks.next(l.clock(), length)
	if late {
		l.underruns.Add(1)
	}
	done := 0
	// No more than one queue's worth, so that a producer that never stops
	// cannot keep the callback here.
	for range liveQueue {
		if !l.waits {
			l.next, l.waits = l.queue.pop()
		}
		if !l.waits || l.next.at >= from+length {
			break
		}
		l.waits = false
		if at := int((l.next.at - from).Seconds() * l.rate); at > done {
			at = min(at, frames)
			l.synth.Render(out[2*done : 2*at])
			done = at
		}
		m := l.next.Message
		l.synth.Send(m.Status, m.Data1, m.Data2)
	}
	l.synth.Render(out[2*done:])
	if l.ending.Load() {
		l.end.out(out)
	}
	if l.tee != nil {
		l.tee.Write(out)
	}
	l.filled.Add(1)
}

// Restart makes the next block fade in from silence, as after a device was
// opened again. Any goroutine may call it.
func (l *Live) Restart() { l.restart.Store(true) }

// End lets the sound fall silent for good within 80 ms, as before the device is
// closed. Any goroutine may call it.
func (l *Live) End() { l.ending.Store(true) }

// Blocks counts the blocks filled. Any goroutine may ask.
func (l *Live) Blocks() uint64 { return l.filled.Load() }

// Underruns counts the blocks that were asked for so late, or took so long, that
// the card must have run dry before them. Any goroutine may ask.
func (l *Live) Underruns() uint64 { return l.underruns.Load() }

// Refused counts the messages that found no room. Any goroutine may ask.
func (l *Live) Refused() uint64 { return l.queue.dropped() }

const (
	// clockShare is how far the clock of the blocks follows each of them: what
	// a card asks for late or in bursts is evened out over some twenty.
	clockShare = 0.05

	// dryAfter is how late a block may come, in blocks: the three that a card
	// usually holds. A card that asks for several at once holds as many more.
	dryAfter = 3
)

// blockClock tells at what time blocks are due, evenly, from the uneven times at
// which they are asked for. The zero value begins with the next block.
type blockClock struct {
	due   time.Duration
	last  time.Duration // when the one before was asked for
	run   int           // blocks asked for at once, up to here
	burst int           // the most
}

// next takes a block asked for now. The messages from from on, over the block's
// length, are its own. late says that the card has run dry.
func (b *blockClock) next(now, length time.Duration) (from time.Duration, late bool) {
	if b.burst == 0 {
		b.due = now
	}
	if b.run++; now-b.last > length/2 {
		b.run = 1
	}
	b.last, b.burst = now, max(b.burst, b.run)
	off, most := now-b.due, time.Duration(dryAfter+b.burst)*length
	if late = off > most; late || off < -most {
		b.due, off = now, 0
	}
	from = b.due - length
	b.due += length + time.Duration(clockShare*float64(off))
	return from, late
}
