package midiio

import (
	"errors"
	"sync"
	"sync/atomic"
	"time"
)

// Output is an output of the session. It stays one and the same while its device
// goes and comes back. Its methods may be called from several goroutines.
//
// A receiver that is too slow for a burst gets it later, in full and in order, as
// far as its system tells that it is full (see [System]): up to backlogSize bytes
// wait, then messages are left out until it has caught up, and what they ended is
// ended when it has. Where the system doesn't tell, a burst of up to 190 channel
// messages reaches a program that doesn't read for a while; of more the system
// drops some without a word.
type Output struct {
	link
	clock    func() time.Duration
	echo     *echo
	late     chan<- struct{} // gets a value when messages begin to wait
	told     bool            // the system tells of a loss at once
	mu       sync.Mutex
	port     OutPort // nil while the device is gone
	fresh    endings // sent since the last look at the port, or since aged
	unsure   endings // sent before it, and not known to have arrived
	owed     endings // of messages that were left out
	owes     bool
	waiting  backlog
	aged     time.Duration
	overruns uint64       // of the port, that were seen
	pace     *Pacer       // nil where the line has no rate to keep to
	board    Board        // nil without one
	onBoard  bool         // what is to be handed next is on it already
	carried  atomic.Int32 // how many inputs reach it by themselves
	sensing  sensing
	counts   struct{ refused, delayed, leftOut, overruns atomic.Uint64 }
}

// Board is told of each message before it is handed to the system and after that.
type Board interface {
	Before(msg []byte)
	After(msg []byte)
}

// Tell sets who is told of what goes out. It is to be called before anything is sent.
func (o *Output) Tell(b Board) { o.board = b }

// Send sends one whole message and reports false when the device is gone. It
// doesn't wait for the receiver; with a pace (see [PortsConfig]) it may be sent later
// (see [Pacer]). Until a loss is noticed, messages vanish; whatever
// they ended is ended again when the device returns. A message that is not whole,
// or a SysEx longer than MaxSysEx, is counted and left out. Hot path: no
// allocation besides the driver's and the backlog's at its first use; one lock,
// held for the driver's send.
func (o *Output) Send(from Source, msg []byte) bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.port == nil {
		return false
	}
	if len(msg) > MaxSysEx || !whole(msg) {
		o.counts.refused.Add(1)
		return true
	}
	if o.pace != nil {
		o.sendPaced(from, msg)
	} else {
		o.send(msg)
	}
	return true
}

// send hands the port a message, or keeps it for later.
func (o *Output) send(msg []byte) {
	taken := 0
	if o.drain() {
		var done bool
		if taken, done = o.hand(msg, true); done {
			return
		}
	}
	o.later(msg, taken)
}

// hand gives the port a message, or the rest of one. It is done with it when the
// port has taken it or is gone.
func (o *Output) hand(msg []byte, fromStart bool) (taken int, done bool) {
	at := o.clock()
	if o.told && at-o.aged >= lookEvery {
		o.unsure, o.fresh, o.aged = o.fresh, endings{}, at
	}
	if o.pace != nil && !o.pace.HasRoom(at, len(msg)) {
		return 0, false
	}
	if fromStart {
		o.echo.noteSent(at, msg) // before it can come back
		if o.board != nil && !o.onBoard {
			o.board.Before(msg)
		}
		o.onBoard = true
	}
	taken, err := o.port.Send(msg)
	if o.pace != nil {
		o.pace.Sent(at, taken)
	}
	if errors.Is(err, ErrSlow) {
		if fromStart && taken == 0 {
			o.echo.forget(msg)
		}
		return taken, false
	}
	if fromStart {
		o.fresh.add(msg)
		o.sensing.note(at, msg)
		if o.board != nil {
			o.board.After(msg)
		}
	}
	o.onBoard = false
	return len(msg), true
}

// later puts a message, of which some bytes are taken, in the backlog, or leaves
// it out.
func (o *Output) later(msg []byte, taken int) {
	if !o.owes && o.waiting.put(msg, taken) {
		o.counts.delayed.Add(1)
	} else { // taken is 0: nothing is begun while something waits
		o.counts.leftOut.Add(1)
		o.owed.add(msg)
		o.owes = true
	}
	notify(o.late)
}

