package midiio

import (
	"errors"
	"fmt"
	"os"
	"sync"
	"syscall"
)

const (
	sequencerPath = "/dev/snd/seq"
	clientsPath   = "/proc/asound/seq/clients"
)

// probe finds out whether the sequencer is there for us, before the driver
// tries: the driver's error texts are garbage. It disturbs nobody.
func probe() error {
	if err := syscall.Access(sequencerPath, 6); err != nil { // to read and to write
		return sequencerError(err)
	}
	return nil
}

// whyNot finds out why the driver could not open the sequencer, by opening it.
func whyNot() error {
	f, err := os.OpenFile(sequencerPath, os.O_RDWR, 0)
	if err != nil {
		return sequencerError(err)
	}
	_ = f.Close()
	return ErrFull // it was, a moment ago
}

// sequencerError says which trouble an error from opening the sequencer is.
func sequencerError(err error) error {
	switch {
	case errors.Is(err, os.ErrPermission):
		return ErrPermission
	case errors.Is(err, os.ErrNotExist), errors.Is(err, syscall.ENODEV), errors.Is(err, syscall.ENXIO):
		return ErrNoSequencer
	case errors.Is(err, syscall.ENOMEM): // what the kernel says when all client numbers are taken
		return ErrFull
	}
	return fmt.Errorf("MIDI sequencer: %w", err)
}

// clients is what the kernel tells of the sequencer's ports; known is false
// where it is kept from us, as in some containers. Asking the kernel disturbs
// nobody, while each listing by the driver makes a client that every program
// which watches the sequencer is told of.
func clients() (ports []clientPort, known bool) {
	text, err := os.ReadFile(clientsPath)
	if err != nil {
		return nil, false
	}
	return parseClients(string(text)), true
}

// quiet keeps a second quietly from taking the first one's silence for what was
// there before.
var quiet sync.Mutex

// quietly runs f with the process's standard error led nowhere: the driver and
// ALSA write their troubles there, in the middle of the screen. What others write
// to it meanwhile is lost.
func quietly(f func()) {
	quiet.Lock()
	defer quiet.Unlock()
	saved, err := syscall.Dup(syscall.Stderr)
	if err != nil {
		f()
		return
	}
	syscall.CloseOnExec(saved)
	defer syscall.Close(saved)
	null, err := syscall.Open(os.DevNull, syscall.O_WRONLY|syscall.O_CLOEXEC, 0)
	if err != nil {
		f()
		return
	}
	defer syscall.Close(null)
	if syscall.Dup3(null, syscall.Stderr, 0) == nil {
		defer func() { _ = syscall.Dup3(saved, syscall.Stderr, 0) }()
	}
	f()
}
