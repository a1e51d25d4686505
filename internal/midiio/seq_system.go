//go:build linux

package midiio

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"

	"golang.org/x/sys/unix"
)

// seqSystem reaches ports straight through the kernel's sequencer device.
//
// It is two clients. The one that others see as "bedd" has the ports; whatever
// arrives at any of them is read by one goroutine, which hands it on by the port
// that it came to. The other asks, connects, and hears what the kernel announces: the
// kernel lets a client do one thing at a time, and to connect a device may take
// it long enough to be heard.
//
// The kernel stamps what arrives (see seqClock); the session takes a message's age
// off its own clock. Where no queue is to be had for that, the age is 0.
type seqSystem struct {
	play, watch *seqClient
	clock       *seqClock
	changed     chan struct{}
	closing     atomic.Bool
	ended       sync.WaitGroup // the two readers
	midi        [12]byte       // for the reader of notes
	bells       []*bell        // to be closed

	ins  [256]atomic.Pointer[seqIn] // by port
	outs [256]atomic.Pointer[seqOut]

	mu     sync.Mutex // guards the below, and the making of ports
	closed bool
	next   uint8 // the number that the next port gets if it is free
}

// watchPort is where the kernel's announcements arrive.
const watchPort = 0

// The numbers of our ports. Those below firstLink are for ports that others
// connect to, since most tools take the first that they find; from there to
// lastLink they are for what is connected to devices.
const (
	firstLink = 8
	lastLink  = 251
)

// What inputs and outputs of ours may be used for. That an output can be written
// to, though not by a connection, is for the kernel, to tell it of what could not be
// delivered.
const (
	seqInputUse  = seqCanWrite | seqMayBeSent
	seqOutputUse = seqCanRead | seqMaySubscribe | seqCanWrite
)

func openALSA() (System, error) {
	s := &seqSystem{changed: make(chan struct{}, 1), next: firstLink}
	var err error
	if s.watch, err = openSeqClient(ourName+" watch", 0); err != nil {
		return nil, err
	}
	if err = s.watch.createPort(watchPort, "announcements", seqCanWrite|seqNoExport, noQueue); err == nil {
		err = s.watch.connect(seqAddr{seqSystemClient, seqAnnouncePort}, seqAddr{s.watch.id, watchPort})
	}
	if err != nil {
		s.watch.close()
		return nil, fmt.Errorf("MIDI sequencer: %w", err)
	}
	if s.play, err = openDirectClient(ourName, seqFilterBounce); err != nil {
		s.watch.close()
		return nil, err
	}
	s.play.growPools()
	s.clock = s.play.startClock()
	s.ended.Add(2)
	go func() {
		defer s.ended.Done()
		s.readNotes()
	}()
	go func() {
		defer s.ended.Done()
		s.readAnnouncements()
	}()
	return s, nil
}

func (s *seqSystem) Changed() <-chan struct{} { return s.changed }

// tell says that something has changed.
func (s *seqSystem) tell() {
	select {
	case s.changed <- struct{}{}:
	default: // nobody has looked since it was said
	}
}

// rouser gives what puts a value into c for the reader of notes.
func (s *seqSystem) rouser(c chan<- struct{}) (rouse func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.play.poll == nil && !s.closed {
		if b, err := newBell(); err == nil {
			s.bells = append(s.bells, b)
			s.ended.Go(func() { b.pass(c) })
			return b.ring
		}
	}
	return func() { notify(c) }
}

func (s *seqSystem) Ins() ([]PortInfo, error)  { return s.list(In) }
func (s *seqSystem) Outs() ([]PortInfo, error) { return s.list(Out) }

func (s *seqSystem) list(way Way) ([]PortInfo, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil, errClosed
	}
	if err := probe(); err != nil {
		return nil, err
	}
	return portsOf(way, s.watch.ports()), nil
}

var (
	errClosed  = errors.New("MIDI is closed")
	errNotMIDI = errors.New("not a MIDI message")
)

// readBuffer holds the longest event that can be: one that fills a receiver's
// places.
const readBuffer = (maxPool + 1) * seqEventSize

