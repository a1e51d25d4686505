//go:build linux

package midiio

import (
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/sys/unix"
)

// seqPort is what an open input and output have in common.
type seqPort struct {
	system *seqSystem
	info   PortInfo
	own    seqAddr
	peer   seqAddr // what it is connected to
	linked bool    // false of a port that others connect to

	mu       sync.Mutex // held while a message passes
	closed   bool
	overruns atomic.Uint64
}

// ends are the two ends of the connection, in the direction of the messages.
func (p *seqPort) ends() (from, to seqAddr) {
	if p.info.Way == In {
		return p.peer, p.own
	}
	return p.own, p.peer
}

// Alive asks the kernel whether the connection stands.
func (p *seqPort) Alive() bool {
	p.system.mu.Lock()
	defer p.system.mu.Unlock()
	if p.system.closed || p.isClosed() {
		return false
	}
	from, to := p.ends()
	return !p.linked || p.system.watch.connected(from, to)
}

func (p *seqPort) isClosed() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.closed
}

func (p *seqPort) Overruns() uint64 { return p.overruns.Load() }

// shut lets no more messages pass, and returns when none does.
func (p *seqPort) shut() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.closed = true
}

// seqIn is an open input.
type seqIn struct {
	seqPort
	receive Receiver
}

// hand passes on what arrived.
func (in *seqIn) hand(age time.Duration, bytes []byte) {
	in.mu.Lock()
	defer in.mu.Unlock()
	if !in.closed {
		in.receive(age, bytes)
	}
}

// Close closes the input at any time. Nothing is received after it.
func (in *seqIn) Close() error {
	in.shut()
	return in.system.release(in.own.port, In)
}

// seqOut is an open output.
type seqOut struct {
	seqPort
	encoder  seqEncoder
	finding  sync.Mutex    // finds the receiver once at a time
	receiver atomic.Uint32 // the client of the program that gets all, or nobody

	room    int // places that the receiver is known to have
	asked   time.Duration
	askedOf uint32
}

const nobody = seqSystemClient

// How much room a receiver has is asked for when half of it, as last answered, is
// used up: by what was sent, and by the othersRate of events a second that others
// are taken to send to it, twice what a cable of 31,250 baud carries. spareCells are
// left to those who don't ask.
const (
	spareCells = 8
	othersRate = 2000
)

// findReceiver finds out which program gets what is sent. A device is not asked
// for its room: the kernel passes on to it at once. Nor is anybody where several
// are connected, as they may be to a port that others connect to: one that has
// stopped must not hold up the rest.
func (o *seqOut) findReceiver() {
	o.finding.Lock()
	defer o.finding.Unlock()
	readers := o.system.watch.readers(o.own)
	if len(readers) == 1 && readers[0].client >= firstProgram {
		o.receiver.Store(uint32(readers[0].client))
	} else {
		o.receiver.Store(nobody)
	}
}

// Send sends to whoever is connected, and to a program that is so alone once it
// has room: the kernel throws away all that waits for a program when it gets one
// event too many. Hot path: no allocation, never waits; a request of the kernel for
// each piece, and at times one for the room.
func (o *seqOut) Send(msg []byte) (taken int, err error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.closed {
		return 0, ErrGone
	}
	for taken < len(msg) {
		event, n := o.encoder.encode(msg[taken:])
		if n == 0 {
			return taken, errNotMIDI
		}
		if !o.hasRoom(seqCells(event)) {
			return taken, ErrSlow
		}
		switch err := o.system.play.write(event); {
		case err == nil:
		case isFull(err): // others were quicker: it is lost with all that waited
			o.overrun()
		case o.linked:
			return taken, ErrGone
		} // of several receivers one may just have gone
		taken += n
	}
	return taken, nil
}

// hasRoom reports whether the receiver has room, and counts it as taken if so.
func (o *seqOut) hasRoom(cells int) bool {
	client := o.receiver.Load()
	if client == nobody {
		return true
	}
	now := o.system.clock.elapsed()
	if client != o.askedOf || o.room-int(othersRate*(now-o.asked)/time.Second) < cells {
		free, there := o.system.play.room(uint8(client))
		if !there {
			return true // that it has gone is told elsewhere
		}
		free -= spareCells
		o.room, o.asked, o.askedOf = 0, now, client
		if free < cells {
			return false
		}
		o.room = max(free/2, cells)
	}
	o.room -= cells
	return true
}

// bounced takes note of an event that could not be delivered, where the kernel
// says that by an event; others say it when it is written.
func (o *seqOut) bounced(e seqEvent) {
	if isFull(unix.Errno(e.errno())) {
		o.overrun()
	}
}

// overrun counts what can be made good: where several are connected nobody knows
// who lost something.
func (o *seqOut) overrun() {
	if o.receiver.Load() == nobody {
		return
	}
	o.overruns.Add(1)
	o.system.tell()
}

// Close closes the output.
func (o *seqOut) Close() error {
	o.shut()
	return o.system.release(o.own.port, Out)
}
