package midiio

import (
	"testing"
	"time"
)

func TestEcho(t *testing.T) {
	const ms = time.Millisecond
	var e Echo
	e.Sent(time.Second, []byte{0x90, 60, 70})
	for _, c := range []struct {
		at   time.Duration
		msg  []byte
		want bool
	}{
		{time.Second, []byte{0x90, 60, 70}, false},          // the message itself
		{time.Second + 2*ms, []byte{0x90, 60, 70}, true},    // through a synth that repeats
		{time.Second + 29*ms, []byte{0x90, 60, 70}, true},   // through a slow one
		{time.Second + 31*ms, []byte{0x90, 60, 70}, false},  // struck again
		{time.Second + 2*ms, []byte{0x90, 60, 71}, false},   // another velocity: another finger
		{time.Second + 2*ms, []byte{0x91, 60, 70}, false},   // another channel
		{time.Second + 2*ms, []byte{0x90, 61, 70}, false},   // another note
		{time.Second + 2*ms, []byte{0x80, 60, 70}, false},   // an off does no harm
		{time.Second + 2*ms, []byte{0x90, 60, 0}, false},    // nor does this one
		{time.Second - 2*ms, []byte{0x90, 60, 70}, false},   // before it was sent
		{time.Second + 2*ms, []byte{0xF0, 60, 0xF7}, false}, // SysEx
		{time.Second + 2*ms, []byte{0x90, 60}, false},       // not whole
	} {
		if got := e.Heard(c.at, c.msg); got != c.want {
			t.Errorf("at %v % X: %v, want %v", c.at, c.msg, got, c.want)
		}
	}
	msg := []byte{0x90, 60, 70}
	if n := testing.AllocsPerRun(100, func() { e.Sent(time.Second, msg); e.Heard(time.Second, msg) }); n != 0 {
		t.Errorf("%v allocations, want 0", n)
	}
}

// A synth that repeats everything it gets, two milliseconds later: without the
// guard one note would go round until the evening ends.
func TestEchoEndsALoop(t *testing.T) {
	var e Echo
	at, msg, rounds := time.Duration(0), []byte{0x90, 60, 70}, 0
	for ; rounds < 100 && !e.Heard(at, msg); rounds++ {
		e.Sent(at, msg)
		at += 2 * time.Millisecond
	}
	if rounds != 1 {
		t.Errorf("the note goes round %d times, want once", rounds)
	}
}