// readNotes hands on what arrives until the system closes.
func (s *seqSystem) readNotes() {
	buf := make([]byte, readBuffer)
	for !s.closing.Load() {
		read, err := s.play.read(buf)
		switch {
		case err == nil:
			s.dispatch(read)
		case errors.Is(err, unix.ENOSPC): // the kernel has thrown away all that waited
			s.overrun()
		case !isFull(err): // closed
			return
		}
	}
}

// dispatch hands each event that was read to its port. Hot path: no allocation.
func (s *seqSystem) dispatch(read []byte) {
	now := s.clock.elapsed()
	defer s.clock.keep(now)
	for {
		e, rest, ok := splitEvent(read)
		if !ok {
			return
		}
		read = rest
		if e.kind() == seqKernelError {
			if out := s.outs[e.destPort()].Load(); out != nil {
				out.bounced(e)
			}
			continue
		}
		in := s.ins[e.destPort()].Load()
		if in == nil {
			continue
		}
		bytes := e.decode(&s.midi)
		if len(bytes) == 0 {
			continue
		}
		in.hand(s.clock.age(now, e), bytes)
	}
}

// overrun notes that what waited for us has been thrown away.
func (s *seqSystem) overrun() {
	for i := range s.ins {
		if in := s.ins[i].Load(); in != nil {
			in.overruns.Add(1)
		}
	}
	s.tell()
}

// readAnnouncements tells of what changes until the system closes.
func (s *seqSystem) readAnnouncements() {
	buf := make([]byte, 64*seqEventSize)
	for !s.closing.Load() {
		read, err := s.watch.read(buf)
		if err != nil && !isFull(err) {
			return
		}
		news := err != nil // some were thrown away
		for {
			e, rest, ok := splitEvent(read)
			if !ok {
				break
			}
			read = rest
			news = s.isNews(e) || news
		}
		if !news {
			continue
		}
		for i := range s.outs {
			if out := s.outs[i].Load(); out != nil {
				out.findReceiver()
			}
		}
		s.tell()
	}
}

// isNews tells what others do from what bedd does itself: to be told of that
// would make it look, and try again, without end. What is connected or cut off is
// news whoever did it: also between others it may be the piano's way.
func (s *seqSystem) isNews(e seqEvent) bool {
	switch e.kind() {
	case seqClientStart, seqClientExit, seqClientChange, seqPortStart, seqPortExit, seqPortChange:
		return !s.mine(e.about())
	case seqSubscribed, seqUnsubscribed:
		return true
	}
	return false
}

func (s *seqSystem) mine(a seqAddr) bool { return a.client == s.play.id || a.client == s.watch.id }

func (s *seqSystem) OpenIn(info PortInfo, receive Receiver) (InPort, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	in := &seqIn{seqPort: seqPort{system: s, info: info}, receive: receive}
	err := s.link(&in.seqPort, "from ", seqInputUse, func(number uint8) { s.ins[number].Store(in) })
	if err != nil {
		return nil, err
	}
	return in, nil
}

func (s *seqSystem) OpenOut(info PortInfo) (OutPort, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	out := &seqOut{seqPort: seqPort{system: s, info: info}}
	err := s.link(&out.seqPort, "to ", seqOutputUse, func(number uint8) {
		out.encoder = newSeqEncoder(number)
		s.outs[number].Store(out)
	})
	if err != nil {
		return nil, err
	}
	out.findReceiver()
	return out, nil
}

// link makes a port of ours and connects it to one of others. ready is called
// before anything can arrive.
func (s *seqSystem) link(p *seqPort, prefix string, capability uint32, ready func(number uint8)) error {
	gone := portError(p.info, ErrGone)
	if s.closed {
		return errClosed
	}
	if err := probe(); err != nil {
		return err
	}
	peer, ok := parseAddr(p.info.Address)
	if !ok {
		return gone
	}
	p.peer, p.linked = peer, true
	if !s.is(peer, p.info) {
		return gone
	}
	number, err := s.makePort(prefix+p.info.Device(), capability)
	if err != nil {
		return portError(p.info, ErrFull)
	}
	p.own = seqAddr{s.play.id, number}
	ready(number)
	from, to := p.ends()
	err = s.watch.connect(from, to)
	switch there := s.is(peer, p.info); {
	case err == nil && there:
		return nil
	case there:
		err = portError(p.info, ErrBusy)
	default: // what is there now is another one's
		err = gone
	}
	s.drop(number)
	return err
}

