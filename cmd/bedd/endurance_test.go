package main

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"testing/synctest"
	"time"

	"bedd/internal/journal"
	"bedd/internal/midiio"
	"bedd/internal/midiio/porttest"
	"bedd/internal/session"
)

// stage is bedd as it plays live, on made-up ports: keys and feet and a second
// keyboard, a synth, and a second one.
type stage struct {
	t       *testing.T
	system  *porttest.System
	in, out [2]midiio.PortInfo
	live    *liveRun
	take    *session.Take
	m       material
	state   string // where the journal is
	signals chan os.Signal
	ended   chan error

	sent  [2][][]byte // by each player, and not yet heard
	on    [16][128]bool
	notes int // the bed's
	heard int
	left  bool
}

// newStage lets bedd play; what it says goes to a file, as to a terminal if it is
// to be one.
func newStage(t *testing.T, file string, terminal bool) *stage {
	t.Helper()
	g := &stage{t: t, signals: make(chan os.Signal, 1), ended: make(chan error, 1), take: session.NewTake()}
	choice := g.plugIn()
	g.m, g.state = loaded(t, "default"), quickDir(t)
	m := &g.m
	says, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE, 0o600)
	if err != nil {
		t.Fatal(err)
	}
	broken := newMishaps()
	screen := newScreen(says, broken)
	t.Cleanup(func() { says.Close() })
	screen.terminal = terminal
	g.live = &liveRun{screen: screen, signals: g.signals, broken: broken}
	f := midiFlags{noGuard: true, baud: "auto"}
	if g.live.midi, err = f.openOn(g.system, choice, midiio.ThruOn, &m.rig, g.live.now, screen, g.live.thru, broken); err != nil {
		t.Fatal(err)
	}
	r := &room{screen: screen, take: g.take, title: m.title, moment: m.moment}
	if g.live.session, err = session.New(m.rig, m.moments, r, g.live.midi.outs...); err != nil {
		t.Fatal(err)
	}
	r.session = g.live.session
	g.live.watch = &r.watch
	g.take.Watch(r.session)
	g.live.journal.start = func(began time.Time) *journal.Writer {
		h := m.header(began)
		h.Ports = g.live.journalPorts()
		return journal.Start(journal.Options{Dir: g.state, Header: h})
	}
	go func() {
		err := g.live.play(false)
		err = errors.Join(err, g.live.endJournal(err, g.live.session.Refused()))
		g.live.midi.close(screen)
		screen.close()
		g.ended <- err
	}()
	t.Cleanup(func() { _ = g.leave() })
	synctest.Wait()
	return g
}

// quickDir is a folder on a disk in memory, where there is one: two hours have many
// seconds.
func quickDir(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("/dev/shm", "bedd-test")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	return dir
}

// replays finds out whether the journal gives what was played.
func (g *stage) replays() {
	g.t.Helper()
	path, err := journal.Find(g.state, "")
	if err != nil {
		g.t.Fatal(err)
	}
	r, err := journal.Open(path)
	if err != nil {
		g.t.Fatal(err)
	}
	defer r.Close()
	rig, moments, err := session.Recorded(r.Header())
	if err != nil {
		g.t.Fatal(err)
	}
	p, err := session.Replay(rig, moments, nil, r, nil)
	if err != nil || p.Otherwise != nil || !p.Closed {
		g.t.Fatalf("%v: %+v, closed %v", err, p.Otherwise, p.Closed)
	}
	got, want := p.Take.Sent(), g.take.Sent()
	if len(got) != len(want) || len(p.Take.Marks) != len(g.take.Marks) || len(want) == 0 {
		g.t.Fatalf("the journal gives %d messages and %d marks, want %d and %d", len(got), len(p.Take.Marks), len(want), len(g.take.Marks))
	}
	for i, m := range got {
		if m.At != want[i].At || m.From != want[i].From || !bytes.Equal(m.Data, want[i].Data) {
			g.t.Fatalf("message %d is %+v, want %+v", i, m, want[i])
		}
	}
	if info, err := os.Stat(path); err == nil {
		g.t.Logf("the journal has %d bytes", info.Size())
	}
}

