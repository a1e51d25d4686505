//go:build linux

package midiio

import (
	"errors"
	"fmt"
	"time"

	"golang.org/x/sys/unix"
)

// Connect has the kernel pass on all that a port of others sends to another. The
// connection belongs to the two ports and not to us: it outlives this process.
func (s *seqSystem) Connect(c Connection) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	from, to, err := s.connectionEnds(c)
	if err != nil {
		return err
	}
	err = s.watch.connect(from, to)
	switch {
	case err == nil && !s.stands(from, to, c):
		_ = s.watch.disconnect(from, to)
		return connectionError(c, ErrGone)
	case err == nil:
		return nil
	case errors.Is(err, unix.EBUSY), errors.Is(err, unix.EPERM):
		return connectionError(c, ErrBusy)
	}
	return connectionError(c, ErrGone)
}

// Disconnect ends a connection, and waits until what it carried has been read.
func (s *seqSystem) Disconnect(c Connection) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	from, to, err := s.connectionEnds(c)
	if errors.Is(err, ErrGone) {
		return nil // it went with its ports
	}
	if err != nil {
		return err
	}
	if err := s.watch.disconnect(from, to); err != nil && !errors.Is(err, unix.ENOENT) {
		return connectionError(c, err)
	}
	return s.catchUp()
}

func (s *seqSystem) Connected(c Connection) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	from, to, err := s.connectionEnds(c)
	return err == nil && s.watch.connected(from, to)
}

// connectionEnds are the addresses of a connection's ports, if they are still those
// that were listed.
func (s *seqSystem) connectionEnds(c Connection) (from, to seqAddr, err error) {
	if s.closed {
		return from, to, errClosed
	}
	from, ok1 := parseAddr(c.In.Address)
	to, ok2 := parseAddr(c.Out.Address)
	if !ok1 || !ok2 || !s.is(from, c.In) || !s.is(to, c.Out) {
		return from, to, connectionError(c, ErrGone)
	}
	return from, to, nil
}

// stands reports whether a connection is there between the ports that are meant.
func (s *seqSystem) stands(from, to seqAddr, c Connection) bool {
	return s.is(from, c.In) && s.is(to, c.Out) && s.watch.connected(from, to)
}

func connectionError(c Connection, err error) error {
	return fmt.Errorf("MIDI connection from %v: %w", c, err)
}

// catchUpTime is how long the reader is waited for: more than it takes to hand on
// all that can wait for it, and less than a player thinks bedd hangs.
const catchUpTime = 400 * time.Millisecond

// catchUp waits until all that has arrived so far is handed on. What comes last
// is a message of our own to a port made for it, which the reader gets in its
// order.
func (s *seqSystem) catchUp() error {
	number, err := s.makePort("fence", seqCanWrite|seqNoExport)
	if err != nil {
		return portError(PortInfo{Way: In, Name: "fence"}, ErrFull)
	}
	defer s.drop(number)
	reached := make(chan struct{}, 1)
	s.ins[number].Store(&seqIn{seqPort: seqPort{system: s, own: seqAddr{s.play.id, number}}, receive: func(time.Duration, []byte) { reached <- struct{}{} }})
	encoder := newSeqEncoder(watchPort)
	event, _ := encoder.encode([]byte{activeSensing})
	event[seqAtDest], event[seqAtDest+1] = s.play.id, number
	if err := s.watch.write(event); err != nil {
		return fmt.Errorf("MIDI sequencer: %w", err)
	}
	select {
	case <-reached:
	case <-time.After(catchUpTime): // there is nothing better to do than to go on
	}
	return nil
}
