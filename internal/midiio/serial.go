package midiio

import "time"

// DINBaud is the rate of a MIDI cable in bits a second, ±1 %, with ten bits a byte:
// 320 µs (MIDI 1.0 Detailed Specification 4.2, Hardware).
const DINBaud = 31_250

// serial says how far a serial line is behind with what it was given. It counts
// every byte, also those that running status would spare, and takes the line for
// the slowest that the standard allows, so that it is never further behind than
// that. The zero value is a line that takes no time.
type serial struct {
	byteTime time.Duration
	free     time.Duration // when all has gone out
}

func newSerial(baud int) serial {
	const bits, slowest = 10, 0.99
	return serial{byteTime: time.Duration(bits * float64(time.Second) / (slowest * float64(baud)))}
}

// send gives the line some bytes.
func (s *serial) send(at time.Duration, n int) { s.free = max(s.free, at) + s.takes(n) }

// takes is how long some bytes take.
func (s *serial) takes(n int) time.Duration { return time.Duration(n) * s.byteTime }

// behind is how long it takes until all has gone out.
func (s *serial) behind(at time.Duration) time.Duration { return max(s.free-at, 0) }

// bytes is how many bytes have not gone out.
func (s *serial) bytes(at time.Duration) int {
	if s.byteTime == 0 {
		return 0
	}
	return int((s.behind(at) + s.byteTime - 1) / s.byteTime)
}
