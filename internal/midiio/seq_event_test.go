//go:build linux

package midiio

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// event makes an event by hand, apart from the encoder.
func event(kind byte, data ...byte) []byte {
	e := make([]byte, seqEventSize)
	e[0] = kind
	copy(e[16:], data)
	return e
}

// control makes the data of an event with a channel, a parameter and a value.
func controlData(channel byte, param uint32, value int32) []byte {
	d := make([]byte, 12)
	d[0] = channel
	binary.NativeEndian.PutUint32(d[4:], param)
	binary.NativeEndian.PutUint32(d[8:], uint32(value))
	return d
}

// Messages and the events that they are, both ways: kinds and fields by the
// kernel's public header, values by the MIDI 1.0 Detailed Specification: a bend's
// centre is 00 40, a 14-bit value's low seven bits go first in a bend and a song
// position.
var seqPairs = []struct {
	midi  []byte
	event []byte
}{
	{[]byte{0x90, 60, 100}, event(6, 0, 60, 100)},
	{[]byte{0x9F, 127, 0}, event(6, 15, 127, 0)}, // a note-off in its form as a note-on stays one
	{[]byte{0x83, 0, 64}, event(7, 3, 0, 64)},
	{[]byte{0xA1, 60, 33}, event(8, 1, 60, 33)},
	{[]byte{0xB2, 64, 127}, event(10, controlData(2, 64, 127)...)},
	{[]byte{0xB0, 11, 64}, event(10, controlData(0, 11, 64)...)},
	{[]byte{0xB0, 43, 32}, event(10, controlData(0, 43, 32)...)}, // the low half of a 14-bit pair
	{[]byte{0xBF, 123, 0}, event(10, controlData(15, 123, 0)...)},
	{[]byte{0xC4, 89}, event(11, controlData(4, 0, 89)...)},
	{[]byte{0xD5, 127}, event(12, controlData(5, 0, 127)...)},
	{[]byte{0xE0, 0, 0x40}, event(13, controlData(0, 0, 0)...)},
	{[]byte{0xE0, 0, 0}, event(13, controlData(0, 0, -8192)...)},
	{[]byte{0xEF, 0x7F, 0x7F}, event(13, controlData(15, 0, 8191)...)},
	{[]byte{0xE0, 1, 0x40}, event(13, controlData(0, 0, 1)...)},
	{[]byte{0xF1, 0x35}, event(22, controlData(0, 0, 0x35)...)},
	{[]byte{0xF2, 1, 2}, event(20, controlData(0, 0, 257)...)},
	{[]byte{0xF2, 0x7F, 0x7F}, event(20, controlData(0, 0, 16383)...)},
	{[]byte{0xF3, 5}, event(21, controlData(0, 0, 5)...)},
	{[]byte{0xF6}, event(40)},
	{[]byte{0xF8}, event(36)},
	{[]byte{0xFA}, event(30)},
	{[]byte{0xFB}, event(31)},
	{[]byte{0xFC}, event(32)},
	{[]byte{0xFE}, event(42)},
	{[]byte{0xFF}, event(41)},
}

// addressed is an event of the tables as the encoder of port 9 sends it: to
// whoever is connected, at once.
func addressed(e []byte) []byte {
	e = bytes.Clone(e)
	e[3], e[13], e[14] = 253, 9, 254
	return e
}

func TestSeqEncodeAndDecode(t *testing.T) {
	for _, c := range seqPairs {
		encoder := newSeqEncoder(9)
		_, _ = encoder.encode([]byte{0xE7, 0x11, 0x22}) // leaves nothing behind
		got, taken := encoder.encode(c.midi)
		if want := addressed(c.event); !bytes.Equal(got, want) || taken != len(c.midi) {
			t.Errorf("% X: event % X, %d bytes taken; want % X, all", c.midi, got, taken, want)
		}
		e, rest, ok := splitEvent(c.event)
		var buf [12]byte
		if midi := e.decode(&buf); !ok || len(rest) != 0 || !bytes.Equal(midi, c.midi) {
			t.Errorf("% X: % X, want % X", c.event, midi, c.midi)
		}
	}
}

