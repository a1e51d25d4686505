package midiio

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"

	"bedd/internal/wholefile"
)

// OutFile is what WriteFile writes: a format 1 file.
type OutFile struct {
	Division int // ticks per quarter note, 1…32767
	Tracks   []OutTrack
}

// OutTrack is one track. Its events stand in the order in which they are
// written, with ticks that never fall; what an Event says of its track does not
// count. End is the tick at which the track ends, not before its last event.
type OutTrack struct {
	Name   string // written as a track name at tick 0 unless empty
	Events []Event
	End    int64
}

// WriteFile writes a standard MIDI file, format 1: the whole file or, with an
// error, nothing.
func WriteFile(path string, f OutFile) error {
	return wholefile.Write(path, func(file *os.File) error { return Write(file, f) })
}

// Write writes a standard MIDI file, format 1, without running status. SysEx go
// in one packet, other system messages as escapes. It refuses what Read would
// not read back as it is, except that it knows no limit of size.
func Write(w io.Writer, f OutFile) error {
	if f.Division < 1 || f.Division > 0x7FFF {
		return fmt.Errorf("division %d is out of range 1…32767", f.Division)
	}
	if len(f.Tracks) < 1 || len(f.Tracks) > 0xFFFF {
		return fmt.Errorf("%d tracks are out of range 1…65535", len(f.Tracks))
	}
	out := bufio.NewWriter(w)
	out.Write(binary.BigEndian.AppendUint16([]byte("MThd\x00\x00\x00\x06\x00\x01"), uint16(len(f.Tracks))))
	out.Write(binary.BigEndian.AppendUint16(nil, uint16(f.Division)))
	var body []byte
	for i, t := range f.Tracks {
		var err error
		if body, err = appendTrack(body[:0], t); err != nil {
			return fmt.Errorf("track %d %q: %w", i+1, t.Name, err)
		}
		out.Write(binary.BigEndian.AppendUint32([]byte("MTrk"), uint32(len(body))))
		out.Write(body)
	}
	return out.Flush()
}

func appendTrack(out []byte, t OutTrack) ([]byte, error) {
	if t.Name != "" {
		out = appendMessage(append(out, 0), TextMeta(TrackName, t.Name))
	}
	last := int64(0)
	for i, e := range t.Events {
		if err := checkEvent(e, last); err != nil {
			return nil, fmt.Errorf("event %d: %w", i+1, err)
		}
		out = appendMessage(appendQuantity(out, e.Tick-last), e.Data)
		last = e.Tick
	}
	if err := checkTick(t.End, last); err != nil {
		return nil, fmt.Errorf("end: %w", err)
	}
	return append(appendQuantity(out, t.End-last), metaEvent, endOfTrack, 0), nil
}

func checkEvent(e Event, last int64) error {
	if err := checkTick(e.Tick, last); err != nil {
		return err
	}
	if kind, data, meta := e.Meta(); meta {
		switch {
		case kind == endOfTrack:
			return errors.New("an end of track is not for the events, End says it")
		case len(data) > maxQuantity:
			return fmt.Errorf("a meta event of %d bytes is over the limit of %d", len(data), maxQuantity)
		}
		return nil
	}
	if !whole(e.Data) || e.Data[0] == metaEvent || len(e.Data) > maxQuantity {
		return fmt.Errorf("% X is not one whole message", e.Data[:min(len(e.Data), 8)])
	}
	return nil
}

func checkTick(tick, last int64) error {
	switch {
	case tick < last:
		return fmt.Errorf("tick %d comes after tick %d", tick, last)
	case tick > MaxTick:
		return fmt.Errorf("tick %d is past the last, %d", tick, int64(MaxTick))
	case tick-last > maxQuantity:
		return fmt.Errorf("tick %d is more than %d after tick %d", tick, maxQuantity, last)
	}
	return nil
}

// appendMessage appends a message as it stands in a file.
func appendMessage(out, msg []byte) []byte {
	switch {
	case msg[0] == metaEvent:
		out = append(out, msg[:2]...)
		msg = msg[2:]
	case msg[0] == sysexStart:
		out = append(out, sysexStart)
		msg = msg[1:]
	case msg[0] > sysexStart:
		out = append(out, sysexEnd)
	default:
		return append(out, msg...)
	}
	return append(appendQuantity(out, int64(len(msg))), msg...)
}

// maxQuantity is the largest variable length quantity, four bytes of seven bits.
const maxQuantity = 0x0FFFFFFF

// appendQuantity appends a variable length quantity of 0…maxQuantity.
func appendQuantity(out []byte, n int64) []byte {
	for shift := 21; shift > 0; shift -= 7 {
		if n>>shift != 0 {
			out = append(out, byte(n>>shift)|0x80)
		}
	}
	return append(out, byte(n&0x7F))
}
