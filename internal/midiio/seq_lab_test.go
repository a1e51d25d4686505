//go:build linux

package midiio

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// stranger is another program, with as many places for events as the kernel
// gives those that don't ask for more, and a port to send to.
type stranger struct {
	*seqClient
	buf []byte
}

func newStranger(t *testing.T, name string) *stranger {
	t.Helper()
	c, err := openSeqClient(name, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(c.close)
	if err := c.createPort(0, name, seqInputUse|seqOutputUse, noQueue); err != nil {
		t.Fatal(err)
	}
	return &stranger{c, make([]byte, 11*seqEventSize)} // of short events it takes a few at once
}

func (p *stranger) port(t *testing.T, s System, way Way) PortInfo {
	t.Helper()
	list, err := s.Ins()
	if way == Out {
		list, err = s.Outs()
	}
	if err != nil {
		t.Fatal(err)
	}
	address := fmt.Sprintf("%d:0", p.id)
	for _, info := range list {
		if info.Address == address {
			return info
		}
	}
	t.Fatalf("no %s in %v", address, list)
	return PortInfo{}
}

// take gives the MIDI bytes of what arrives next.
func (p *stranger) take(t *testing.T) (got []byte) {
	t.Helper()
	for len(got) == 0 { // the kernel tells of connections as well
		read, err := p.read(p.buf)
		if err != nil {
			t.Fatal(err)
		}
		var midi [12]byte
		for e, rest, ok := splitEvent(read); ok; e, rest, ok = splitEvent(rest) {
			got = append(got, e.decode(&midi)...)
		}
	}
	return got
}

// send sends to whoever is connected, as a program does that cares for nobody.
func (p *stranger) send(msg []byte) {
	encoder := newSeqEncoder(0)
	e, _ := encoder.encode(msg)
	_ = p.write(e)
}

// running has ports looked after until the test ends.
func running(t *testing.T, cfg PortsConfig) *Ports {
	t.Helper()
	p := NewPorts(cfg)
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); p.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		<-done
		if err := p.Close(); err != nil {
			t.Error(err)
		}
	})
	return p
}

// numbered is one of 16,384 different notes.
func numbered(i int) []byte { return []byte{noteOn | byte(i>>14), byte(i >> 7 & 0x7F), byte(i & 0x7F)} }

// Bursts of 5,000 notes at once to a program that takes one in two
// milliseconds: nobody waits, none is lost, none comes before another.
func TestLabBurstToASlowReader(t *testing.T) {
	onALSA(t, func(t *testing.T, s labSystem) {
		slow := newStranger(t, "slow")
		slow.buf = slow.buf[:seqEventSize]
		ports := running(t, PortsConfig{System: s, Clock: clockOf(time.Now())})
		out, err := ports.OpenOut(slow.port(t, s, Out))
		if err != nil {
			t.Fatal(err)
		}
		const burst = 5000
		longest := time.Duration(0)
		for i := range burst {
			start := time.Now()
			out.Send(Player, numbered(i))
			longest = max(longest, time.Since(start))
		}
		for i := range burst {
			time.Sleep(2 * time.Millisecond)
			if got := slow.take(t); !bytes.Equal(got, numbered(i)) {
				t.Fatalf("note %d of %d: % X, want % X", i, burst, got, numbered(i))
			}
		}
		t.Logf("%d of %d waited, the longest send took %v", out.Delayed(), burst, longest.Round(time.Microsecond))
		if out.Delayed() < burst-200 || out.LeftOut() != 0 || out.Overruns() != 0 {
			t.Errorf("%d delayed, %d left out, %d overruns", out.Delayed(), out.LeftOut(), out.Overruns())
		}
	})
}

