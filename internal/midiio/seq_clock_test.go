//go:build linux

package midiio

import (
	"encoding/binary"
	"testing"
	"testing/synctest"
	"time"
)

// stamped is a note with the time of a queue on it.
func stamped(queue byte, at time.Duration) seqEvent {
	b := event(seqNoteOn, 0, 60, 1)
	b[1], b[3] = seqStampReal, queue
	binary.NativeEndian.PutUint32(b[4:], uint32(at/time.Second))
	binary.NativeEndian.PutUint32(b[8:], uint32(at%time.Second))
	e, _, _ := splitEvent(b)
	return e
}

// A queue that is 5 s ahead; then its timer stumbles by 3 ms, which is noticed
// a second later, but not by a question that took long.
func TestSeqClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := time.Now()
		ahead, slow := 5*time.Second, time.Duration(0)
		asked := 0
		queue := func() (time.Duration, bool) {
			asked++
			now := time.Since(start) + ahead
			time.Sleep(slow)
			return now, true
		}
		c := newSeqClock(4, queue)
		age := func(ago time.Duration) time.Duration {
			return c.age(c.elapsed(), stamped(4, time.Since(start)+ahead-ago))
		}
		if got := age(7 * time.Millisecond); got != 7*time.Millisecond {
			t.Errorf("age %v, want 7ms", got)
		}
		time.Sleep(900 * time.Millisecond)
		ahead -= 3 * time.Millisecond
		c.keep(c.elapsed())
		if got := age(7 * time.Millisecond); got != 10*time.Millisecond || asked != 1 {
			t.Errorf("before it is time to measure: age %v, asked %d times", got, asked)
		}
		time.Sleep(100 * time.Millisecond)
		slow = 10 * time.Millisecond
		c.keep(c.elapsed())
		if got := age(7 * time.Millisecond); got != 10*time.Millisecond || asked != 1+measureTries {
			t.Errorf("after slow answers: age %v, asked %d times", got, asked)
		}
		slow = 0
		time.Sleep(measureEvery)
		c.keep(c.elapsed())
		if got := age(7 * time.Millisecond); got != 7*time.Millisecond {
			t.Errorf("measured again: age %v, want 7ms", got)
		}
		if got := age(-time.Millisecond); got != 0 {
			t.Errorf("from the future: age %v, want 0", got)
		}
		if got := c.age(c.elapsed(), stamped(5, 0)); got != 0 {
			t.Errorf("another queue's: age %v, want 0", got)
		}
	})
}

func TestSeqClockWithoutQueue(t *testing.T) {
	c := newSeqClock(noQueue, func() (time.Duration, bool) { return 0, false })
	c.keep(c.elapsed())
	if got := c.age(time.Hour, stamped(255, time.Second)); got != 0 {
		t.Errorf("age %v, want 0", got)
	}
}
