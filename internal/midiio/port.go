package midiio

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// Way is the direction of a port, seen from bedd.
type Way uint8

const (
	In  Way = iota // the port's messages come to bedd
	Out            // bedd's messages go to the port
)

// String is the direction as people say it.
func (w Way) String() string {
	if w == Out {
		return "output"
	}
	return "input"
}

// flag is the command line's word for a port of this direction.
func (w Way) flag() string {
	if w == Out {
		return "--out"
	}
	return "--in"
}

// The troubles with ports, each with its cure. Errors of this package that wrap
// one say which port was asked for.
var (
	ErrNoSequencer = errors.New("this machine has no MIDI sequencer (/dev/snd/seq is missing): load it with: sudo modprobe snd-seq")
	ErrPermission  = errors.New("no permission to use MIDI (/dev/snd/seq): add yourself to its group with: sudo usermod -aG audio $USER, then log in again")
	ErrBusy        = errors.New("in use by another program: close it there, then try again")
	ErrGone        = errors.New("no longer there: check its cable and power")
	ErrFull        = errors.New("the MIDI sequencer has no place left: end some of the programs that use MIDI, then try again")
	ErrNoPort      = errors.New("no such MIDI port")
	ErrSeveral     = errors.New("more than one MIDI port fits")
	ErrVirtual     = errors.New("this system has no virtual MIDI ports: use a loop-back driver in its place")
	ErrSlow        = errors.New("has no room: it takes its messages too slowly")
	ErrOverrun     = errors.New("lost messages that came faster than they could be taken")
	ErrBuild       = errors.New("this bedd was built without cgo, which the rtmidi driver needs: build it with CGO_ENABLED=1, a C++ compiler and, on Linux, ALSA's headers")
	ErrNotLinux    = errors.New("the alsa driver is for Linux: use rtmidi")
	ErrNoConnect   = errors.New("the rtmidi driver connects no devices with each other: use the alsa driver, on Linux")
)

// PortInfo is a port of the machine as it was when it was listed.
type PortInfo struct {
	Way         Way
	Name        string // as the system shows it; stays the same when the device is plugged in again
	Address     string // tells ports of one name apart, but may change: "24:0" on Linux, "#2" elsewhere
	Number      int    // its place in the list, from 0; may change
	Ours        bool   // made by bedd
	LoopThrough bool   // gives back whatever is sent to it
	Program     bool   // made by another program
}

// Hardware reports whether the port is a device's: nothing of bedd's, no
// loop-through and no other program's.
func (p PortInfo) Hardware() bool { return !p.Ours && !p.LoopThrough && !p.Program }

// Device is the name of the device that the port belongs to. A keyboard's input
// and output have it in common.
func (p PortInfo) Device() string {
	device, _, _ := strings.Cut(p.Name, ":")
	return device
}

// String is the name and the address.
func (p PortInfo) String() string { return p.Name + " " + p.Address }

// portError says which port an error is about.
func portError(info PortInfo, err error) error {
	return fmt.Errorf("MIDI %v %q: %w", info.Way, info.Name, err)
}

// Connection is a way inside the system from an input to an output, both of
// others: whatever arrives at the one goes to the other, all of it, whoever made it
// and whether or not bedd is there.
type Connection struct{ In, Out PortInfo }

// String is the two names.
func (c Connection) String() string { return c.In.Name + " to " + c.Out.Name }

// System is the machine's MIDI, or a stand-in for tests. Its methods may be
// called from several goroutines, but not from a Receiver. They allocate and may
// take milliseconds.
type System interface {
	// Ins and Outs list the ports as they are now. They fail with ErrNoSequencer,
	// ErrPermission or ErrFull.
	Ins() ([]PortInfo, error)
	Outs() ([]PortInfo, error)

	// Changed gets a value when ports, or what they are connected to, may have
	// changed, and when a port has lost messages. It is nil where the system tells
	// nobody: there one has to look. Ports that come and go while nobody takes the
	// value are told as one.
	Changed() <-chan struct{}

	// OpenIn opens an input. From then on receive gets what arrives. It fails as
	// Ins does, and with ErrGone or ErrBusy.
	OpenIn(p PortInfo, receive Receiver) (InPort, error)
	// OpenOut opens an output, and fails as OpenIn does.
	OpenOut(p PortInfo) (OutPort, error)

	// OpenVirtualIn and OpenVirtualOut make a port that other programs can
	// connect to. They fail as Ins does, and with ErrVirtual.
	OpenVirtualIn(name string, receive Receiver) (InPort, error)
	OpenVirtualOut(name string) (OutPort, error)

	// Connect makes a connection, which is there until Disconnect or until one of
	// its ports goes. It fails as OpenIn does, when it is there already with ErrBusy,
	// and with ErrNoConnect where the system has none.
	Connect(c Connection) error
	// Disconnect ends a connection, whoever made it. When it returns, all that went
	// through it has also been handed to the receivers of the input. It does nothing
	// where there is none.
	Disconnect(c Connection) error
	// Connected reports whether a connection is there, and is the one meant: its
	// ports are still those that were listed.
	Connected(c Connection) bool

	// Close closes all ports that can be closed at any time.
	Close() error
}

// Receiver takes the bytes that arrive at an input, good only during the call,
// on a thread that is not the caller's, one call at a time; the pieces need not
// be whole messages. age is how long ago they arrived, 0 where nobody knows.
type Receiver func(age time.Duration, bytes []byte)

// InPort is an open input.
type InPort interface {
	// Alive asks the system whether the port is there and still connected.
	Alive() bool
	// Overruns is how often messages were lost because they came faster than they
	// could be taken, as far as the system tells.
	Overruns() uint64
	// Close ends the input. Where the system tells no changes, it is only for an
	// input whose device is gone: one that still gets notes may take the process
	// down (see rtmidiIn). An input that is not wanted any more is left open there
	// and not listened to.
	Close() error
}

// OutPort is an open output. Send serves one goroutine at a time.
type OutPort interface {
	// Send sends one whole message, or what is left of a SysEx, and doesn't wait.
	// It reports how many bytes of it were taken. It fails with ErrSlow when the
	// receiver has no room for the rest of it, which is to be sent later and before
	// anything else, and with ErrGone. No error doesn't mean that the message has
	// arrived: no system knows that of a device, and some know nothing at all.
	Send(msg []byte) (taken int, err error)
	// Overruns is how often messages that were taken have been lost because the
	// receiver had no room, as far as the system tells.
	Overruns() uint64
	Alive() bool
	Close() error
}