// An independent program that is stopped for a while gets all that it missed;
// when that is more than the backlog holds, at least the end of each note.
func TestLabBurstToAStoppedProgram(t *testing.T) {
	onALSA(t, func(t *testing.T, s labSystem) {
		cmd, h := monitor(t)
		ports := running(t, PortsConfig{System: s, Clock: clockOf(time.Now())})
		out, err := ports.OpenOut(monitorPort(t, s))
		if err != nil {
			t.Fatal(err)
		}
		stopped := func(f func()) {
			t.Helper()
			if err := cmd.Process.Signal(syscall.SIGSTOP); err != nil {
				t.Fatal(err)
			}
			f()
			if err := cmd.Process.Signal(syscall.SIGCONT); err != nil {
				t.Fatal(err)
			}
		}
		const burst = 5000
		stopped(func() {
			for i := range burst {
				out.Send(Player, control(byte(i>>14), byte(i>>7&0x3F), byte(i&0x7F)))
			}
		})
		out.Send(Player, on(15, 1, 1))
		h.listenFor(t, 30*time.Second, "Note on                15, note 1, velocity 1")
		want := 0
		for line := range strings.Lines(h.String()) {
			if !strings.Contains(line, "Control change") {
				continue
			}
			if !strings.Contains(line, fmt.Sprintf("Control change          0, controller %d, value %d\n", want>>7&0x3F, want&0x7F)) {
				t.Fatalf("message %d: %s", want, line)
			}
			want++
		}
		if want != burst {
			t.Errorf("%d of %d messages arrived", want, burst)
		}

		stopped(func() {
			for i := range 128 {
				out.Send(Player, on(3, byte(i), 1))
			}
			for range 7000 {
				out.Send(Player, on(4, 60, 1))
				out.Send(Player, off(4, 60))
			}
			for i := range 128 {
				out.Send(Player, off(3, byte(i)))
			}
		})
		if out.LeftOut() == 0 {
			t.Fatal("nothing was left out")
		}
		for i := range 128 {
			h.listenFor(t, 30*time.Second, fmt.Sprintf("Note off                3, note %d,", i))
		}
		t.Logf("%d had to wait, %d were left out, none of them an end", out.Delayed(), out.LeftOut())
	})
}

// A SysEx that is longer than all the places of its receiver, a note before and
// behind.
func TestLabLongSysExOut(t *testing.T) {
	onALSA(t, func(t *testing.T, s labSystem) {
		slow := newStranger(t, "slow")
		slow.buf = make([]byte, 2*seqEventSize+seqPiece)
		port, err := s.OpenOut(slow.port(t, s, Out))
		if err != nil {
			t.Fatal(err)
		}
		defer port.Close()
		want := append(append(on(0, 60, 1), sysex(12_288)...), off(0, 60)...)
		done := make(chan int)
		go func() {
			waits := 0
			for _, msg := range [][]byte{on(0, 60, 1), sysex(12_288), off(0, 60)} {
				for len(msg) > 0 {
					taken, err := port.Send(msg)
					msg = msg[taken:]
					if err == ErrSlow {
						waits++
						time.Sleep(time.Millisecond)
					} else if err != nil {
						t.Error(err)
						msg = nil
					}
				}
			}
			done <- waits
		}()
		var got []byte
		for len(got) < len(want) {
			time.Sleep(5 * time.Millisecond)
			got = append(got, slow.take(t)...)
		}
		compare(t, "12 kB", got, want)
		t.Logf("it had to wait %d times", <-done)
	})
}

