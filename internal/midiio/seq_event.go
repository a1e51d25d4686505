//go:build linux

package midiio

import (
	"encoding/binary"
	"time"
)

// seqPiece is the longest piece of a SysEx that goes into one event: as long as
// the kernel's own pieces from a device, so that a receiver has to find room for
// no more at once.
const seqPiece = 256

// seqEncoder makes the kernel's events from MIDI messages. The events go to
// whoever is connected to the port, at once.
type seqEncoder struct {
	buf [seqEventSize + seqPiece]byte
}

// newSeqEncoder encodes for a port; the kernel itself puts in the client.
func newSeqEncoder(port uint8) seqEncoder {
	var e seqEncoder
	e.buf[seqAtQueue] = seqDirect
	e.buf[seqAtSource+1] = port
	e.buf[seqAtDest] = seqSubscribers
	return e
}

// encode makes one event from the start of msg and says how many bytes that
// took: a whole message, or a piece of a SysEx, which may be one that goes on from
// before. The event is good until the next call; taken is 0 where no message
// starts so. Hot path: no allocation; O(bytes taken).
func (e *seqEncoder) encode(msg []byte) (event []byte, taken int) {
	if len(msg) == 0 {
		return nil, 0
	}
	if first := msg[0]; first < 0x80 || first == sysexStart || first == sysexEnd {
		return e.piece(msg)
	}
	need := 1 + dataBytes(msg[0])
	kind, ok := seqKind(msg[0])
	if !ok || len(msg) < need {
		return nil, 0
	}
	for _, data := range msg[1:need] {
		if data >= 0x80 {
			return nil, 0
		}
	}
	b := e.buf[:seqEventSize]
	b[seqAtType], b[seqAtFlags] = kind, 0
	clear(b[seqAtData:])
	value := 0
	switch kind {
	case seqNoteOn, seqNoteOff, seqKeyPressure:
		b[seqAtChannel], b[seqAtNote], b[seqAtVelocity] = msg[0]&0x0F, msg[1], msg[2]
		return b, need
	case seqController:
		binary.NativeEndian.PutUint32(b[seqAtParam:], uint32(msg[1]))
		value = int(msg[2])
	case seqPitchBend:
		value = int(msg[2])<<7 + int(msg[1]) - 8192
	case seqSongPosition:
		value = int(msg[2])<<7 + int(msg[1])
	case seqProgram, seqChannelPressure, seqSongSelect, seqQuarterFrame:
		value = int(msg[1])
	}
	if msg[0] < sysexStart {
		b[seqAtChannel] = msg[0] & 0x0F
	}
	binary.NativeEndian.PutUint32(b[seqAtValue:], uint32(int32(value)))
	return b, need
}

// piece makes an event from as much of a SysEx as fits in one.
func (e *seqEncoder) piece(msg []byte) (event []byte, taken int) {
	taken = min(len(msg), seqPiece)
	b := e.buf[:seqEventSize+taken]
	b[seqAtType], b[seqAtFlags] = seqSysEx, seqLengthVariable
	clear(b[seqAtData:seqEventSize])
	binary.NativeEndian.PutUint32(b[seqAtLength:], uint32(taken))
	copy(b[seqEventSize:], msg[:taken])
	return b, taken
}

// seqKind is the kind of event for a message with this status.
func seqKind(status byte) (kind byte, ok bool) {
	if status < sysexStart {
		return [...]byte{seqNoteOff, seqNoteOn, seqKeyPressure, seqController, seqProgram, seqChannelPressure, seqPitchBend}[status>>4-8], true
	}
	kind = [...]byte{0, seqQuarterFrame, seqSongPosition, seqSongSelect, 0, 0, seqTuneRequest, 0,
		seqTimingClock, 0, seqStart, seqContinue, seqStop, 0, seqActiveSensing, seqReset}[status&0x0F]
	return kind, kind != 0
}

// cells is how many of a receiver's places an event takes: one for itself, and
// one for each 28 bytes of its data (from the Linux kernel's sources, seq_memory).
func seqCells(event []byte) int {
	return 1 + (len(event)-seqEventSize+seqEventSize-1)/seqEventSize
}

// seqEvent is one event of those that a read gave.
type seqEvent struct {
	head []byte // seqEventSize bytes
	data []byte // of a variable one
}

