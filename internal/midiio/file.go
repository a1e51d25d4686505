package midiio

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Bounds of what Read accepts. Within them it needs less than 64 MiB, whatever
// the bytes say.
const (
	MaxFileBytes = 4 << 20
	MaxEvents    = 500_000
	MaxTick      = 1 << 38 // nine years at 960 ticks a second; keeps tempo sums in 64 bits
)

// Event is one message of a file.
//
// Data is the whole message with its status byte: running status is undone, a
// SysEx reads F0 … F7 without its length and in one piece, and a meta event is
// FF, its type and its data without their length. The events of a File share
// memory, so Data is to be read only.
type Event struct {
	Tick  int64
	Track uint16 // from 0
	Data  []byte
}

// Track is what a file says of one of its tracks.
type Track struct {
	Name string // the first track name at tick 0, as its bytes stand; often empty
	End  int64  // the tick at which the track ends
}

// File is a standard MIDI file, format 0 or 1.
type File struct {
	Format   int // 0 or 1
	Division int // ticks per quarter note, 1…32767
	Tracks   []Track

	// Events of all tracks in order of ticks, at equal ticks in order of tracks,
	// and within a track as they stand in the file. Track names that went to
	// Tracks and the ends of tracks are left out.
	Events []Event

	// Skipped counts what was left out because it does not hold exactly one
	// message: SysEx with a status byte inside, and escapes (F7 outside a SysEx)
	// that hold a part of a message, several, or a reset.
	Skipped int
}

// ReadFile reads a standard MIDI file as Read does.
func ReadFile(path string) (*File, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return Read(filepath.Base(path), f)
}