// Closing an input, or everything, while a note comes each half millisecond.
func TestLabCloseUnderFire(t *testing.T) {
	onALSA(t, func(t *testing.T, s labSystem) {
		keys := newStranger(t, "keys")
		stop, stopped := make(chan struct{}), make(chan struct{})
		go func() {
			defer close(stopped)
			for i := 0; ; i++ {
				select {
				case <-stop:
					return
				case <-time.After(500 * time.Microsecond):
					keys.send(on(0, byte(i%128), 1))
				}
			}
		}()
		files := openFiles(t)
		for round := range 60 {
			other, err := OpenSystem(s.driver)
			if err != nil {
				t.Fatal(err)
			}
			var closed atomic.Bool
			arrived := make(chan struct{}, 1)
			in, err := other.OpenIn(keys.port(t, s, In), func(time.Duration, []byte) {
				if closed.Load() {
					t.Error("a note after the end")
				}
				select {
				case arrived <- struct{}{}:
				default:
				}
			})
			if err != nil {
				t.Fatal(err)
			}
			<-arrived
			if round%2 == 0 {
				err = in.Close()
				closed.Store(true)
				if err != nil || in.Alive() {
					t.Errorf("closed: %v, alive %v", err, in.Alive())
				}
			}
			if err := other.Close(); err != nil {
				t.Error(err)
			}
			closed.Store(true)
			if in.Alive() {
				t.Error("alive in a closed system")
			}
		}
		close(stop)
		<-stopped
		if n := openFiles(t); n != files {
			t.Errorf("%d files are open, %d before", n, files)
		}
	})
}

// What waits to be taken keeps the time at which it arrived.
func TestLabStamps(t *testing.T) {
	onALSA(t, func(t *testing.T, s labSystem) {
		start := time.Now()
		ports := running(t, PortsConfig{System: s, Clock: clockOf(start)})
		keys := newStranger(t, "keys")
		hold, held := make(chan struct{}), make(chan struct{}, 100)
		var worst time.Duration
		if _, err := ports.OpenIn(keys.port(t, s, In), func(at time.Duration, msg []byte, _ Carried) {
			if msg[1] == 0 {
				held <- struct{}{}
				<-hold
			}
		}); err != nil {
			t.Fatal(err)
		}
		ports.Listen(true)
		for round := range 20 {
			keys.send(on(0, 0, 1)) // keeps the reader busy
			<-held
			var before, after [10]time.Duration
			for i := range before {
				time.Sleep(time.Duration(round%7+1) * time.Millisecond)
				before[i] = time.Since(start)
				keys.send(on(0, byte(i+1), 1))
				after[i] = time.Since(start)
			}
			hold <- struct{}{}
			for i := -1; i < len(before); {
				m, _, ok := ports.Take()
				if !ok {
					<-ports.Wake()
					continue
				}
				if i >= 0 {
					off := max(before[i]-m.At, m.At-after[i], 0)
					worst = max(worst, off)
				}
				i++
			}
		}
		t.Logf("200 notes that waited for up to 70 ms; a stamp is %v from the time of sending, at most", worst.Round(time.Microsecond))
		if worst > 10*time.Millisecond {
			t.Errorf("a stamp is off by %v", worst)
		}
	})
}

// When nobody takes what arrives the kernel throws all of it away: the player is
// let go, and the next note is heard.
func TestLabOverrunHere(t *testing.T) {
	onALSA(t, func(t *testing.T, s labSystem) {
		changes := make(chan Change, 64)
		tell := func(c Change) { changes <- c }
		ports := running(t, PortsConfig{System: s, Clock: clockOf(time.Now()), Lost: tell, Returned: tell})
		keys := newStranger(t, "keys")
		hold, held, last := make(chan struct{}), make(chan struct{}, 1), make(chan struct{}, 1)
		if _, err := ports.OpenIn(keys.port(t, s, In), func(_ time.Duration, msg []byte, _ Carried) {
			switch msg[1] {
			case 0:
				held <- struct{}{}
				<-hold
			case 2:
				last <- struct{}{}
			}
		}); err != nil {
			t.Fatal(err)
		}
		letGo := sync.OnceFunc(func() { close(hold) })
		defer letGo()
		ports.Listen(true)
		keys.send(on(0, 0, 1))
		<-held
		for range maxPool + 1 {
			keys.send(on(0, 1, 1))
		}
		letGo()
		for _, want := range []error{ErrOverrun, nil} {
			select {
			case c := <-changes:
				if c.Way != In || c.Err != want {
					t.Errorf("%v: %v, want %v", c.Way, c.Err, want)
				}
			case <-time.After(5 * time.Second):
				t.Fatalf("it doesn't tell: %v", want)
			}
		}
		keys.send(on(0, 2, 1))
		select {
		case <-last:
		case <-time.After(5 * time.Second):
			t.Error("the next note is not heard")
		}
	})
}