// splitEvent takes the first event off what a read gave. ok is false when
// nothing whole is there, be it that a length lies. The event is good while the
// bytes are. Hot path: no allocation; O(1).
func splitEvent(read []byte) (e seqEvent, rest []byte, ok bool) {
	if len(read) < seqEventSize {
		return seqEvent{}, nil, false
	}
	e.head, rest = read[:seqEventSize], read[seqEventSize:]
	if e.head[seqAtFlags]&seqLengthMask != seqLengthVariable {
		return e, rest, true
	}
	length := int(binary.NativeEndian.Uint32(e.head[seqAtLength:]) & seqLengthBits)
	if length > len(rest) {
		return seqEvent{}, nil, false
	}
	filled := (length + seqEventSize - 1) / seqEventSize * seqEventSize
	e.data = rest[:length]
	return e, rest[min(filled, len(rest)):], true
}

func (e seqEvent) kind() byte      { return e.head[seqAtType] }
func (e seqEvent) destPort() uint8 { return e.head[seqAtDest+1] }
func (e seqEvent) about() seqAddr  { return e.addr(seqAtData) }
func (e seqEvent) errno() uint16   { return binary.NativeEndian.Uint16(e.head[seqAtErrno:]) }

func (e seqEvent) addr(at int) seqAddr { return seqAddr{e.head[at], e.head[at+1]} }

// stamp is the time of a queue at which the event arrived.
func (e seqEvent) stamp(queue uint8) (at time.Duration, ok bool) {
	at = time.Duration(binary.NativeEndian.Uint32(e.head[seqAtSeconds:]))*time.Second +
		time.Duration(binary.NativeEndian.Uint32(e.head[seqAtNanos:]))
	return at, e.head[seqAtFlags]&seqStampReal != 0 && e.head[seqAtQueue] == queue
}

// decode gives the MIDI bytes that an event stands for: one message, up to four
// for those that stand for several, a piece of a SysEx, or none. They are in buf or
// in what was read. Values out of their range are taken to its nearest end;
// channels, notes and controllers out of theirs mean nothing. Hot path: no
// allocation; O(1).
func (e seqEvent) decode(buf *[12]byte) []byte {
	kind := e.kind()
	if kind == seqSysEx {
		return e.data
	}
	channel := e.head[seqAtChannel]
	param := binary.NativeEndian.Uint32(e.head[seqAtParam:])
	value := int32(binary.NativeEndian.Uint32(e.head[seqAtValue:]))
	switch kind {
	case seqSongPosition:
		v := clamp14(value)
		return append(buf[:0], 0xF2, lsb(v), msb(v))
	case seqSongSelect:
		return append(buf[:0], 0xF3, clamp7(value))
	case seqQuarterFrame:
		return append(buf[:0], 0xF1, clamp7(value))
	case seqTuneRequest:
		return append(buf[:0], 0xF6)
	case seqTimingClock:
		return append(buf[:0], 0xF8)
	case seqStart:
		return append(buf[:0], 0xFA)
	case seqContinue:
		return append(buf[:0], 0xFB)
	case seqStop:
		return append(buf[:0], 0xFC)
	case seqActiveSensing:
		return append(buf[:0], 0xFE)
	case seqReset:
		return append(buf[:0], 0xFF)
	}
	if channel > 15 {
		return nil
	}
	control := controller | channel
	switch kind {
	case seqNoteOn, seqNoteOff, seqKeyPressure:
		status := [...]byte{noteOn, noteOff, polyPressure}[kind-seqNoteOn] | channel
		if e.head[seqAtNote] > 127 {
			return nil
		}
		return append(buf[:0], status, e.head[seqAtNote], min(e.head[seqAtVelocity], 127))
	case seqProgram:
		return append(buf[:0], program|channel, clamp7(value))
	case seqChannelPressure:
		return append(buf[:0], channelPressure|channel, clamp7(value))
	case seqPitchBend:
		v := clamp14(max(value, -8192) + 8192)
		return append(buf[:0], pitchBend|channel, lsb(v), msb(v))
	case seqController:
		if param > 127 {
			return nil
		}
		return append(buf[:0], control, byte(param), clamp7(value))
	case seqControl14:
		v := clamp14(value)
		switch {
		case param < 32:
			return append(buf[:0], control, byte(param), msb(v), control, byte(param)+32, lsb(v))
		case param < 128:
			return append(buf[:0], control, byte(param), clamp7(value))
		}
	case seqNRPN, seqRPN:
		if param > 16383 {
			return nil
		}
		n, v := int32(param), clamp14(value)
		high, low := byte(99), byte(98)
		if kind == seqRPN {
			high, low = 101, 100
		}
		return append(buf[:0], control, high, msb(n), control, low, lsb(n), control, 6, msb(v), control, 38, lsb(v))
	}
	return nil
}

func clamp7(v int32) byte   { return byte(min(max(v, 0), 127)) }
func clamp14(v int32) int32 { return min(max(v, 0), 16383) }
func lsb(v int32) byte      { return byte(v & 0x7F) }
func msb(v int32) byte      { return byte(v >> 7) }
