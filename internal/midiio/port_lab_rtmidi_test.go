//go:build cgo && linux

package midiio

import (
	"io"
	"time"
)

func init() {
	labSystems = append(labSystems, labSystem{
		driver: DriverRtMidi, rounds: 20, soon: 2 * time.Second,
		virtual: func(way Way, name string) (port, client string) {
			return virtualClient(way) + ":" + name, virtualClient(way)
		},
		own: func(in InPort) func(clientPort) bool {
			name := in.(*rtmidiIn).ownName
			return func(p clientPort) bool { return p.portName == name }
		},
		place: func(s System) (io.Closer, error) { return s.OpenVirtualOut("bedd") },
	})
}
