package midiio

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// cut is what a cutter makes of pieces, in hexadecimal.
func cut(pieces ...[]byte) (list []string, c *cutter) {
	c = &cutter{emit: func(msg []byte) { list = append(list, fmt.Sprintf("%X", msg)) }}
	for _, p := range pieces {
		c.write(p)
	}
	return list, c
}

func sysex(length int) []byte {
	msg := bytes.Repeat([]byte{0x55}, length)
	msg[0], msg[length-1] = 0xF0, 0xF7
	return msg
}

// Sources: MIDI 1.0 Detailed Specification 4.2, as three independent copies give it
// of its advice on running status, and the rule that real-time bytes may stand
// between any two others; the policy on clock, time code and sensing is ours.
var cutTable = []struct {
	name   string
	bytes  []byte
	want   string
	broken uint64
}{
	{"a note", []byte{0x90, 60, 100}, "903C64", 0},
	{"velocity 0 stays", []byte{0x90, 60, 0}, "903C00", 0},
	{"running status", []byte{0x90, 60, 100, 60, 0, 62, 1}, "903C64 903C00 903E01", 0},
	{"running status of one byte", []byte{0xC0, 1, 2}, "C001 C002", 0},
	{"real time inside a note", []byte{0x90, 60, 0xFA, 64}, "FA 903C40", 0},
	{"clock inside a note", []byte{0x90, 60, 0xF8, 64}, "903C40", 0},
	{"real time leaves running status", []byte{0x90, 60, 1, 0xFB, 61, 1}, "903C01 FB 903D01", 0},
	{"system common ends running status", []byte{0x90, 60, 1, 0xF6, 61, 1}, "903C01 F6", 0},
	{"data with nothing before", []byte{1, 2, 0x90, 60, 1}, "903C01", 0},
	{"song position in order", []byte{0xF2, 1, 2}, "F20102", 0},
	{"song select", []byte{0xF3, 5}, "F305", 0},
	{"time code is left out", []byte{0xF1, 5, 0xF6}, "F6", 0},
	{"undefined", []byte{0xF4, 1, 0xF5, 0xF9, 0xFD, 0xF6}, "F6", 0},
	{"start, continue, stop, reset", []byte{0xFA, 0xFB, 0xFC, 0xFF}, "FA FB FC FF", 0},
	{"clock and sensing are left out", []byte{0xF8, 0xFE, 0xFC}, "FC", 0},
	{"SysEx", []byte{0xF0, 0x7D, 1, 0xF7}, "F07D01F7", 0},
	{"SysEx with sensing inside", []byte{0xF0, 1, 0xFE, 2, 0xF7}, "F00102F7", 0},
	{"SysEx with a start inside", []byte{0xF0, 1, 0xFA, 2, 0xF7}, "FA F00102F7", 0},
	{"SysEx cut short by a note", []byte{0xF0, 1, 2, 0x90, 60, 1}, "903C01", 1},
	{"SysEx cut short by another", []byte{0xF0, 1, 0xF0, 2, 0xF7}, "F002F7", 1},
	{"a note cut short", []byte{0x90, 60, 0x91, 61, 1}, "913D01", 1},
	{"a lone end of SysEx", []byte{0x90, 60, 1, 0xF7, 61, 1}, "903C01", 0},
	{"an empty SysEx", []byte{0xF0, 0xF7}, "F0F7", 0},
	{"the longest SysEx", sysex(MaxSysEx), fmt.Sprintf("%X", sysex(MaxSysEx)), 0},
}

func TestCutter(t *testing.T) {
	for _, c := range cutTable {
		t.Run(c.name, func(t *testing.T) {
			// The same bytes whole, one by one and in two pieces at every place.
			pieces := [][][]byte{{c.bytes}, slices.Collect(slices.Chunk(c.bytes, 1))}
			for i := 1; i < min(len(c.bytes), 20); i++ {
				pieces = append(pieces, [][]byte{c.bytes[:i], c.bytes[i:]})
			}
			for _, p := range pieces {
				list, cutter := cut(p...)
				if got := strings.Join(list, " "); got != c.want {
					t.Errorf("in %d pieces: got %s, want %s", len(p), got, c.want)
				}
				if cutter.broken != c.broken || cutter.long != 0 {
					t.Errorf("in %d pieces: %d broken and %d too long, want %d and 0", len(p), cutter.broken, cutter.long, c.broken)
				}
			}
		})
	}
}

