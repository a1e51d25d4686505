package midiio

import (
	"sync"
	"sync/atomic"
	"time"
)

// Output is an output of the session. It stays one and the same while its device
// goes and comes back. Its methods may be called from several goroutines.
//
// A burst of up to 190 channel messages reaches a program that doesn't read for
// a while; of more the system drops some without a word.
type Output struct {
	link
	clock   func() time.Duration
	echo    *echo
	mu      sync.Mutex
	port    OutPort // nil while the device is gone
	fresh   endings // sent since the last look at the port
	unsure  endings // sent before it, and not known to have arrived
	refused atomic.Uint64
}

// Send sends one whole message and reports false when the device is gone. Until
// the loss is noticed, messages vanish; whatever they ended is ended again when
// the device returns. A message that is not whole, or a SysEx longer than
// MaxSysEx, is counted and left out. Hot path: no allocation besides the
// driver's; one lock, held for the driver's send.
func (o *Output) Send(msg []byte) bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.port == nil {
		return false
	}
	if len(msg) > MaxSysEx || !whole(msg) {
		o.refused.Add(1)
		return true
	}
	o.echo.noteSent(o.clock(), msg) // before it can come back
	o.port.Send(msg)
	o.fresh.add(msg)
	return true
}

// Refused is how many messages were left out so far because they were not whole
// or longer than MaxSysEx.
func (o *Output) Refused() uint64 { return o.refused.Load() }

// look asks the system for the port and reports whether it is alive, in which
// case all that was sent before has arrived.
func (o *Output) look() bool {
	o.mu.Lock()
	port := o.port
	o.unsure.join(&o.fresh)
	o.fresh = endings{}
	o.mu.Unlock()
	if port == nil || !port.Alive() {
		return false
	}
	o.mu.Lock()
	o.unsure = endings{}
	o.mu.Unlock()
	return true
}

// lose lets the port go.
func (o *Output) lose() {
	o.mu.Lock()
	port := o.port
	o.port = nil
	o.mu.Unlock()
	if port != nil {
		_ = port.Close() // there is no device left to be told
	}
}

// restore takes up a port again and ends what was to end when it was lost.
func (o *Output) restore(port OutPort) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.unsure.join(&o.fresh)
	o.unsure.send(port)
	o.fresh, o.unsure = endings{}, endings{}
	o.port = port
}

// endControls are the control changes that end notes when they are sent with 0,
// or with whatever value for the last two.
var endControls = [...]uint8{damper, sostenuto, hold2, allSoundOff, allNotesOff}

// endings is a set of messages that end notes.
type endings struct {
	notes    [16][2]uint64
	controls [16]uint8 // bits in the order of endControls
}

// add puts a message in if it is one of those that end notes.
func (e *endings) add(msg []byte) {
	if msg[0] >= sysexStart {
		return
	}
	ch := msg[0] & 0x0F
	if _, off := noteEdge(msg); off {
		e.notes[ch][msg[1]/64] |= 1 << (msg[1] % 64)
		return
	}
	if msg[0]&0xF0 != controller {
		return
	}
	for i, number := range endControls {
		switch {
		case number != msg[1]:
		case msg[2] == 0 || number >= allSoundOff:
			e.controls[ch] |= 1 << i
		default: // a pedal that is down again
			e.controls[ch] &^= 1 << i
		}
	}
}

func (e *endings) join(more *endings) {
	for ch := range e.notes {
		e.notes[ch][0] |= more.notes[ch][0]
		e.notes[ch][1] |= more.notes[ch][1]
		e.controls[ch] |= more.controls[ch]
	}
}

// send sends the whole set, notes first.
func (e *endings) send(port OutPort) {
	for ch := range e.notes {
		for key := range 128 {
			if e.notes[ch][key/64]>>(key%64)&1 != 0 {
				port.Send([]byte{noteOff | byte(ch), byte(key), releaseVelocity})
			}
		}
		for i, number := range endControls {
			if e.controls[ch]>>i&1 != 0 {
				port.Send([]byte{controller | byte(ch), number, 0})
			}
		}
	}
}
