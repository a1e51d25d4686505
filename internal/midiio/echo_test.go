package midiio

import (
	"testing"
	"time"
)

func TestEchoOfAStrike(t *testing.T) {
	for _, c := range []struct {
		after time.Duration
		msg   []byte
		want  bool
	}{
		{2 * ms, []byte{0x90, 60, 70}, true},        // through a synth that repeats
		{29 * ms, []byte{0x90, 60, 70}, true},       // through a slow one
		{31 * ms, []byte{0x90, 60, 70}, false},      // struck again
		{2 * ms, []byte{0x90, 60, 71}, false},       // another velocity: another finger
		{2 * ms, []byte{0x91, 60, 70}, false},       // another channel
		{2 * ms, []byte{0x90, 61, 70}, false},       // another note
		{2 * ms, []byte{0x80, 60, 70}, false},       // let go
		{2 * ms, []byte{0x90, 60, 0}, false},        // let go
		{-2 * ms, []byte{0x90, 60, 70}, false},      // before it was sent
		{2 * ms, []byte{0xF0, 60, 70, 0xF7}, false}, // SysEx
	} {
		var e echo
		e.noteSent(time.Second, []byte{0x90, 60, 70})
		if got := e.heard(time.Second+c.after, c.msg); got != c.want {
			t.Errorf("%v later % X: %v, want %v", c.after, c.msg, got, c.want)
		}
	}
	var e echo
	msg := make([]byte, 100)
	if n := testing.AllocsPerRun(100, func() { e.noteSent(time.Second, msg); e.heard(time.Second, msg) }); n != 0 {
		t.Errorf("%v allocations, want 0", n)
	}
}

// A synth that repeats everything it gets, two milliseconds later: without the
// guard every message would go round until the evening ends.
func TestEchoEndsALoop(t *testing.T) {
	for _, c := range []struct {
		first, msg []byte
		most       int // rounds
	}{
		{nil, []byte{0x90, 60, 70}, 1},
		{[]byte{0x90, 60, 70}, []byte{0x80, 60, 64}, 1},
		{[]byte{0x90, 60, 70}, []byte{0xB0, 64, 127}, 1},
		{[]byte{0x90, 60, 70}, []byte{0xF0, 1, 2, 3, 0xF7}, 1},
		{nil, []byte{0xB0, 64, 127}, echoRun}, // a pedal before the first note
		{nil, []byte{0xC0, 5}, echoRun},
	} {
		var e echo
		at := time.Duration(0)
		pass := func(msg []byte) (rounds int) {
			for ; rounds < 1000 && !e.heard(at, msg); rounds++ {
				e.noteSent(at, msg)
				at += 2 * ms
			}
			return rounds
		}
		if c.first != nil {
			pass(c.first)
		}
		if got := pass(c.msg); got > c.most {
			t.Errorf("% X goes round %d times, want at most %d", c.msg, got, c.most)
		}
		if got := pass([]byte{0xB0, 1, 2}); got > 1 {
			t.Errorf("after % X another message goes round %d times, want once", c.msg, got)
		}
	}
}

// A wheel that trembles and a pedal that says the same again and again are the
// player's, and pass.
func TestTremblingControlIsNoEcho(t *testing.T) {
	var e echo
	at := time.Second
	for i := range 1000 {
		msg := []byte{0xB0, 1, byte(63 + i%2)}
		if i > 500 {
			msg = []byte{0xB0, 11, 90}
		}
		if e.heard(at, msg) {
			t.Fatalf("message %d, % X, is cut", i, msg)
		}
		e.noteSent(at, msg)
		at += 10 * ms
	}
}
