//go:build linux

package midiio

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"slices"
	"sync"
	"testing"
	"time"
)

// The tests named TestLab… want a real ALSA sequencer with the kernel's virtual
// raw MIDI card: what is written to its device hw:0,n comes out of the
// sequencer's port, and the other way round. alsa-utils are the independent
// clients at both ends.

// labSystem is one of the drivers under test, and what is asked of it.
type labSystem struct {
	System
	driver Driver
	rounds int           // how often a device goes and comes back
	soon   time.Duration // in which a returned device is to work

	// virtual is how others see a port that bedd made for them, with its client, and
	// the name by which tools find the client.
	virtual func(way Way, name string) (port, client string)
	// own finds an open port's own end in the kernel's list.
	own func(InPort) func(clientPort) bool
	// place takes one of the sequencer's places for programs, or more.
	place func(System) (io.Closer, error)
}

// labSystems are those that this build has.
var labSystems = []labSystem{{
	driver: DriverALSA, rounds: 50, soon: 500 * time.Millisecond,
	virtual: func(_ Way, name string) (port, client string) { return "bedd:" + name, "bedd" },
	own: func(in InPort) func(clientPort) bool {
		own := in.(*seqIn).own
		return func(p clientPort) bool { return p.client == int(own.client) && p.port == int(own.port) }
	},
	place: func(System) (io.Closer, error) { return openALSA() },
}}

// onEach runs a test with every driver, where there is a sequencer to play with.
func onEach(t *testing.T, test func(t *testing.T, s labSystem)) {
	needLab(t)
	for _, s := range labSystems {
		t.Run(string(s.driver), func(t *testing.T) {
			s.System = openLab(t, s.driver)
			test(t, s)
		})
	}
}

// onALSA runs a test with the kernel's driver alone.
func onALSA(t *testing.T, test func(t *testing.T, s labSystem)) {
	needLab(t)
	s := labSystems[0]
	s.System = openLab(t, s.driver)
	test(t, s)
}

func needLab(t *testing.T) {
	t.Helper()
	if os.Getenv("LAB_ALSA") != "1" {
		t.Skip("needs a machine with an ALSA sequencer to play with: set LAB_ALSA=1 there")
	}
}

func openLab(t *testing.T, d Driver) System {
	t.Helper()
	s, err := OpenSystem(d)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// labPort finds a port of the virtual raw MIDI card.
func labPort(t *testing.T, s labSystem, way Way, n int) PortInfo {
	t.Helper()
	list, err := s.Ins()
	if way == Out {
		list, err = s.Outs()
	}
	if err != nil {
		t.Fatal(err)
	}
	p, err := Match(way, list, fmt.Sprintf("VirMIDI 0-%d", n))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// device opens a raw MIDI device of the card, the side that a cable would be on.
func device(t *testing.T, n, flag int) *os.File {
	t.Helper()
	f, err := os.OpenFile(fmt.Sprintf("/dev/snd/midiC0D%d", n), flag, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = f.Close() })
	return f
}

// play writes bytes into a device.
func play(t *testing.T, n int, msgs ...[]byte) {
	t.Helper()
	f := device(t, n, os.O_WRONLY)
	defer f.Close() // a card can't go while its devices are open
	if _, err := f.Write(slices.Concat(msgs...)); err != nil {
		t.Fatal(err)
	}
}

// recorder takes down all bytes that come out of a device.
type recorder struct {
	file  *os.File
	mu    sync.Mutex
	bytes []byte
	got   chan struct{}
}

func record(t *testing.T, n int) *recorder {
	t.Helper()
	r := &recorder{file: device(t, n, os.O_RDONLY), got: make(chan struct{}, 1)}
	go func() {
		buf := make([]byte, 4096)
		for {
			n, err := r.file.Read(buf)
			if err != nil {
				return
			}
			r.mu.Lock()
			r.bytes = append(r.bytes, buf[:n]...)
			r.mu.Unlock()
			select {
			case r.got <- struct{}{}:
			default:
			}
		}
	}()
	return r
}

func (r *recorder) all() []byte {
	r.mu.Lock()
	defer r.mu.Unlock()
	return bytes.Clone(r.bytes)
}

// wait waits until what the recorder has is enough.
func (r *recorder) wait(t *testing.T, enough func([]byte) bool, limit time.Duration) []byte {
	t.Helper()
	late := time.After(limit)
	for {
		if b := r.all(); enough(b) {
			return b
		}
		select {
		case <-r.got:
		case <-late:
			b := r.all()
			t.Fatalf("only %d bytes arrived in %v; the last are % X", len(b), limit, b[max(0, len(b)-30):])
		}
	}
}

// rig is bedd's share of a session: an input, a wire and an output.
type labRig struct {
	*Ports
	wire    *Wire
	in      *Input
	out     *Output
	changes [2]chan Change // by way
}

func clockOf(start time.Time) func() time.Duration {
	return func() time.Duration { return time.Since(start) }
}

// newLabRig plays from one port through a wire to another, with Run running.
func newLabRig(t *testing.T, s labSystem, from, to PortInfo) *labRig {
	t.Helper()
	r := &labRig{changes: [2]chan Change{make(chan Change, 64), make(chan Change, 64)}}
	clock := clockOf(time.Now())
	r.Ports = NewPorts(PortsConfig{
		System: s, Clock: clock,
		Lost: func(c Change) {
			if c.Way == Out {
				r.wire.Lost()
			}
			r.changes[c.Way] <- c
		},
		Returned: func(c Change) {
			if c.Way == Out {
				r.wire.Returned(clock())
			}
			r.changes[c.Way] <- c
		},
	})
	var err error
	if r.out, err = r.Ports.OpenOut(to); err != nil {
		t.Fatal(err)
	}
	r.wire = NewWire(WireConfig{}, outputSink{r.out})
	if r.in, err = r.Ports.OpenIn(from, func(at time.Duration, msg []byte, _ Carried) { r.wire.Player(at, msg) }); err != nil {
		t.Fatal(err)
	}
	r.Listen(true)
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); r.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		<-done
		_ = r.Close()
		if r.in.port != nil {
			_ = r.in.port.Close() // nobody plays any more
		}
	})
	return r
}