// What others send that stands for several messages, or is out of range. Orders
// of the controllers by the same specification: a registered parameter is chosen
// by 101 and 100, one that isn't by 99 and 98, then data entry 6 and 38.
func TestSeqDecodesWhatOthersSend(t *testing.T) {
	for _, c := range []struct {
		event []byte
		want  string
	}{
		{event(14, controlData(0, 11, 8192)...), "B00B40B02B00"},
		{event(14, controlData(3, 31, 16383)...), "B31F7FB33F7F"},
		{event(14, controlData(3, 64, 100)...), "B34064"},
		{event(14, controlData(0, 128, 1)...), ""},
		{event(15, controlData(1, 300, 257)...), "B16302B1622CB10602B12601"},
		{event(16, controlData(1, 0, 8192)...), "B16500B16400B10640B12600"},
		{event(16, controlData(1, 16384, 0)...), ""},
		{event(10, controlData(0, 7, 128)...), "B0077F"},
		{event(10, controlData(0, 7, -1)...), "B00700"},
		{event(10, controlData(0, 200, 1)...), ""},
		{event(10, controlData(16, 7, 1)...), ""},
		{event(13, controlData(0, 0, 9000)...), "E07F7F"},
		{event(13, controlData(0, 0, -2147483648)...), "E00000"},
		{event(6, 0, 128, 1), ""},
		{event(6, 0, 60, 200), "903C7F"},
		{event(6, 200, 60, 1), ""},
		{event(5, 0, 60, 100), ""}, // a note with a length, which the kernel delivers to nobody
		{event(37), ""},            // a tick, no MIDI message
		{event(60, 20, 0), ""},
		{event(255), ""},
	} {
		e, _, ok := splitEvent(c.event)
		var buf [12]byte
		if got := fmt.Sprintf("%X", e.decode(&buf)); !ok || got != c.want {
			t.Errorf("% X: %s, want %s", c.event, got, c.want)
		}
	}
}

func TestSeqEncoderRefuses(t *testing.T) {
	encoder := newSeqEncoder(9)
	for _, msg := range [][]byte{nil, {}, {0x90}, {0x90, 60}, {0xC0}, {0xF2, 1}, {0xF4}, {0xF5}, {0xF9}, {0xFD}, {0x90, 200, 1}, {0xC0, 0x80}} {
		if got, taken := encoder.encode(msg); got != nil || taken != 0 {
			t.Errorf("% X: event % X, %d bytes taken", msg, got, taken)
		}
	}
}

// A SysEx of any length goes out in pieces and comes in the same, and what
// follows in a read is found behind the filling.
func TestSeqSysExInPieces(t *testing.T) {
	for _, length := range []int{2, 27, 28, 29, 255, 256, 257, 511, 512, 513, 2048, 12_288, 100_000} {
		msg := sysex(length)
		encoder := newSeqEncoder(9)
		var read, cells []byte
		for rest := msg; len(rest) > 0; {
			e, taken := encoder.encode(rest)
			if taken == 0 || len(e) > seqEventSize+seqPiece {
				t.Fatalf("length %d: %d bytes taken for an event of %d", length, taken, len(e))
			}
			if got, want := seqCells(e), 1+(taken+27)/28; got != want {
				t.Errorf("%d bytes take %d places, want %d", taken, got, want)
			}
			cells = append(cells, byte(seqCells(e)))
			read = append(read, e...)
			read = append(read, make([]byte, (28-len(e)%28)%28)...) // as the kernel fills it up
			rest = rest[taken:]
		}
		read = append(read, event(42)...)
		var got []byte
		var buf [12]byte
		for e, rest, ok := splitEvent(read); ok; e, rest, ok = splitEvent(rest) {
			got = append(got, e.decode(&buf)...)
		}
		if want := append(msg, 0xFE); !bytes.Equal(got, want) {
			t.Errorf("length %d: %d bytes arrive", length, len(got))
		}
		if max := slices.Max(cells); max > 11 {
			t.Errorf("a piece takes %d places", max)
		}
	}
}

