package midiio

import (
	"testing"
	"time"
)

// guarding is an echo guard of the default rig: the bed on channels 2 and 3.
func guarding() *echo { return &echo{beds: 1<<1 | 1<<2} }

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
		{2 * ms, []byte{0x93, 60, 70}, false},       // another channel
		{2 * ms, []byte{0x90, 61, 70}, false},       // another note
		{2 * ms, []byte{0x80, 60, 70}, false},       // let go
		{2 * ms, []byte{0x90, 60, 0}, false},        // let go
		{2 * ms, []byte{0xF0, 60, 70, 0xF7}, false}, // SysEx
	} {
		e := guarding()
		e.noteSent(time.Second, []byte{0x90, 60, 70})
		if got := e.heard(time.Second+c.after, c.msg); got != c.want {
			t.Errorf("%v later % X: %v, want %v", c.after, c.msg, got, c.want)
		}
	}
	e, msg := guarding(), make([]byte, 100)
	if n := testing.AllocsPerRun(100, func() { e.noteSent(time.Second, msg); e.heard(time.Second, msg) }); n != 0 {
		t.Errorf("%v allocations, want 0", n)
	}
}

// loop lets a synth that repeats everything it gets, some time later, hear a
// message, and gives how often it goes round.
func loop(e *echo, at *time.Duration, lag time.Duration, msg ...byte) (rounds int) {
	for ; rounds < 1000 && !e.heard(*at, msg); rounds++ {
		e.noteSent(*at, msg)
		*at += lag
	}
	*at += time.Second
	return rounds
}

// Without the guard every message would go round until the evening ends. A
// session begins with the bed's set-up, which is proof enough of any loop.
func TestEchoEndsALoop(t *testing.T) {
	setUp := [][]byte{{0xC1, 89}, {0xB1, 7, 100}, {0xB1, 11, 0}, {0xC2, 94}, {0xB2, 7, 90}, {0xB2, 11, 0}}
	for _, lag := range []time.Duration{time.Millisecond, 10 * ms, 35 * ms, 200 * ms} {
		for _, msg := range [][]byte{{0x90, 60, 70}, {0x80, 60, 64}, {0xB0, 64, 127}, {0xC0, 5}, {0xF0, 1, 2, 3, 0xF7}} {
			e := guarding()
			for _, m := range setUp {
				e.noteSent(0, m)
			}
			for i, m := range setUp { // refused on the bed's channels anyway
				if cut := e.heard(lag, m); cut != (i >= echoProof-1) {
					t.Fatalf("set-up message %d comes back: cut %v", i, cut)
				}
			}
			at := 2 * time.Second
			if rounds := loop(e, &at, lag, msg...); rounds != 1 {
				t.Errorf("%v late: % X goes round %d times, want once", lag, msg, rounds)
			}
		}
	}
	e, at := guarding(), time.Second // without set-up a quick strike is proof, too
	if a, b := loop(e, &at, 2*ms, 0x90, 60, 70), loop(e, &at, 2*ms, 0xB0, 64, 127); a != 1 || b != 1 {
		t.Errorf("a strike goes round %d times, then a pedal %d, want once", a, b)
	}
}

// Between the echoes of what they play, hands are heard.
func TestEchoLeavesThePlayer(t *testing.T) {
	e := guarding()
	at := time.Second
	for i := range 100 {
		msg := []byte{0x90, byte(40 + i%40), 64} // a keyboard with one velocity
		if e.heard(at, msg) {
			t.Fatalf("strike %d is cut", i)
		}
		e.noteSent(at, msg)
		if !e.heard(at+3*ms, msg) {
			t.Fatalf("the echo of strike %d passes", i)
		}
		at += 20 * ms
	}
	at += echoMemory + time.Second // the synth's repeating was switched off
	wheel := [][]byte{{0xE0, 0, 64}, {0xE0, 0, 70}, {0xE0, 0, 64}}
	for i, msg := range wheel {
		if e.heard(at, msg) {
			t.Errorf("wheel position %d is cut", i)
		}
		e.noteSent(at, msg)
		at += 2 * ms
	}
}

// A wheel that trembles and a pedal that says the same again and again are the
// player's, and pass, however fast.
func TestTremblingControlIsNoEcho(t *testing.T) {
	for _, every := range []time.Duration{time.Millisecond, 3 * ms, 10 * ms} {
		e, at := guarding(), time.Second
		for i := range 2000 {
			msg := []byte{0xB0, 1, byte(63 + i%2)}
			if i > 1000 {
				msg = []byte{0xB0, 11, 90}
			}
			if e.heard(at, msg) {
				t.Fatalf("every %v: message %d, % X, is cut", every, i, msg)
			}
			e.noteSent(at, msg)
			at += every
		}
	}
}

// Where bedd sends other notes than the player plays, a strike that was just
// sent may be the player's next: an octave with a keyboard of one velocity,
// under a rig that transposes by an octave. A real loop is found all the same.
func TestEchoWhereNotesAreRewritten(t *testing.T) {
	e := &echo{beds: 1<<1 | 1<<2, rewrites: true}
	at := time.Second
	for i := range 20 {
		for _, key := range []byte{48, 60} { // an octave in one hand
			if e.heard(at, []byte{0x90, key, 64}) {
				t.Fatalf("octave %d: key %d is cut", i, key)
			}
			e.noteSent(at, []byte{0x90, key + 12, 64})
			at += ms
		}
		at += 300 * ms
	}
	key, rounds := byte(30), 0
	for ; key < 127 && !e.heard(at, []byte{0x90, key, 64}); rounds++ {
		key++
		e.noteSent(at, []byte{0x90, key, 64})
		at += 2 * ms
	}
	if rounds > echoProof {
		t.Errorf("a loop that climbs goes round %d times, want at most %d", rounds, echoProof)
	}
}

func BenchmarkEcho(b *testing.B) {
	e, msg := guarding(), []byte{0x90, 60, 70}
	at := time.Duration(0)
	b.ReportAllocs()
	for b.Loop() { // a thousand messages a second
		at += time.Millisecond
		msg[1] = byte(at.Milliseconds()) & 0x7F
		e.heard(at, msg)
		e.noteSent(at, msg)
	}
}
