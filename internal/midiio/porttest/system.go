// Package porttest is a machine's MIDI ports made up in the process, for tests.
package porttest

import (
	"bytes"
	"fmt"
	"slices"
	"sync"
	"time"

	"bedd/internal/midiio"
)

// System is a midiio.System whose devices are plugged in, played and pulled out
// by a test. The zero value has no devices. Its methods may be called from
// several goroutines; messages are handed over in the caller's.
type System struct {
	mu      sync.Mutex
	devices []*device
	last    int           // number of the device plugged in last
	fail    error         // what everything answers
	changed chan struct{} // nil: it tells nobody of changes
	wires   []wire        // connections
	noWires error         // what connecting answers
}

// wire is a connection between two devices.
type wire struct{ in, out *device }

type device struct {
	info     midiio.PortInfo
	busy     bool
	slow     bool // it takes no more than room bytes
	room     int
	overruns uint64
	receives []midiio.Receiver
	sent     [][]byte
}

var _ midiio.System = (*System)(nil)

// Announce makes the system tell of changes at once. It is to be called first.
func (s *System) Announce() { s.changed = make(chan struct{}, 1) }

// Changed gets a value when a port comes or goes, after Announce.
func (s *System) Changed() <-chan struct{} { return s.changed }

func (s *System) tell() {
	select {
	case s.changed <- struct{}{}:
	default:
	}
}

// Close does nothing.
func (s *System) Close() error { return nil }

// Plug makes a port appear and gives it back as it is listed. Way and Name count,
// and what kind of port it is; the address is a new one each time.
func (s *System) Plug(info midiio.PortInfo) midiio.PortInfo {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.plug(info).info
}

func (s *System) plug(info midiio.PortInfo) *device {
	s.last++
	info.Address = fmt.Sprintf("%d:0", 15+s.last)
	d := &device{info: info}
	s.devices = append(s.devices, d)
	s.tell()
	return d
}

// Unplug makes a port disappear: whoever has it open gets nothing more, and what
// is sent to it vanishes.
func (s *System) Unplug(p midiio.PortInfo) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.devices = slices.DeleteFunc(s.devices, func(d *device) bool { return same(d, p) })
	s.wires = slices.DeleteFunc(s.wires, func(w wire) bool { return same(w.in, p) || same(w.out, p) })
	s.tell()
}

// Slow makes an output take no more than so many bytes from now on, as if its
// receiver read no more. Fast makes it take everything again.
func (s *System) Slow(p midiio.PortInfo, room int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if d := s.find(p); d != nil {
		d.slow, d.room = true, room
	}
}

// Fast ends what Slow began.
func (s *System) Fast(p midiio.PortInfo) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if d := s.find(p); d != nil {
		d.slow = false
	}
}

// Overrun makes a port lose messages, in word only.
func (s *System) Overrun(p midiio.PortInfo) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if d := s.find(p); d != nil {
		d.overruns++
	}
	s.tell()
}

// Occupy makes opening a port fail with midiio.ErrBusy, or not any more.
func (s *System) Occupy(p midiio.PortInfo, busy bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if d := s.find(p); d != nil {
		d.busy = busy
	}
}

// Fail makes every listing and opening fail with err, or not any more when it is
// nil.
func (s *System) Fail(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.fail = err
}

// Play lets bytes arrive at whoever has the input open, and before at what it is
// connected with, and returns when they have been taken.
func (s *System) Play(p midiio.PortInfo, bytes ...byte) { s.PlayLate(p, 0, bytes...) }

// PlayLate is Play of what arrived some time ago.
func (s *System) PlayLate(p midiio.PortInfo, age time.Duration, played ...byte) {
	s.mu.Lock()
	var receives []midiio.Receiver
	if d := s.find(p); d != nil {
		receives = slices.Clone(d.receives)
		for _, w := range s.wires {
			if w.in == d {
				w.out.sent = append(w.out.sent, bytes.Clone(played))
			}
		}
	}
	s.mu.Unlock()
	for _, receive := range receives {
		receive(age, played)
	}
}

// Sent gives the messages that a port got so far, and forgets them.
func (s *System) Sent(p midiio.PortInfo) [][]byte {
	s.mu.Lock()
	defer s.mu.Unlock()
	d := s.find(p)
	if d == nil {
		return nil
	}
	sent := d.sent
	d.sent = nil
	return sent
}

// Virtual finds the port that bedd made under a name, for Play and Sent.
func (s *System) Virtual(way midiio.Way, name string) (midiio.PortInfo, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, d := range s.devices {
		if d.info.Ours && d.info.Way == way && d.info.Name == name {
			return d.info, true
		}
	}
	return midiio.PortInfo{}, false
}