// Read reads a standard MIDI file, format 0 or 1, with ticks per quarter note.
// Errors start with name and tell the byte, from 0, where the trouble is.
//
// It follows the Standard MIDI Files 1.0 specification. Where files in the wild
// differ, this is what counts: chunks of unknown types are skipped; a track
// without an end ends with its last event; what stands after a track's end is
// left out; a SysEx that is neither ended nor continued ends where its bytes
// end; a SysEx in packets becomes one event at the tick of its last packet;
// after the last track anything but another track may follow.
func Read(name string, r io.Reader) (*File, error) {
	buf := bytes.NewBuffer(make([]byte, 0, MaxFileBytes+1+bytes.MinRead)) // never grows
	n, err := buf.ReadFrom(io.LimitReader(r, MaxFileBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%s: byte %d: %w", name, n, err)
	}
	if n > MaxFileBytes {
		return nil, fmt.Errorf("%s: larger than %d bytes, the most that is read", name, MaxFileBytes)
	}
	f, err := parse(buf.Bytes())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return f, nil
}

func parse(data []byte) (*File, error) {
	f, chunks, err := header(data)
	if err != nil {
		return nil, err
	}
	bodies, err := trackBodies(data, chunks, len(f.Tracks))
	if err != nil {
		return nil, err
	}

	// First count, then store: a file can't make us allocate what it doesn't hold.
	var events, size int
	var sysex []byte
	for i, body := range bodies {
		w := trackWalk{data: data, body: body, number: i + 1, sysex: sysex, emit: func(_ int64, head, rest []byte) error {
			if events++; events > MaxEvents {
				return fmt.Errorf("more than %d events, the most that are read", MaxEvents)
			}
			size += len(head) + len(rest)
			return nil
		}}
		if err := w.walk(); err != nil {
			return nil, err
		}
		sysex = w.sysex
		f.Tracks[i].End = w.tick
		f.Skipped += w.skipped
	}
	f.Events = make([]Event, 0, events)
	store := make([]byte, 0, size)
	for i, body := range bodies {
		track := &f.Tracks[i]
		named := false
		w := trackWalk{data: data, body: body, number: i + 1, sysex: sysex, emit: func(tick int64, head, rest []byte) error {
			if tick == 0 && !named && head[0] == metaEvent && head[1] == TrackName {
				track.Name, named = string(rest), true
				return nil
			}
			from := len(store)
			store = append(append(store, head...), rest...)
			f.Events = append(f.Events, Event{Tick: tick, Track: uint16(i), Data: store[from:len(store):len(store)]})
			return nil
		}}
		if err := w.walk(); err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(f.Events, func(a, b Event) int {
		switch {
		case a.Tick < b.Tick:
			return -1
		case a.Tick > b.Tick:
			return 1
		}
		return 0
	})
	return f, nil
}

const (
	chunkHead   = 8 // type and length
	headerBytes = 6 // format, number of tracks, division
)

// header reads the header chunk and tells where the next chunk starts.
func header(data []byte) (f *File, next int, err error) {
	switch {
	case len(data) == 0:
		return nil, 0, fmt.Errorf("byte 0: nothing there; a standard MIDI file starts with \"MThd\"")
	case bytes.HasPrefix(data, []byte("RIFF")):
		return nil, 0, fmt.Errorf("byte 0: a MIDI file wrapped in RIFF is not read: save it again as a plain standard MIDI file")
	case !strings.HasPrefix("MThd", string(data[:min(4, len(data))])):
		return nil, 0, fmt.Errorf("byte 0: not a standard MIDI file: starts with %q, not with \"MThd\"", data[:min(4, len(data))])
	case len(data) < chunkHead+headerBytes:
		return nil, 0, fmt.Errorf("byte %d: the file ends inside its header, which takes %d bytes", len(data), chunkHead+headerBytes)
	}
	length := binary.BigEndian.Uint32(data[4:])
	if length < headerBytes {
		return nil, 0, fmt.Errorf("byte 4: the header says it is %d bytes long, it takes %d or more", length, headerBytes)
	}
	if left := len(data) - chunkHead; int64(length) > int64(left) {
		return nil, 0, fmt.Errorf("byte 4: the header says it is %d bytes long, but %d are left", length, left)
	}
	format := binary.BigEndian.Uint16(data[8:])
	tracks := binary.BigEndian.Uint16(data[10:])
	division := binary.BigEndian.Uint16(data[12:])
	switch {
	case format == 2:
		return nil, 0, fmt.Errorf("byte 8: format 2 (patterns without a common time) is not read: save it again as format 0 or 1")
	case format > 2:
		return nil, 0, fmt.Errorf("byte 8: format %d is unknown: 0 and 1 are read", format)
	case tracks == 0:
		return nil, 0, fmt.Errorf("byte 10: the header says there are no tracks")
	case format == 0 && tracks != 1:
		return nil, 0, fmt.Errorf("byte 10: format 0 has one track, but the header says %d", tracks)
	case division >= 0x8000:
		return nil, 0, fmt.Errorf("byte 12: uses SMPTE time (division %04X); bedd reads ticks per quarter note: save it again with that", division)
	case division == 0:
		return nil, 0, fmt.Errorf("byte 12: a division of 0 ticks per quarter note; 1…32767 is read")
	}
	f = &File{Format: int(format), Division: int(division), Tracks: make([]Track, tracks)}
	return f, chunkHead + int(length), nil
}

// span is the bytes start…end-1.
type span struct{ start, end int }

// trackBodies finds what is in the track chunks.
func trackBodies(data []byte, pos, tracks int) ([]span, error) {
	var bodies []span
	for pos < len(data) {
		left := len(data) - pos
		isTrack := bytes.HasPrefix(data[pos:], []byte("MTrk"))
		if len(bodies) == tracks && !isTrack {
			// Chunks of others, padding, a tag: nothing of ours, unless a track follows.
			if left < chunkHead || int64(binary.BigEndian.Uint32(data[pos+4:])) > int64(left-chunkHead) {
				break
			}
		}
		if left < chunkHead {
			return nil, fmt.Errorf("byte %d: the file ends inside the head of a chunk, after %d of %d tracks", len(data), len(bodies), tracks)
		}
		if isTrack && len(bodies) == tracks {
			return nil, fmt.Errorf("byte %d: another track, but the header says there are %d", pos, tracks)
		}
		length := binary.BigEndian.Uint32(data[pos+4:])
		body := span{pos + chunkHead, pos + chunkHead + int(length)}
		if int64(length) > int64(left-chunkHead) {
			what := fmt.Sprintf("chunk %q", data[pos:pos+4])
			if isTrack {
				what = fmt.Sprintf("track %d", len(bodies)+1)
			}
			return nil, fmt.Errorf("byte %d: %s says it is %d bytes long, but %d are left", pos+4, what, length, left-chunkHead)
		}
		if isTrack {
			bodies = append(bodies, body)
		}
		pos = body.end
	}
	if len(bodies) < tracks {
		return nil, fmt.Errorf("byte %d: the file ends after %d of %d tracks", len(data), len(bodies), tracks)
	}
	return bodies, nil
}