// await waits for a change and says how long it took.
func (r *labRig) await(t *testing.T, way Way, there bool, limit time.Duration) (Change, time.Duration) {
	t.Helper()
	start := time.Now()
	late := time.After(limit)
	for {
		select {
		case c := <-r.changes[way]:
			if (c.Err == nil) == there {
				return c, time.Since(start)
			}
		case <-late:
			t.Fatalf("%v: not there %v after %v", way, there, limit)
		}
	}
}

// compare tells where two byte strings part.
func compare(t *testing.T, what string, got, want []byte) {
	t.Helper()
	if bytes.Equal(got, want) {
		return
	}
	i := 0
	for i < min(len(got), len(want)) && got[i] == want[i] {
		i++
	}
	t.Fatalf("%s: %d bytes, want %d; they part at %d:\ngot  % X\nwant % X", what, len(got), len(want), i,
		got[i:min(i+24, len(got))], want[i:min(i+24, len(want))])
}

// expand writes every message with its status: the virtual card leaves out
// those that repeat. It is written apart from the cutter, for short messages.
func expand(stream []byte) []byte {
	var out []byte
	status := byte(0)
	for i := 0; i < len(stream); {
		if b := stream[i]; b >= 0xF8 {
			out = append(out, b)
			i++
			continue
		} else if b >= 0x80 {
			status = b
			i++
		}
		n := map[byte]int{0xC: 1, 0xD: 1}[status>>4]
		if n == 0 {
			n = 2
		}
		switch status {
		case 0xF3:
			n = 1
		case 0xF6:
			n = 0
		}
		if i+n > len(stream) {
			break // the rest of it is yet to come
		}
		out = append(append(out, status), stream[i:i+n]...)
		i += n
	}
	return out
}

func TestLabThruByteForByte(t *testing.T) {
	onEach(t, func(t *testing.T, s labSystem) {
		newLabRig(t, s, labPort(t, s, In, 0), labPort(t, s, Out, 1))
		rec := record(t, 1)
		keys := device(t, 0, os.O_WRONLY)
		random := rand.New(rand.NewPCG(1, 2))
		var sent []byte
		for range 60 {
			var burst []byte
			for range 50 {
				data := func() byte { return byte(random.IntN(128)) }
				status := byte(0x80 + random.IntN(0x70))
				msg := []byte{status, data(), data()}
				switch {
				case status>>4 == 0xC || status>>4 == 0xD:
					msg = msg[:2]
				case random.IntN(20) == 0:
					msg = [][]byte{{0xF2, data(), data()}, {0xF3, data()}, {0xF6}, {0xFA}, {0xFB}, {0xFC}, {0xFF}}[random.IntN(7)]
				case random.IntN(4) == 0:
					msg = []byte{0x90 | status&0x0F, data(), 0}
				}
				burst = append(burst, msg...)
			}
			sent = append(sent, burst...)
			if _, err := keys.Write(burst); err != nil {
				t.Fatal(err)
			}
			// As fast as the reader takes it: the sequencer drops what is faster.
			rec.wait(t, func(b []byte) bool { return len(expand(b)) >= len(sent) }, 5*time.Second)
		}
		compare(t, "3000 random messages", expand(rec.all()), sent)
	})
}