func TestCutterLeavesOutLongSysEx(t *testing.T) {
	for _, length := range []int{MaxSysEx + 1, MaxSysEx + 2, 12_288, 1 << 20} {
		for _, piece := range []int{1, 256, length} {
			var list []string
			c := &cutter{emit: func(msg []byte) { list = append(list, fmt.Sprintf("%X", msg)) }}
			for p := range slices.Chunk(sysex(length), piece) {
				c.write(p)
			}
			c.write(on(0, 60, 100))
			if got := strings.Join(list, " "); got != "903C64" || c.long != 1 || c.broken != 0 {
				t.Errorf("%d bytes in pieces of %d: got %s, %d too long, %d broken; want the note, 1 and 0", length, piece, got, c.long, c.broken)
			}
		}
	}
}

// Whatever comes in, what comes out is whole, and in pieces it is the same.
func FuzzCutter(f *testing.F) {
	for _, c := range cutTable {
		f.Add(c.bytes, uint(3))
	}
	f.Fuzz(func(t *testing.T, data []byte, at uint) {
		inOne, _ := cut(data)
		i := int(at % uint(len(data)+1))
		inTwo, _ := cut(data[:i], data[i:])
		if !slices.Equal(inOne, inTwo) {
			t.Errorf("in one piece %v, in two at %d %v", inOne, i, inTwo)
		}
		single, _ := cut(slices.Collect(slices.Chunk(data, 1))...)
		if !slices.Equal(inOne, single) {
			t.Errorf("in one piece %v, byte by byte %v", inOne, single)
		}
		for _, text := range inOne {
			if msg := unhex(t, text); !whole(msg) || len(msg) > MaxSysEx || leftOut(msg[0]) {
				t.Errorf("%s came out", text)
			}
		}
	})
}

// Whole messages one after the other come out as they are, with and without
// running status.
func TestCutterKeepsWholeMessages(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var stream []byte
		var want []string
		running := byte(0)
		for _, msg := range rapid.SliceOf(rapid.Custom(drawWireMessage)).Draw(t, "messages") {
			want = append(want, fmt.Sprintf("%X", msg))
			if msg[0] == running && rapid.Bool().Draw(t, "running status") {
				msg = msg[1:]
			} else if msg[0] < 0xF0 {
				running = msg[0]
			} else if msg[0] < 0xF8 {
				running = 0
			}
			stream = append(stream, msg...)
		}
		got, _ := cut(stream)
		if !slices.Equal(got, want) {
			t.Fatalf("got %v, want %v", got, want)
		}
	})
}

func drawWireMessage(t *rapid.T) []byte {
	status := byte(rapid.IntRange(0x80, 0xFF).Filter(func(b int) bool {
		return !leftOut(byte(b)) && b != 0xF4 && b != 0xF5 && b != 0xF7
	}).Draw(t, "status"))
	n := dataBytes(status)
	if status == sysexStart {
		data := rapid.SliceOfN(rapid.ByteRange(0, 127), 0, 20).Draw(t, "data")
		return append(append([]byte{status}, data...), sysexEnd)
	}
	return append([]byte{status}, rapid.SliceOfN(rapid.ByteRange(0, 127), n, n).Draw(t, "data")...)
}

func TestCutterDoesNotAllocate(t *testing.T) {
	c := &cutter{emit: func([]byte) {}}
	whole, pieces := []byte{0x90, 60, 100}, []byte{0xF0, 1, 2, 0xFA, 3, 0xF7, 0x90, 60, 1, 61, 1}
	if n := testing.AllocsPerRun(1000, func() { c.write(whole); c.write(pieces) }); n != 0 {
		t.Errorf("cutting allocates %v times, want 0", n)
	}
}
