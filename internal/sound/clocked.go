package sound

import (
	"fmt"
	"time"
)

// maxCatchUp is the most blocks rendered in one go after a late wake-up;
// what is later than that is skipped, as a sound card would have.
const maxCatchUp = 8

// Clocked calls fill in real time without a sound card, so that a live run
// can be recorded on any machine.
type Clocked struct {
	stop, stopped chan struct{}
}

// NewClocked starts a goroutine that has fill write blocks of the given
// number of stereo frames at rate frames a second, by the monotonic clock.
func NewClocked(rate, frames int, fill func([]float32)) (*Clocked, error) {
	if rate <= 0 || frames <= 0 {
		return nil, fmt.Errorf("clocked sound: %d frames at %d Hz: both must be positive", frames, rate)
	}
	c := &Clocked{stop: make(chan struct{}), stopped: make(chan struct{})}
	go c.run(time.Duration(frames)*time.Second/time.Duration(rate), frames, rate, fill)
	return c, nil
}

// Close stops the goroutine and waits for a running fill to end. Call it once.
func (c *Clocked) Close() {
	close(c.stop)
	<-c.stopped
}

func (c *Clocked) run(period time.Duration, frames, rate int, fill func([]float32)) {
	defer close(c.stopped)
	block := make([]float32, 2*frames)
	tick := time.NewTicker(max(period, time.Millisecond))
	defer tick.Stop()
	start := time.Now()
	var given int64 // blocks filled or skipped since start
	for {
		select {
		case <-c.stop:
			return
		case <-tick.C:
			due := blocksDue(time.Since(start), rate, frames)
			given = max(given, due-maxCatchUp)
			for ; given < due; given++ {
				fill(block)
			}
		}
	}
}

// blocksDue gives how many whole blocks a card would have asked for after
// elapsed.
func blocksDue(elapsed time.Duration, rate, frames int) int64 {
	seconds := int64(elapsed / time.Second)
	rest := int64(elapsed % time.Second)
	return (seconds*int64(rate) + rest*int64(rate)/int64(time.Second)) / int64(frames)
}