// same compares what identifies a port; its place in the list may have changed.
func same(d *device, p midiio.PortInfo) bool {
	return d.info.Way == p.Way && d.info.Name == p.Name && d.info.Address == p.Address
}

func (s *System) find(p midiio.PortInfo) *device {
	for _, d := range s.devices {
		if same(d, p) {
			return d
		}
	}
	return nil
}

// Ins lists the inputs.
func (s *System) Ins() ([]midiio.PortInfo, error) { return s.list(midiio.In) }

// Outs lists the outputs.
func (s *System) Outs() ([]midiio.PortInfo, error) { return s.list(midiio.Out) }

func (s *System) list(way midiio.Way) ([]midiio.PortInfo, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	var list []midiio.PortInfo
	for _, d := range s.devices {
		if d.info.Way == way {
			info := d.info
			info.Number = len(list)
			list = append(list, info)
		}
	}
	return list, s.fail
}

func (s *System) open(p midiio.PortInfo) (*device, error) {
	d := s.find(p)
	err := s.fail
	switch {
	case err != nil:
	case d == nil:
		err = fmt.Errorf("MIDI %v %q: %w", p.Way, p.Name, midiio.ErrGone)
	case d.busy:
		err = fmt.Errorf("MIDI %v %q: %w", p.Way, p.Name, midiio.ErrBusy)
	}
	return d, err
}

// FailConnect makes connecting fail with err, or not any more when it is nil.
func (s *System) FailConnect(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.noWires = err
}

// Connect makes a connection.
func (s *System) Connect(c midiio.Connection) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.noWires != nil {
		return s.noWires
	}
	in, err := s.open(c.In)
	if err != nil {
		return err
	}
	out, err := s.open(c.Out)
	if err != nil {
		return err
	}
	w := wire{in, out}
	if slices.Contains(s.wires, w) {
		return midiio.ErrBusy
	}
	s.wires = append(s.wires, w)
	s.tell()
	return nil
}

// Disconnect ends a connection.
func (s *System) Disconnect(c midiio.Connection) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	w := wire{s.find(c.In), s.find(c.Out)}
	s.wires = slices.DeleteFunc(s.wires, func(other wire) bool { return other == w })
	s.tell()
	return nil
}

// Connected reports whether there is a connection.
func (s *System) Connected(c midiio.Connection) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	in := s.find(c.In)
	return in != nil && slices.Contains(s.wires, wire{in, s.find(c.Out)})
}

// OpenIn opens an input.
func (s *System) OpenIn(p midiio.PortInfo, receive midiio.Receiver) (midiio.InPort, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	d, err := s.open(p)
	if err != nil {
		return nil, err
	}
	d.receives = append(d.receives, receive)
	return &port{s, d}, nil
}

// OpenOut opens an output.
func (s *System) OpenOut(p midiio.PortInfo) (midiio.OutPort, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	d, err := s.open(p)
	if err != nil {
		return nil, err
	}
	return &port{s, d}, nil
}

// OpenVirtualIn makes an input of bedd's own.
func (s *System) OpenVirtualIn(name string, receive midiio.Receiver) (midiio.InPort, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.fail != nil {
		return nil, s.fail
	}
	d := s.plug(midiio.PortInfo{Way: midiio.In, Name: name, Ours: true})
	d.receives = append(d.receives, receive)
	return &port{s, d}, nil
}

// OpenVirtualOut makes an output of bedd's own.
func (s *System) OpenVirtualOut(name string) (midiio.OutPort, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.fail != nil {
		return nil, s.fail
	}
	return &port{s, s.plug(midiio.PortInfo{Way: midiio.Out, Name: name, Ours: true})}, nil
}

// port is an open port.
type port struct {
	system *System
	device *device
}

func (p *port) Send(msg []byte) (taken int, err error) {
	p.system.mu.Lock()
	defer p.system.mu.Unlock()
	d := p.device
	taken = len(msg)
	if d.slow {
		if msg[0] == 0xF0 || msg[0] < 0x80 { // may go in pieces
			taken = min(taken, d.room)
		} else if taken > d.room {
			taken = 0
		}
		d.room -= taken
	}
	if taken > 0 {
		d.sent = append(d.sent, bytes.Clone(msg[:taken]))
	}
	if taken < len(msg) {
		return taken, midiio.ErrSlow
	}
	return taken, nil
}

func (p *port) Overruns() uint64 {
	p.system.mu.Lock()
	defer p.system.mu.Unlock()
	return p.device.overruns
}

func (p *port) Alive() bool {
	p.system.mu.Lock()
	defer p.system.mu.Unlock()
	return slices.Contains(p.system.devices, p.device)
}

func (p *port) Close() error { return nil }