// A receiver that others have filled loses what was sent to it. The kernel tells,
// and what had been ended is ended again.
func TestLabOverrunThere(t *testing.T) {
	onALSA(t, func(t *testing.T, s labSystem) {
		full := newStranger(t, "full")
		ports := running(t, PortsConfig{System: s, Clock: clockOf(time.Now())})
		out, err := ports.OpenOut(full.port(t, s, Out))
		if err != nil {
			t.Fatal(err)
		}
		out.Send(Player, on(0, 60, 1))
		out.Send(Player, off(0, 60))
		port := out.port.(*seqOut)
		port.mu.Lock()
		port.room, port.asked = 1000, port.system.clock.elapsed()+time.Hour // others were quicker than this answer
		port.askedOf = port.receiver.Load()
		port.mu.Unlock()
		for i := range 600 {
			out.Send(Player, control(0, 1, byte(i%128)))
		}
		port.mu.Lock()
		port.room = 0
		port.mu.Unlock()
		eventually(t, "the news", func() (int, bool) { return 0, out.Overruns() > 0 })
		if _, err := full.read(full.buf); err != unix.ENOSPC {
			t.Fatalf("reading says %v", err)
		}
		if got, want := full.take(t), []byte{0x80, 60, 64}; !bytes.HasPrefix(got, want) {
			t.Errorf("then comes % X, want % X", got, want)
		}
	})
}

// Of several programs on one port, one that has stopped holds up none.
func TestLabOneOfSeveralStops(t *testing.T) {
	onALSA(t, func(t *testing.T, s labSystem) {
		cmd, _ := monitor(t)
		awake := newStranger(t, "awake")
		ports := running(t, PortsConfig{System: s, Clock: clockOf(time.Now())})
		out, err := ports.VirtualOut("bedd")
		if err != nil {
			t.Fatal(err)
		}
		own := out.port.(*seqOut)
		peer, _ := parseAddr(monitorPort(t, s).Address)
		for _, to := range []seqAddr{{awake.id, 0}, peer} {
			if err := awake.connect(own.own, to); err != nil {
				t.Fatal(err)
			}
			eventually(t, "the connection", func() (int, bool) {
				return 0, (own.receiver.Load() == nobody) == (to == peer)
			})
		}
		if err := cmd.Process.Signal(syscall.SIGSTOP); err != nil {
			t.Fatal(err)
		}
		for i := range 1000 {
			out.Send(Player, numbered(i))
			if got := awake.take(t); !bytes.Equal(got, numbered(i)) {
				t.Fatalf("note %d: % X, want % X", i, got, numbered(i))
			}
		}
		if out.Delayed() != 0 {
			t.Errorf("%d were delayed", out.Delayed())
		}
	})
}

// The pools are as large as they get.
func TestLabPools(t *testing.T) {
	onALSA(t, func(t *testing.T, s labSystem) {
		if room, there := s.System.(*seqSystem).watch.room(s.System.(*seqSystem).play.id); !there || room != maxPool {
			t.Errorf("room for %d events, want %d", room, maxPool)
		}
		text, err := os.ReadFile(clientsPath)
		if err != nil {
			t.Fatal(err)
		}
		_, own, _ := strings.Cut(string(text), `: "bedd" [`)
		own, _, _ = strings.Cut(own, "\nClient ")
		if !strings.Contains(own, fmt.Sprintf("Pool size          : %d", maxPool)) {
			t.Errorf("the kernel says\n%s", own)
		}
	})
}