// plugIn makes the ports, and takes them all.
func (g *stage) plugIn() midiio.Choice {
	g.system = new(porttest.System)
	g.system.Announce()
	for i := range g.in {
		g.in[i] = g.system.Plug(midiio.PortInfo{Way: midiio.In, Name: fmt.Sprint("keys ", i)})
		g.out[i] = g.system.Plug(midiio.PortInfo{Way: midiio.Out, Name: fmt.Sprint("synth ", i)})
	}
	choice, err := choose(g.system, midiio.Wishes{
		Ins:  []midiio.InWish{{Pattern: "keys 0", Role: midiio.AnyRole}, {Pattern: "keys 1", Role: midiio.AnyRole}},
		Outs: []midiio.OutWish{{Pattern: "synth 0", Parts: midiio.AllParts}, {Pattern: "synth 1", Parts: midiio.AllParts}},
	})
	if err != nil {
		g.t.Fatal(err)
	}
	return choice
}

// leave ends the playing, as ctrl-c does.
func (g *stage) leave() error {
	if g.left {
		return nil
	}
	g.left = true
	g.signals <- os.Interrupt
	return <-g.ended
}

// play has a player send a message that is to come through.
func (g *stage) play(who int, msg ...byte) {
	g.system.Play(g.in[who], msg...)
	g.sent[who] = append(g.sent[who], msg)
	g.listen()
}

// foot has the first player's foot send a message.
func (g *stage) foot(number, value byte) {
	g.system.Play(g.in[0], 0xB0, number, value)
	g.listen()
}

// listen takes what has come to the first synth: what the players sent, in order
// and unchanged, and strikes and ends of the bed in turn.
func (g *stage) listen() {
	for _, msg := range g.system.Sent(g.out[0]) {
		g.heard++
		ch := msg[0] & 15
		if who := map[byte]int{0: 0, 4: 1}; ch == 0 || ch == 4 {
			waiting := &g.sent[who[ch]]
			if len(*waiting) == 0 || !bytes.Equal(msg, (*waiting)[0]) {
				g.t.Fatalf("% X comes through, player %d sent % X", msg, who[ch], *waiting)
			}
			*waiting = (*waiting)[1:]
			continue
		}
		switch msg[0] & 0xF0 {
		case 0x90:
			g.notes++
			if g.on[ch][msg[1]] {
				g.t.Fatalf("% X is struck while it sounds", msg)
			}
			g.on[ch][msg[1]] = true
		case 0x80:
			if !g.on[ch][msg[1]] {
				g.t.Fatalf("% X ends and does not sound", msg)
			}
			g.on[ch][msg[1]] = false
		}
	}
	g.system.Sent(g.out[1])
}

// footing is what a long run must not make grow.
type footing struct {
	heap        uint64
	goroutines  int
	descriptors int
}

func stand() (f footing) {
	runtime.GC()
	runtime.GC() // what the first one finalised
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	open, _ := filepath.Glob("/proc/self/fd/*") // none on other systems, and none then
	return footing{m.HeapAlloc, runtime.NumGoroutine(), len(open)}
}

// Two hours of playing live, by a made-up clock: two players, feet, the pedal, a
// second synth and a second keyboard that are pulled out every ten minutes and come
// back, the keyboard with a key down. Nothing the players sent is lost or comes out
// of order, the bed's notes start and end in turn, and neither memory nor goroutines
// nor descriptors grow. Its journal gives it all again. The take's room for messages is all there from the start
// and does not count; what it keeps of each chord does.
func TestTwoHoursLive(t *testing.T) {
	before := stand()
	take := session.NewTake()
	room := stand().heap - before.heap
	runtime.KeepAlive(take)
	take = nil
	synctest.Test(t, func(t *testing.T) {
		g := newStage(t, os.DevNull, false)
		random := rand.New(rand.NewPCG(5, 12))
		var stands []footing
		start := time.Now()
		for part := range 12 {
			for time.Since(start) < time.Duration(part+1)*10*time.Minute {
				g.phrase(random)
			}
			g.comeAndGo()
			f := stand()
			f.heap -= room
			stands = append(stands, f)
		}
		if err := g.leave(); err != nil {
			t.Fatal(err)
		}
		g.listen()
		if g.on != [16][128]bool{} || g.live.session.Sounding() > 0 || len(g.sent[0])+len(g.sent[1]) > 0 {
			t.Errorf("at the end %d notes sound, % X and % X have not come through", g.live.session.Sounding(), g.sent[0], g.sent[1])
		}
		for i, in := range g.live.midi.ins {
			if in.Dropped() > 0 {
				t.Errorf("of input %d the bed missed %d messages", i, in.Dropped())
			}
		}
		least, most := stands[0], stands[0]
		for _, f := range stands {
			least = footing{min(least.heap, f.heap), min(least.goroutines, f.goroutines), min(least.descriptors, f.descriptors)}
			most = footing{max(most.heap, f.heap), max(most.goroutines, f.goroutines), max(most.descriptors, f.descriptors)}
		}
		if most.goroutines > least.goroutines || most.descriptors > least.descriptors {
			t.Errorf("heap, goroutines and descriptors every ten minutes: %v", stands)
		}
		t.Logf("%d messages heard, %d of them strikes of the bed; heap %d to %d KiB besides the take's %d, %d goroutines, %d descriptors",
			g.heard, g.notes, least.heap>>10, most.heap>>10, room>>10, least.goroutines, least.descriptors)
		if most.heap-least.heap > least.heap/10 {
			t.Errorf("the heap is not flat: %v", stands)
		}
		g.replays()
	})
}