// is reports whether the port at an address is still the one that was listed.
func (s *seqSystem) is(at seqAddr, info PortInfo) bool {
	p, there := s.watch.port(at)
	return there && p.clientName+":"+p.portName == info.Name
}

// makePort makes a port under the next free number, so that what was sent to a
// port that is gone doesn't arrive at another.
func (s *seqSystem) makePort(name string, capability uint32) (number uint8, err error) {
	for range lastLink - firstLink + 1 {
		number = s.next
		if s.next++; s.next > lastLink {
			s.next = firstLink
		}
		if s.ins[number].Load() != nil || s.outs[number].Load() != nil {
			continue
		}
		if err = s.play.createPort(number, name, capability, s.clock.queue); err == nil {
			return number, nil
		}
	}
	return 0, err
}

// drop deletes a port of ours.
func (s *seqSystem) drop(number uint8) {
	s.play.deletePort(number)
	s.ins[number].Store(nil)
	s.outs[number].Store(nil)
}

func (s *seqSystem) OpenVirtualIn(name string, receive Receiver) (InPort, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	in := &seqIn{seqPort: seqPort{system: s, info: PortInfo{Way: In, Name: name, Ours: true}}, receive: receive}
	number, err := s.share(In, name, seqInputUse)
	if err != nil {
		return nil, err
	}
	in.own = seqAddr{s.play.id, number}
	s.ins[number].Store(in)
	return in, nil
}

func (s *seqSystem) OpenVirtualOut(name string) (OutPort, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	out := &seqOut{seqPort: seqPort{system: s, info: PortInfo{Way: Out, Name: name, Ours: true}}}
	number, err := s.share(Out, name, seqOutputUse)
	if err != nil {
		return nil, err
	}
	out.own = seqAddr{s.play.id, number}
	out.encoder = newSeqEncoder(number)
	s.outs[number].Store(out)
	return out, nil
}

// share finds or makes the port that others see under a name: an input and an
// output of one name are one port.
func (s *seqSystem) share(way Way, name string, capability uint32) (number uint8, err error) {
	if s.closed {
		return 0, errClosed
	}
	if err := probe(); err != nil {
		return 0, err
	}
	for number := range uint8(firstLink) {
		in, out := s.ins[number].Load(), s.outs[number].Load()
		switch {
		case in == nil && out == nil:
			err = s.play.createPort(number, name, capability, s.clock.queue)
		case way == In && in == nil && out.info.Name == name, way == Out && out == nil && in.info.Name == name:
			err = s.play.allow(number, seqInputUse|seqOutputUse)
		default:
			continue
		}
		if err == nil {
			return number, nil
		}
	}
	if number, err = s.makePort(name, capability); err != nil {
		return 0, portError(PortInfo{Way: way, Name: name}, ErrFull)
	}
	return number, nil
}

// parseAddr reads an address such as 24:0.
func parseAddr(text string) (a seqAddr, ok bool) {
	client, port, ok := strings.Cut(text, ":")
	c, err := strconv.ParseUint(client, 10, 8)
	p, err2 := strconv.ParseUint(port, 10, 8)
	return seqAddr{uint8(c), uint8(p)}, ok && err == nil && err2 == nil
}

// release gives up one direction of a port, and the port with the last of them.
func (s *seqSystem) release(number uint8, way Way) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil
	}
	switch {
	case way == In && s.outs[number].Load() != nil:
		s.ins[number].Store(nil)
		return s.play.allow(number, seqOutputUse)
	case way == Out && s.ins[number].Load() != nil:
		s.outs[number].Store(nil)
		return s.play.allow(number, seqInputUse)
	}
	s.drop(number)
	return nil
}

// Close closes all ports and ends both readers. Nothing is received after it.
func (s *seqSystem) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil
	}
	s.closed = true
	s.closing.Store(true)
	for i := range s.ins {
		if in := s.ins[i].Load(); in != nil {
			in.shut()
		}
		if out := s.outs[i].Load(); out != nil {
			out.shut()
		}
	}
	s.play.close()
	s.watch.close()
	for _, b := range s.bells {
		b.close()
	}
	s.ended.Wait()
	s.play.release()
	return nil
}