// drain sends what waits and what is owed and reports whether that is all.
func (o *Output) drain() bool {
	for o.waiting.messages > 0 {
		taken, done := o.hand(o.waiting.first(), !o.waiting.partlyTaken)
		o.waiting.take(taken)
		if !done {
			return false
		}
	}
	if o.owes && o.owed.send(func(msg []byte) bool { _, done := o.hand(msg, true); return done }) {
		o.owes = false
	}
	return !o.owes
}

// catchUp sends what is due of what waits, with a port or without, and tells how
// long to wait for the rest.
func (o *Output) catchUp() (wait time.Duration, waits bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.port == nil {
		return 0, false
	}
	wait, waits = o.catchUpPace()
	if !o.drain() && (!waits || wait > drainEvery) {
		wait, waits = drainEvery, true
	}
	return wait, waits
}

// Refused is how many messages were left out so far because they were not whole
// or longer than MaxSysEx.
func (o *Output) Refused() uint64 { return o.counts.refused.Load() }

// Delayed is how many messages had to wait so far because the receiver was full.
func (o *Output) Delayed() uint64 { return o.counts.delayed.Load() }

// LeftOut is how many messages were left out so far because too many waited.
func (o *Output) LeftOut() uint64 { return o.counts.leftOut.Load() }

// Overruns is how often the receiver lost messages for want of room, as far as
// the system tells. What they ended was ended again.
func (o *Output) Overruns() uint64 { return o.counts.overruns.Load() }

// look asks the system for the port and reports whether it is alive, in which
// case all that was sent before has arrived, but for what the receiver is known to
// have lost.
func (o *Output) look() bool {
	o.mu.Lock()
	port := o.port
	if !o.told {
		o.unsure.join(&o.fresh)
		o.fresh = endings{}
	}
	o.mu.Unlock()
	if port == nil || !port.Alive() {
		return false
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	if n := port.Overruns(); n != o.overruns {
		o.counts.overruns.Add(n - o.overruns)
		o.overruns = n
		o.owed.join(&o.unsure)
		o.owed.join(&o.fresh)
		o.owes = true
		if !o.drain() { // the receiver has no room yet
			notify(o.late)
		}
	}
	if !o.told {
		o.unsure = endings{}
	}
	return true
}

// lose lets the port go.
func (o *Output) lose() {
	o.mu.Lock()
	port := o.port
	o.port = nil
	o.waiting.cut(&o.owed)
	if o.pace != nil {
		o.pace.Drop(o.owed.add)
	}
	o.onBoard = false
	o.sensing = sensing{on: o.sensing.on}
	o.mu.Unlock()
	if port != nil {
		_ = port.Close() // there is no device left to be told
	}
}

// restore takes up a port again and ends what was to end when it was lost.
func (o *Output) restore(port OutPort) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.owed.join(&o.unsure)
	o.owed.join(&o.fresh)
	o.fresh, o.unsure = endings{}, endings{}
	o.port, o.overruns, o.owes = port, port.Overruns(), true
	if o.pace != nil {
		o.owes = false
		o.owed.send(func(msg []byte) bool { o.sendPaced(Ledger, msg); return true })
	}
	if !o.drain() {
		notify(o.late)
	}
}

// finish ends the output: what waits is cut down to what it ends, and that is
// waited for, at most finishTries times finishEvery.
func (o *Output) finish() error {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.port == nil {
		return nil
	}
	if o.pace != nil {
		o.pace.Finish()
	}
	if o.waiting.messages > 0 {
		o.waiting.cut(&o.owed)
		o.owes = true
	}
	for range finishTries {
		if o.drain() {
			break
		}
		time.Sleep(finishEvery)
	}
	err := o.port.Close()
	o.port = nil
	return err
}

// How long the end of a run waits for a receiver that is full: 0.4 s, more than a
// program needs that is only slow, and less than a player thinks bedd hangs.
const (
	finishTries = 200
	finishEvery = 2 * time.Millisecond
)
