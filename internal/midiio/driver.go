package midiio

import (
	"fmt"
	"runtime"
)

// Driver is a way to the machine's MIDI.
type Driver string

// The drivers.
const (
	DriverAuto   Driver = "auto"   // the best that there is: alsa on Linux, rtmidi elsewhere
	DriverALSA   Driver = "alsa"   // straight on the kernel's sequencer
	DriverRtMidi Driver = "rtmidi" // the portable library
)

// OpenSystem gives the machine's MIDI ports by a driver. It fails with
// ErrNoSequencer, ErrPermission or ErrFull, with ErrBuild or ErrNotLinux where the
// driver is not to be had, and for a driver that doesn't exist.
func OpenSystem(d Driver) (System, error) {
	switch {
	case d == DriverALSA, d == DriverAuto && runtime.GOOS == "linux":
		return openALSA()
	case d == DriverRtMidi, d == DriverAuto:
		return openRtMidi()
	}
	return nil, fmt.Errorf("there is no MIDI driver %q: use %s, %s or %s", d, DriverAuto, DriverALSA, DriverRtMidi)
}
