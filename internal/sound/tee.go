package sound

import (
	"errors"
	"fmt"
	"sync/atomic"
	"time"
)

// Tee carries a copy of sound from the audio callback to a Recorder or another reader.
// When the recorder falls behind, whole blocks are dropped and
// counted; the callback never waits.
type Tee struct {
	ring    *ring[float32]
	dropped atomic.Uint64
}

// NewTee makes a tee that holds the given number of stereo frames, a power
// of two.
func NewTee(frames int) (*Tee, error) {
	r, err := newRing[float32](2 * frames)
	if err != nil {
		return nil, fmt.Errorf("tee of %d frames: the count must be a power of two", frames)
	}
	return &Tee{ring: r}, nil
}

// Write copies one block in, or drops it whole. One goroutine at a time may call it.
// Hot path: no allocation.
func (t *Tee) Write(block []float32) {
	if !t.ring.putAll(block) {
		t.dropped.Add(uint64(len(block) / 2))
	}
}

// Read takes samples out, as many as there are and have room, and gives their number. It
// is for a tee without a Recorder, and one goroutine at a time.
func (t *Tee) Read(block []float32) int { return t.ring.takeAll(block) }

// Dropped counts the frames that found no room. Any goroutine may ask.
func (t *Tee) Dropped() uint64 { return t.dropped.Load() }

// recordEvery is how often a recorder looks for sound. A tee of 1<<16 frames
// then has more than a second in hand at 48 kHz.
const recordEvery = 20 * time.Millisecond

// Recorder drains a tee into a WAV file on a goroutine of its own.
type Recorder struct {
	tee     *Tee
	wav     *WAV
	stop    chan struct{}
	stopped chan error
}

// Record starts draining tee into wav. End it with Close.
func Record(tee *Tee, wav *WAV) *Recorder {
	r := &Recorder{tee: tee, wav: wav, stop: make(chan struct{}), stopped: make(chan error, 1)}
	go func() {
		failed := errors.New("recording failed: this is a bug of bedd's")
		defer func() { r.stopped <- failed }()
		defer func() {
			if p := recover(); p != nil { // what plays goes on
				failed = fmt.Errorf("%w: %v", failed, p)
			}
		}()
		failed = r.run()
	}()
	return r
}

// Close writes what the tee still holds, closes the WAV and returns the
// first error of the recording. Fill must not run any more. Call it once.
func (r *Recorder) Close() error {
	close(r.stop)
	return errors.Join(<-r.stopped, r.wav.Close())
}

func (r *Recorder) run() error {
	block := make([]float32, 4096)
	tick := time.NewTicker(recordEvery)
	defer tick.Stop()
	var failed error
	drain := func() {
		for {
			n := r.tee.ring.takeAll(block)
			if n == 0 {
				return
			}
			// After a failure the tee is still emptied, so that its count of
			// dropped frames keeps meaning "the recorder was too slow".
			if failed == nil {
				failed = r.wav.Write(block[:n])
			}
		}
	}
	for {
		select {
		case <-tick.C:
			drain()
		case <-r.stop:
			drain()
			return failed
		}
	}
}