// phrase is a few seconds of music, and a step of the foot.
func (g *stage) phrase(random *rand.Rand) {
	press := []byte{80, 80, 80, 80, 81, 82}[random.IntN(6)]
	g.foot(press, 127)
	time.Sleep(150 * time.Millisecond)
	g.foot(press, 0)
	for range 8 {
		keys := []byte{byte(40 + random.IntN(10)), byte(55 + random.IntN(10)), byte(70 + random.IntN(20))}
		for _, k := range keys {
			g.play(0, 0x90, k, byte(30+random.IntN(90)))
		}
		g.play(1, 0x94, keys[0], 60)
		for range 10 {
			time.Sleep(time.Duration(10+random.IntN(50)) * time.Millisecond)
			g.foot(11, byte(random.IntN(128)))
		}
		g.play(1, 0xE4, 0, byte(random.IntN(128)))
		for _, k := range keys {
			g.play(0, 0x80, k, 64)
		}
		g.play(1, 0x84, keys[0], 64)
	}
}

// comeAndGo pulls the second synth and the second keyboard out, and in again.
func (g *stage) comeAndGo() {
	g.play(1, 0x94, 60, 60)
	g.system.Unplug(g.out[1])
	g.system.Unplug(g.in[1])
	g.sent[1] = append(g.sent[1], []byte{0x84, 60, 64}) // bedd lets the key go
	time.Sleep(3 * time.Second)
	g.listen()
	if len(g.sent[1]) > 0 {
		g.t.Fatal("the key of the keyboard that was pulled out stays down")
	}
	g.out[1], g.in[1] = g.system.Plug(g.out[1]), g.system.Plug(g.in[1])
	time.Sleep(5 * time.Second)
	g.listen()
	for i, o := range g.live.midi.opened {
		if o.Trouble() != nil || g.live.midi.ins[i].Trouble() != nil {
			g.t.Fatalf("port %d does not come back: %v, %v", i, o.Trouble(), g.live.midi.ins[i].Trouble())
		}
	}
	g.play(1, 0x94, 60, 60)
	g.play(1, 0x84, 60, 64)
}

// However much comes in, the status line is drawn now and then only, and the last
// time when all is over.
func TestStatusLineIsDrawnNowAndThen(t *testing.T) {
	file := filepath.Join(t.TempDir(), "terminal")
	synctest.Test(t, func(t *testing.T) {
		g := newStage(t, file, true)
		drawn := func() int {
			synctest.Wait() // what is due is drawn
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			return bytes.Count(text, []byte("\r\033[K"))
		}
		time.Sleep(time.Second)
		before := drawn()
		for i := range 1000 {
			g.play(0, []byte{0x90, 0x80}[i%2], 60, 64)
			time.Sleep(time.Millisecond)
		}
		if n, most := drawn()-before, int(time.Second/statusLeast)+1; n < 5 || n > most {
			t.Errorf("a thousand messages in a second draw the status line %d times, want 5 to %d", n, most)
		}
		g.foot(80, 127)
		time.Sleep(statusLeast)
		synctest.Wait()
		if text, _ := os.ReadFile(file); !bytes.Contains(text, []byte("rising")) {
			t.Errorf("%v after a press the status line does not say so", statusLeast)
		}
	})
}
