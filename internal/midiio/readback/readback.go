// Package readback reads MIDI files and streams with python3-mido, an independent library, for tests.
package readback

import (
	"encoding/hex"
	"encoding/json"
	"errors"
	"os/exec"
	"strings"
	"testing"
)

// File is a standard MIDI file as mido reads it.
type File struct {
	Type     int
	Division int
	Tracks   []Track
}

// Track is one track, with its end.
type Track struct {
	Name   string
	Events []Event
}

// Event is one message at its tick from the start: a whole message with its
// status byte; a meta event with its length, as it stands in the file.
type Event struct {
	Tick int64
	Data []byte
}

// Meta gives the type and the data of a meta event of less than 128 bytes.
func (e Event) Meta() (kind byte, data []byte, ok bool) {
	if len(e.Data) < 3 || e.Data[0] != 0xFF {
		return 0, nil, false
	}
	return e.Data[1], e.Data[3:], true
}

const script = `
import json, mido, sys
f = mido.MidiFile(sys.argv[1])
tracks = []
for track in f.tracks:
    tick, events = 0, []
    for m in track:
        tick += m.time
        events.append({"Tick": tick, "Hex": m.hex(sep="")})
    tracks.append({"Name": track.name, "Events": events})
json.dump({"Type": f.type, "Division": f.ticks_per_beat, "Tracks": tracks}, sys.stdout)
`

// Read reads a file, or fails the test.
func Read(t testing.TB, path string) File {
	t.Helper()
	printed, err := exec.Command(python(t), "-c", script, path).Output()
	if err != nil {
		t.Fatalf("mido cannot read %s: %v\n%s", path, err, complaint(err))
	}
	var f File
	if err := json.Unmarshal(printed, &f); err != nil {
		t.Fatal(err)
	}
	return f
}

// mido's parser of streams leaves out what has no status byte of its own, so
// channel messages are given theirs: a status byte 80…EF stays until another
// comes, F0…F7 clears it, F8…FF does not touch it (MIDI 1.0 Detailed
// Specification 4.2, running status).
const streamScript = `
import mido, sys
p, status, waiting = mido.Parser(), None, 0
for b in open(sys.argv[1], "rb").read():
    if 0x80 <= b < 0xf0:
        status, waiting = b, 1 if b & 0xe0 == 0xc0 else 2
    elif 0xf0 <= b < 0xf8:
        status = None
    elif b < 0x80 and status is not None:
        if waiting == 0:
            p.feed_byte(status)
            waiting = 1 if status & 0xe0 == 0xc0 else 2
        waiting -= 1
    p.feed_byte(b)
for m in p:
    print(m.hex(sep=""))
`

// Stream reads raw MIDI bytes, as they go over a wire, and gives whole messages
// with their status bytes, or fails the test.
func Stream(t testing.TB, path string) (msgs [][]byte) {
	t.Helper()
	printed, err := exec.Command(python(t), "-c", streamScript, path).Output()
	if err != nil {
		t.Fatalf("mido cannot read %s: %v\n%s", path, err, complaint(err))
	}
	for _, line := range strings.Fields(string(printed)) {
		msg, err := hex.DecodeString(line)
		if err != nil {
			t.Fatal(err)
		}
		msgs = append(msgs, msg)
	}
	return msgs
}

// UnmarshalJSON reads an event as the script prints it.
func (e *Event) UnmarshalJSON(b []byte) (err error) {
	var printed struct {
		Tick int64
		Hex  string
	}
	if err = json.Unmarshal(b, &printed); err != nil {
		return err
	}
	e.Tick = printed.Tick
	e.Data, err = hex.DecodeString(printed.Hex)
	return err
}

// python is a Python that has mido.
func python(t testing.TB) string {
	t.Helper()
	for _, name := range []string{"python3", "/usr/bin/python3"} {
		if exec.Command(name, "-c", "import mido").Run() == nil {
			return name
		}
	}
	t.Fatal("no python3 here imports mido: run scripts/install")
	return ""
}

// complaint is what a program that failed said.
func complaint(err error) []byte {
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return exit.Stderr
	}
	return nil
}