func TestSeqStamp(t *testing.T) {
	b := event(6, 0, 60, 1)
	binary.NativeEndian.PutUint32(b[4:], 3)
	binary.NativeEndian.PutUint32(b[8:], 250_000_000)
	b[1], b[3] = 1, 7
	e, _, _ := splitEvent(b)
	if at, ok := e.stamp(7); at != 3250*time.Millisecond || !ok {
		t.Errorf("stamp %v, %v", at, ok)
	}
	if _, ok := e.stamp(8); ok {
		t.Error("it takes another queue's stamp")
	}
	b[1] = 0
	if _, ok := e.stamp(7); ok {
		t.Error("it takes ticks for time")
	}
}

// Whatever message there is, it comes back as it was.
func TestSeqRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		msg := rapid.SliceOfN(rapid.Byte(), 1, 700).Draw(t, "message")
		msg[0] |= 0x80
		if n := dataBytes(msg[0]); n >= 0 {
			msg = append(msg[:1], rapid.SliceOfN(rapid.ByteMax(127), n, n).Draw(t, "data")...)
		}
		encoder := newSeqEncoder(9)
		var got []byte
		var buf [12]byte
		for rest := msg; len(rest) > 0; {
			b, taken := encoder.encode(rest)
			if taken == 0 {
				if slices.Contains([]byte{0xF4, 0xF5, 0xF9, 0xFD}, msg[0]) || msg[0] < sysexStart {
					return // undefined, or no whole message at its start
				}
				if msg[0] != sysexStart && msg[0] != sysexEnd {
					t.Fatalf("% X is refused", msg)
				}
				return // another message inside
			}
			e, _, ok := splitEvent(b)
			if !ok {
				t.Fatalf("% X is not an event", b)
			}
			got = append(got, e.decode(&buf)...)
			rest = rest[taken:]
		}
		if !bytes.Equal(got, msg) {
			t.Fatalf("got % X, want % X", got, msg)
		}
	})
}

// Any bytes as a read's result: nothing breaks, what comes out is made of whole
// messages but for SysEx, and nothing is read twice.
func FuzzSplitEvent(f *testing.F) {
	for _, c := range seqPairs {
		f.Add(slices.Concat(c.event, c.event))
	}
	long := event(130)
	long[1] = seqLengthVariable
	binary.NativeEndian.PutUint32(long[16:], 3)
	f.Add(append(bytes.Clone(long), 0xF0, 1, 0xF7))
	f.Add(append(bytes.Clone(long), 0xF0))
	binary.NativeEndian.PutUint32(long[16:], 0xFFFF_FFFF)
	f.Add(append(bytes.Clone(long), 0xF0, 1, 0xF7))
	f.Add(long[:20])
	f.Fuzz(func(t *testing.T, read []byte) {
		total := 0
		for rest := read; ; {
			e, next, ok := splitEvent(rest)
			if !ok {
				break
			}
			if len(next) >= len(rest) {
				t.Fatal("it stands still")
			}
			total += len(e.head) + len(e.data)
			rest = next
			var buf [12]byte
			midi := e.decode(&buf)
			_, _ = e.about(), e.errno()
			if e.kind() == seqSysEx {
				continue
			}
			for len(midi) > 0 {
				n := 1 + dataBytes(midi[0])
				if n < 1 || n > len(midi) || !whole(midi[:n]) {
					t.Fatalf("% X gives % X", e.head, midi)
				}
				midi = midi[n:]
			}
		}
		if total > len(read) {
			t.Fatalf("%d bytes of %d", total, len(read))
		}
	})
}
