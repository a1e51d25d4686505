package midiio

import (
	"sync/atomic"
	"time"
)

// echoWindow is how soon after it was sent a message comes back through a synth
// or an interface that repeats what it gets. No hand strikes one key twice with
// the same velocity as fast as that. Common practice, no source.
const echoWindow = 30 * time.Millisecond

// Echo finds what bedd sent and hears again, before it goes round and round. Its
// methods may be called from several goroutines. Use it for live inputs only: in
// a file, equal notes at one time are the player's.
type Echo struct {
	sent [16][128]atomic.Int64 // when a note was last struck, in µs and one more, with its velocity in the lowest 7 bits; 0 never
	cut  atomic.Uint64
}

// Sent notes a message that goes out. Hot path: no allocation; O(1).
func (e *Echo) Sent(at time.Duration, msg []byte) {
	if slot, velocity, ok := e.strike(msg); ok {
		slot.Store((at.Microseconds()+1)<<7 | int64(velocity))
	}
}

// Heard reports whether a message that arrives is one that was sent a moment
// before: a strike of the same note on the same channel with the same velocity.
// Hot path: no allocation; O(1).
func (e *Echo) Heard(at time.Duration, msg []byte) bool {
	slot, velocity, ok := e.strike(msg)
	if !ok {
		return false
	}
	was := slot.Load()
	if was == 0 || was&0x7F != int64(velocity) {
		return false
	}
	gap := at - time.Duration(was>>7-1)*time.Microsecond
	return gap > time.Microsecond && gap < echoWindow // at once is the message itself
}

// Cut counts an echo that was kept out, and gives how many there were so far.
func (e *Echo) Cut() uint64 { return e.cut.Add(1) }

func (e *Echo) strike(msg []byte) (slot *atomic.Int64, velocity byte, ok bool) {
	if len(msg) != 3 || msg[0]&0xF0 != 0x90 || msg[1] > 127 || msg[2] == 0 || msg[2] > 127 {
		return nil, 0, false
	}
	return &e.sent[msg[0]&0x0F][msg[1]], msg[2], true
}
