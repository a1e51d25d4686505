package midiio

import (
	"sync/atomic"
	"time"
)

// Input is an input of the session. It stays one and the same while its device
// goes and comes back.
type Input struct {
	link
	thru    func(at time.Duration, msg []byte)
	clock   func() time.Duration
	echo    *echo
	gate    *atomic.Bool
	wake    chan<- struct{}
	ring    Ring
	tooLong atomic.Uint64
	broken  atomic.Uint64
	age     time.Duration // of what is being received
	last    time.Duration // the latest stamp given

	port     InPort // for Run only
	overruns uint64 // of the port, as Run last saw them
}

// Dropped is how many messages the bed missed because nobody took them in time.
// They went to thru nevertheless.
func (in *Input) Dropped() uint64 { return in.ring.Dropped() }

// TooLong is how many SysEx were left out because they are longer than MaxSysEx.
func (in *Input) TooLong() uint64 { return in.tooLong.Load() }

// Broken is how many messages arrived in part only and were left out.
func (in *Input) Broken() uint64 { return in.broken.Load() }

// receiver is what an open port calls. Each opening gets a cutter of its own, so
// that half a message from before a loss is not taken up after it.
func (in *Input) receiver() Receiver {
	c := &cutter{emit: in.take}
	return func(age time.Duration, bytes []byte) {
		in.age = age
		c.write(bytes)
		if c.long|c.broken != 0 {
			in.tooLong.Add(c.long)
			in.broken.Add(c.broken)
			c.long, c.broken = 0, 0
		}
	}
}

// take stamps a message with the time when it arrived, passes it to thru and
// leaves it for the core, unless it is an echo. Stamps never go back. Hot path: no
// allocation; never waits but for thru.
func (in *Input) take(msg []byte) {
	if !in.gate.Load() {
		return
	}
	at := max(in.clock()-in.age, in.last)
	in.last = at
	if in.echo.heard(at, msg) {
		return
	}
	if in.thru != nil {
		in.thru(at, msg)
	}
	m := Message{At: at, Len: uint16(len(msg))}
	copy(m.Data[:], msg)
	in.ring.Push(m)
	select {
	case in.wake <- struct{}{}:
	default: // it is awake, or will be
	}
}