// What the driver filters and what it turns round when used another way.
func TestLabBytes(t *testing.T) {
	onEach(t, func(t *testing.T, s labSystem) {
		newLabRig(t, s, labPort(t, s, In, 0), labPort(t, s, Out, 1))
		rec := record(t, 1)
		long := append([]byte{0xF0, 0x7D}, bytes.Repeat([]byte{0x11}, 400)...)
		play(t, 0,
			[]byte{0x90, 60, 100, 60, 0, 0xF8, 61, 1}, // running status, velocity 0, clock
			[]byte{0xF2, 1, 2, 0xF1, 3, 0xFE, 0xF3, 5, 0xF6, 0xFA, 0xFB, 0xFC, 0xFF},
			[]byte{0xB0, 11, 64, 43, 32}, // a 14-bit pair
			[]byte{0xF0, 0x7D, 1, 0xFA, 2, 0xF7},
			long, []byte{0xFA}, long[2:], []byte{0xF7},
			[]byte{0xF0, 0x7D, 5, 0x90, 62, 1}, // SysEx cut short
		)
		want := slices.Concat(
			[]byte{0x90, 60, 100, 60, 0, 61, 1, 0xF2, 1, 2, 0xF3, 5, 0xF6, 0xFA, 0xFB, 0xFC, 0xFF},
			[]byte{0xB0, 11, 64, 43, 32}, []byte{0xFA, 0xF0, 0x7D, 1, 2, 0xF7},
			[]byte{0xFA}, long, long[2:], []byte{0xF7}, []byte{0x90, 62, 1})
		compare(t, "all kinds", rec.wait(t, func(b []byte) bool { return len(b) >= len(want) }, 5*time.Second), want)
	})
}

func TestLabSysEx(t *testing.T) {
	onEach(t, func(t *testing.T, s labSystem) {
		r := newLabRig(t, s, labPort(t, s, In, 0), labPort(t, s, Out, 1))
		rec := record(t, 1)
		keys := device(t, 0, os.O_WRONLY)
		var want []byte
		random := rand.New(rand.NewPCG(3, 4))
		for i, length := range []int{2, 31, 32, 33, 100, 255, 256, 257, 300, 512, 513, 1024, 1025, 2047, MaxSysEx} {
			msg := sysex(length)
			for i := 1; i < length-1; i++ {
				msg[i] = byte(random.IntN(128))
			}
			note := []byte{0x90, byte(i), 1}
			want = append(append(want, msg...), note...)
			if _, err := keys.Write(append(msg, note...)); err != nil {
				t.Fatal(err)
			}
			rec.wait(t, func(b []byte) bool { return len(b) >= len(want) }, 5*time.Second)
		}
		compare(t, "SysEx up to the bound, a note after each", rec.all(), want)

		for i, length := range []int{MaxSysEx + 1, 4096, 12_288, 64 << 10} {
			for chunk := range slices.Chunk(sysex(length), 1024) {
				if _, err := keys.Write(chunk); err != nil {
					t.Fatal(err)
				}
				time.Sleep(20 * time.Millisecond) // the raw device takes more than the sequencer hands on
			}
			note := []byte{0x91, byte(i), 1}
			if _, err := keys.Write(note); err != nil {
				t.Fatal(err)
			}
			want = append(want, note[:1]...) // the virtual card leaves out a status that repeats
			if i > 0 {
				want = want[:len(want)-1]
			}
			want = append(want, note[1:]...)
			compare(t, "only the note", rec.wait(t, func(b []byte) bool { return len(b) >= len(want) }, 5*time.Second), want)
			if n := r.in.TooLong(); n != uint64(i+1) {
				t.Errorf("%d SysEx counted as too long, want %d", n, i+1)
			}
		}
	})
}
