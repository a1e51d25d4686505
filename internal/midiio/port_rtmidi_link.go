//go:build cgo

package midiio

import (
	"fmt"
	"runtime"
	"slices"
	"sync/atomic"

	"gitlab.com/gomidi/midi/v2/drivers/rtmididrv/imported/rtmidi"
)

// rtmidiPort is what an open input and output have in common.
type rtmidiPort struct {
	handle  lister
	system  *rtmidiSystem
	info    PortInfo
	ownName string
}

// Alive asks the kernel whether the connection stands. Where it doesn't tell, the
// port is alive while one of that name and address is listed: then the
// loss of a device that is back at the next look goes unnoticed.
func (p *rtmidiPort) Alive() bool {
	if all, known := clients(); known {
		return linked(all, p.ownName, p.info.Address)
	}
	list, err := p.system.list(p.info.Way)
	if err != nil {
		return true // nobody knows, and to close what is alive would be the worse mistake
	}
	return slices.ContainsFunc(list, func(info PortInfo) bool {
		return info.Name == p.info.Name && (runtime.GOOS != "linux" || info.Address == p.info.Address)
	})
}

// Overruns is 0: the driver doesn't tell.
func (p *rtmidiPort) Overruns() uint64 { return 0 }

func (p *rtmidiPort) Close() error {
	if p.handle.Close() != nil { // its text is garbage
		return fmt.Errorf("MIDI %v %q could not be closed", p.info.Way, p.info.Name)
	}
	return nil
}

// rtmidiIn is an open input.
//
// The driver takes an input off its list of callbacks before it stops the thread
// that calls them, and the thread doesn't expect that: to close or stop an input
// while a message arrives takes the process down. So nothing is closed that
// may still get one, and the driver's stop is never used.
type rtmidiIn struct {
	rtmidiPort
	deaf atomic.Bool
}

func (in *rtmidiIn) listen(l lister, receive Receiver) error {
	driver := l.(rtmidi.MIDIIn)
	if err := driver.IgnoreTypes(false, true, true); err != nil { // SysEx yes, clock and active sensing no
		return err
	}
	return driver.SetCallback(func(_ rtmidi.MIDIIn, bytes []byte, _ float64) {
		if !in.deaf.Load() {
			receive(0, bytes)
		}
	})
}

type rtmidiOut struct {
	rtmidiPort
	driver rtmidi.MIDIOut
}

// sysexChunk is how many bytes of a SysEx go to the driver at once. Longer
// pieces grow the event that the sequencer has to find room for as a whole, and
// the kernel's own are of this size. All pieces but the last must be of one
// size, the longest ever sent: that is the size at which the driver's encoder
// lets an unfinished SysEx go.
const sysexChunk = 256

// Send hands the message to the driver, whose result says nothing: it is fine
// when the port has gone or the receiver is full.
func (o *rtmidiOut) Send(msg []byte) (taken int, err error) {
	rest := msg
	for len(rest) > sysexChunk && runtime.GOOS == "linux" {
		_ = o.driver.SendMessage(rest[:sysexChunk])
		rest = rest[sysexChunk:]
	}
	_ = o.driver.SendMessage(rest)
	return len(msg), nil
}

func (o *rtmidiOut) prepare(l lister) error {
	o.driver = l.(rtmidi.MIDIOut)
	return nil
}
