package midiio

import (
	"sync"
	"sync/atomic"
	"time"
)

// Input is an input of the session. It stays one and the same while its device
// goes and comes back.
type Input struct {
	link
	thru    Thru
	mishap  func()
	clock   func() time.Duration
	echo    *echo
	gate    *atomic.Bool
	rouse   func()
	ring    Ring
	tooLong atomic.Uint64
	broken  atomic.Uint64
	age     time.Duration           // of what is being received
	late    chan<- struct{}         // gets a value when values begin to wait
	reached func(to Outputs, n int) // is told of bytes that have reached outputs by themselves

	passing sync.Mutex    // one message at a time passes; guards the below
	last    time.Duration // the latest stamp given
	thin    thinner
	pass    func(at time.Duration, msg []byte)

	port     InPort // for Run only
	overruns uint64 // of the port, as Run last saw them

	ours, others atomic.Uint64 // the outputs that its messages reach by themselves

	holdsMu sync.Mutex
	holds   holds
}

// Thru gets each message of an input at once, on the port's own thread, and what
// has become of it already. It must be quick and not allocate.
type Thru func(at time.Duration, msg []byte, carried Carried)

// holds is what an input's hands and feet hold down.
type holds struct {
	keys   [16][128]bool
	pedals [16][len(holdPedals)]bool
}

// note takes a message into account.
func (h *holds) note(msg []byte) {
	if msg[0] >= sysexStart {
		return
	}
	ch := msg[0] & 0x0F
	if on, off := noteEdge(msg); on || off {
		h.keys[ch][msg[1]] = on
	} else if i, ok := holdPedal(msg); ok {
		h.pedals[ch][i] = msg[2] > 0
	}
}

// end gives hand the messages that end what is held.
func (h *holds) end(hand func(msg []byte)) {
	for ch := range byte(16) {
		for key, down := range h.keys[ch] {
			if down {
				hand([]byte{noteOff | ch, byte(key), releaseVelocity})
			}
		}
		for i, down := range h.pedals[ch] {
			if down {
				hand([]byte{controller | ch, holdPedals[i], 0})
			}
		}
	}
}

// any reports whether anything is held. O(2048).
func (h *holds) any() bool { return *h != holds{} }

// held is what the input's hands and feet hold at the moment.
func (in *Input) held() holds {
	in.holdsMu.Lock()
	defer in.holdsMu.Unlock()
	return in.holds
}

// LetGo hands thru and the core the messages that end what this input's keys and
// pedals hold: its device was pulled out while they were down. It is for the
// goroutine that calls Take, and does nothing the second time. O(2048).
func (in *Input) LetGo(observe func(at time.Duration, msg []byte)) {
	in.holdsMu.Lock()
	held := in.holds
	in.holds = holds{}
	in.holdsMu.Unlock()
	in.settleAll()
	held.end(func(msg []byte) {
		at := in.clock()
		if in.thru != nil {
			in.thru(at, msg, Carried{})
		}
		observe(at, msg)
	})
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
		defer in.mishap()
		in.age = age
		c.write(bytes)
		if c.long|c.broken != 0 {
			in.tooLong.Add(c.long)
			in.broken.Add(c.broken)
			c.long, c.broken = 0, 0
		}
	}
}

// take stamps a message with the time when it arrived and lets it pass, unless it
// is an echo. Stamps never go back. Hot path: no allocation; never waits but for
// thru.
func (in *Input) take(msg []byte) {
	in.passing.Lock()
	defer in.passing.Unlock()
	if !in.gate.Load() {
		return
	}
	at := max(in.clock()-in.age, in.last)
	in.last = at
	if in.echo.heard(at, msg) {
		return
	}
	in.holdsMu.Lock()
	in.holds.note(msg)
	in.holdsMu.Unlock()
	if c := in.carried(); c.Ours|c.Others != 0 {
		in.echo.noteSent(at, msg)
		in.reached(c.Ours|c.Others, len(msg))
	}
	waited := in.thin.waiting > 0
	in.thin.take(at, msg, in.pass)
	if in.thin.waiting > 0 && !waited {
		notify(in.late)
	}
}

// hand passes a message to thru and leaves it for the core.
func (in *Input) hand(at time.Duration, msg []byte) {
	if in.thru != nil {
		in.thru(at, msg, in.carried())
	}
	m := Message{At: at, Len: uint16(len(msg))}
	copy(m.Data[:], msg)
	in.ring.Push(m)
	in.rouse()
}

// settle passes the values that have waited long enough, and tells how long to
// wait for the next.
func (in *Input) settle() (wait time.Duration, waits bool) {
	defer in.mishap()
	in.passing.Lock()
	defer in.passing.Unlock()
	if in.thin.waiting == 0 || !in.gate.Load() {
		return 0, false
	}
	at := max(in.clock(), in.last)
	in.last = at
	next, waits := in.thin.advance(at, in.pass)
	return next - at, waits
}

// settleAll passes the values that wait, before something that they must not follow.
func (in *Input) settleAll() {
	in.passing.Lock()
	defer in.passing.Unlock()
	in.passAll()
}

// passAll is settleAll for who lets pass.
func (in *Input) passAll() {
	if in.thin.waiting == 0 {
		return
	}
	in.last = max(in.clock(), in.last)
	in.thin.settle(in.last, in.pass, everyControl)
}

// Thinned is how many values were left out so far because their control sent too
// many.
func (in *Input) Thinned() uint64 { return in.thin.left.Load() }

// ThinnedLast is the control, in words, that a value was left out of last.
func (in *Input) ThinnedLast() string { return controlNumber(in.thin.last.Load()).String() }

// notify wakes whoever waits for a value, or will.
func notify(c chan<- struct{}) {
	select {
	case c <- struct{}{}:
	default: // it is awake, or nobody has to be
	}
}
