//go:build linux

package midiio

import "time"

// seqClock reads the stamps that the kernel puts on what arrives. They are times
// of a queue, which runs as the system's monotonic clock does but from another
// start. That difference is measured when the clock is made, and again once a
// second while messages arrive, after they have been handed on; it moves only by as
// much as the kernel's timer is late, some 10 µs.
type seqClock struct {
	queue    int
	ask      func() (queue time.Duration, ok bool)
	start    time.Time     // what elapsed counts from
	zero     time.Duration // when the queue started, since start
	measured time.Duration // when that was found out, since start
	ok       bool
}

const (
	measureEvery = time.Second
	// measureWithin is how long a measurement may take that counts: longer ones were
	// interrupted, and are out by up to half of that.
	measureWithin = 100 * time.Microsecond
	measureTries  = 5
)

func newSeqClock(queue int, ask func() (time.Duration, bool)) *seqClock {
	c := &seqClock{queue: queue, ask: ask, start: time.Now()}
	c.measure()
	return c
}

// elapsed is the time since the clock was made.
func (c *seqClock) elapsed() time.Duration { return time.Since(c.start) }

// age is how long before now, a time of elapsed, an event arrived: 0 for one
// without a stamp of the queue.
func (c *seqClock) age(now time.Duration, e seqEvent) time.Duration {
	at, stamped := e.stamp(uint8(c.queue))
	if !stamped || !c.ok {
		return 0
	}
	return max(now-c.zero-at, 0)
}

// keep measures again when it is time to.
func (c *seqClock) keep(now time.Duration) {
	if c.ok && now-c.measured >= measureEvery {
		c.measure()
	}
}

// measure finds out when the queue started; of several tries the quickest counts,
// and a slow one only where there is nothing yet.
func (c *seqClock) measure() {
	best := time.Duration(-1)
	for range measureTries {
		before := c.elapsed()
		queue, ok := c.ask()
		after := c.elapsed()
		if !ok {
			return
		}
		took := after - before
		if best < 0 || took < best {
			best = took
			if took <= measureWithin || !c.ok {
				c.zero = before + took/2 - queue
			}
		}
		c.measured = after
		if took <= measureWithin {
			break
		}
	}
	c.ok = true
}
