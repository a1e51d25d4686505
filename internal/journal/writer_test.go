package journal

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"pgregory.net/rapid"
)

// platter is a disk in memory that can be full, slow, broken or gone.
type platter struct {
	mu     sync.Mutex
	data   []byte
	synced int
	room   int // bytes that it takes; < 0 for any
	fault  error
	syncs  int
	broken bool // Sync fails
	gone   bool
	closed bool
	stuck  chan struct{} // Write waits for it, where it is not nil
}

func (p *platter) Write(b []byte) (int, error) {
	if p.stuck != nil {
		<-p.stuck
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	n := len(b)
	if p.room >= 0 && n > p.room {
		n = p.room
	}
	p.data = append(p.data, b[:n]...)
	if p.room >= 0 {
		p.room -= n
	}
	if n < len(b) {
		return n, p.fault
	}
	return n, nil
}

func (p *platter) Sync() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.broken {
		return syscall.EIO
	}
	p.synced, p.syncs = len(p.data), p.syncs+1
	return nil
}

func (p *platter) ReadAt(b []byte, at int64) (int, error) {
	return bytes.NewReader(p.data).ReadAt(b, at)
}
func (p *platter) Close() error { p.closed = true; return nil }
func (p *platter) Name() string { return "a.jsonl" }
func (p *platter) Gone() bool   { return p.gone }

// onPlatter makes a writer on made-up disks, without its goroutine.
func onPlatter(create func() (disk, error)) *Writer {
	return newWriter(paper{
		header: Header{Moments: []Moment{{Key: "C", Home: []string{"C"}}}, Ports: []Port{{"in", "A"}, {"out", "B"}}},
		create: create, prune: func(string) error { return nil },
	})
}

func one(p *platter) func() (disk, error) { return func() (disk, error) { return p, nil } }

// heard empties a writer's news.
func heard(w *Writer) (list []string) {
	for {
		select {
		case text := <-w.News():
			list = append(list, text)
		default:
			return list
		}
	}
}

func newBed(t testing.TB) *bed.Bed {
	t.Helper()
	c := gathering.DefaultRig().Bed
	m, err := gathering.Plain(pitch.Key{}, "1 4", "6m 2m", harmony.FromTonic)
	if err != nil {
		t.Fatal(err)
	}
	c.Moments = []bed.Moment{m}
	b, err := bed.New(c)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// ask has a bed do something that is written.
func ask(w *Writer, b *bed.Bed, at time.Duration, c bed.Command) {
	e := bed.Event{Kind: bed.Asked, Command: c}
	w.Call(at, &e, b.Handle(at, e, nil), b)
}

// What has come is on the disk a second later, and a chord at once.
func TestFlushed(t *testing.T) {
	p := &platter{room: -1}
	w, b := onPlatter(one(p)), newBed(t)
	ask(w, b, 0, bed.BringIn)
	if len(w.wake) != 1 {
		t.Fatal("a chord does not wake the writer")
	}
	<-w.wake
	w.turn(0, true)
	if p.syncs != 1 || !bytes.Contains(p.data[:p.synced], []byte(`["chord","C"]`)) {
		t.Fatalf("after a chord %d syncs, %d of %d bytes", p.syncs, p.synced, len(p.data))
	}
	for at := writeEvery; at < 10*time.Second; at += writeEvery {
		w.Played(at, []byte{0x90, 60, 64}, 0)
		if len(w.wake) != 0 {
			t.Fatal("a note wakes the writer")
		}
		w.turn(at, false)
		if unsynced := bytes.Count(p.data[p.synced:], []byte("\n")); time.Duration(unsynced)*writeEvery > syncEvery {
			t.Fatalf("at %v %d records are not on the disk", at, unsynced)
		}
	}
	if p.syncs > 11 {
		t.Errorf("%d syncs in ten seconds", p.syncs)
	}
	before := p.syncs
	for at := 10 * time.Second; at < 20*time.Second; at += writeEvery {
		w.turn(at, false)
	}
	if p.syncs > before+1 {
		t.Errorf("%d syncs while nothing came", p.syncs-before)
	}
}

// However a disk fails, in the middle of lines and again and again: once it takes
// everything, nothing is missing.
func TestNothingIsMissingAfterFaults(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := &platter{fault: syscall.ENOSPC}
		refuses := rapid.IntRange(0, 3).Draw(rt, "refuses")
		w := onPlatter(func() (disk, error) {
			if refuses--; refuses >= 0 {
				return nil, syscall.EACCES
			}
			return p, nil
		})
		now, n := time.Duration(0), 0
		for range rapid.IntRange(1, 40).Draw(rt, "turns") {
			for range rapid.IntRange(0, 20).Draw(rt, "records") {
				w.Played(time.Duration(n), []byte{0x90, byte(n % 128), 1}, uint64(n))
				n++
			}
			p.room = rapid.SampledFrom([]int{0, 1, 30, 200, -1}).Draw(rt, "room")
			p.broken = rapid.IntRange(0, 3).Draw(rt, "sync") == 0
			now += time.Duration(rapid.IntRange(1, 2000).Draw(rt, "ms")) * time.Millisecond
			w.turn(now, rapid.Bool().Draw(rt, "soon"))
		}
		p.room, p.broken, refuses = -1, false, 0
		w.last = []byte("{\"t\":0,\"k\":\"closed\"}\n")
		w.turn(now+time.Minute, true)
		w.paper.close(w.last)
		list, r := readAll(t, p.data)
		if len(list) != n+1 || r.Torn() != 0 || w.Lost() || w.paper.failed() != nil {
			rt.Fatalf("%d records of %d, %d bytes torn, lost %v, %v", len(list), n+1, r.Torn(), w.Lost(), w.paper.failed())
		}
		for i, rec := range list[:n] {
			if rec.After != uint64(i) {
				rt.Fatalf("record %d is %d", i, rec.After)
			}
		}
	})
}

// A full disk is told once, and that all is well again.
func TestFullDiskIsTold(t *testing.T) {
	p := &platter{room: 300, fault: syscall.ENOSPC}
	w := onPlatter(one(p))
	for at := time.Duration(0); at < 20*time.Second; at += writeEvery {
		w.Played(at, []byte{0x90, 60, 64}, 0)
		w.turn(at, false)
		if at == 10*time.Second {
			if !w.Lost() {
				t.Error("it is not lost")
			}
			p.room = -1
		}
	}
	want := []string{"the journal is not being written: the disk is full; the bed goes on", "the journal is being written again, nothing is missing"}
	if got := heard(w); fmt.Sprint(got) != fmt.Sprint(want) || w.Lost() {
		t.Errorf("told %q, want %q; lost %v", got, want, w.Lost())
	}
}

// What a disk does not take for long is counted, where it is missing, and the state
// stands after it.
func TestLongFaultLeavesAGap(t *testing.T) {
	p := &platter{room: 0, fault: syscall.ENOSPC}
	w, b := onPlatter(one(p)), newBed(t)
	long := bytes.Repeat([]byte{0x90, 1, 1}, 600)
	n := 0
	for ; len(w.paper.out) <= keptBytes; n++ {
		w.Played(time.Duration(n), long, uint64(n))
		w.turn(time.Duration(n), false)
	}
	kept := n
	for range 10 {
		w.Played(time.Duration(n), long, uint64(n))
		n++
	}
	ask(w, b, time.Duration(n), bed.BringIn)
	w.Say(Notice, time.Duration(n), "lost")
	w.turn(time.Duration(n), false)
	lost := b.State()
	p.room = -1
	w.turn(time.Hour, true)
	w.turn(time.Hour+writeEvery, false)
	if list, _ := readAll(t, p.data); len(list) != kept+2 || list[kept+1].Kind != Stands || *list[kept+1].State != lost {
		t.Errorf("at rest after the fault %d records stand, want %d, the last where the bed is", len(list), kept+2)
	}
	ask(w, b, time.Minute, bed.Next)
	w.turn(time.Hour+time.Minute, true)
	list, _ := readAll(t, p.data)
	gap := list[kept]
	if gap.Kind != Gap || gap.Lost.Thru != 10 || gap.Lost.Calls != 1 || gap.Lost.Other != 2 || gap.At != time.Duration(kept) {
		t.Fatalf("record %d is %+v %+v", kept, gap, gap.Lost)
	}
	if rest := list[kept+2:]; len(rest) != 2 || rest[0].Kind != Called || rest[1].Kind != Stands {
		t.Errorf("after the state stand %d records", len(rest))
	}
	if got := heard(w); len(got) != 2 || got[1] != "the journal is being written again, with a gap" {
		t.Errorf("told %q", got)
	}
}

// A disk that takes forever holds up nobody: who has something to write goes on,
// what there is no room for is counted, and the end comes after two seconds.
func TestStuckDiskHoldsUpNobody(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := &platter{room: -1, stuck: make(chan struct{})}
		w, b := onPlatter(one(p)), newBed(t)
		go w.write()
		const many = 5 * roomRecords
		for i := range many {
			w.Played(time.Duration(i), []byte{0x90, 60, 64}, 0)
		}
		ask(w, b, many, bed.BringIn)
		time.Sleep(time.Second)
		for i := range many {
			w.Played(time.Duration(many+i), []byte{0x90, 60, 64}, 0)
		}
		began := time.Now()
		if err := w.Close(2*many, "asked", 0); err == nil || !strings.Contains(err.Error(), "its disk takes nothing") {
			t.Errorf("closing: %v", err)
		}
		if waited := time.Since(began); waited != closeWait {
			t.Errorf("closing took %v, want %v", waited, closeWait)
		}
		close(p.stuck)
		<-w.done
		list, _ := readAll(t, p.data)
		written, lost := 0, uint64(0)
		for _, rec := range list {
			switch rec.Kind {
			case Played:
				written++
			case Gap:
				lost += rec.Lost.Thru
			}
		}
		if written+int(lost) != 2*many || lost == 0 {
			t.Errorf("%d written and %d lost, want %d", written, lost, 2*many)
		}
		if list[len(list)-1].Kind != Closed {
			t.Errorf("the last record is %q", list[len(list)-1].Kind)
		}
	})
}

// Where there is one processor the writer has another, for as long as it writes.
func TestProcessorForTheDisk(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	w := Start(Options{Dir: t.TempDir(), Header: Header{Began: evening, Moments: []Moment{{Key: "C", Home: []string{"C"}}}}})
	if n := runtime.GOMAXPROCS(0); n != 2 {
		t.Errorf("%d processors while it writes, want 2", n)
	}
	if err := w.Close(0, "asked", 0); err != nil {
		t.Fatal(err)
	}
	if n := runtime.GOMAXPROCS(0); n != 1 {
		t.Errorf("%d processors afterwards, want 1", n)
	}
}

// A fault of the writer's own ends the journal, not the run.
func TestFaultOfTheWritersOwn(t *testing.T) {
	w := onPlatter(func() (disk, error) { panic("no such thing") })
	go w.write()
	w.Step(Prepared, 0)
	w.hurry(true)
	<-w.done
	if got := heard(w); len(got) != 1 || got[0] != "the journal has ended by a fault of bedd's own: no such thing; the bed goes on" || !w.Lost() {
		t.Errorf("told %q, lost %v", got, w.Lost())
	}
	w.Step(Finished, 1)
	if err := w.Close(2, "asked", 0); err == nil {
		t.Error("closing tells of nothing")
	}
}

// A file that is moved away is written anew, whole.
func TestMovedFileIsWrittenAnew(t *testing.T) {
	first, second := &platter{room: -1}, &platter{room: -1}
	next := []*platter{first, second}
	w := onPlatter(func() (disk, error) {
		p := next[0]
		next = next[1:]
		return p, nil
	})
	w.Step(Prepared, 1)
	w.turn(0, true)
	first.gone = true
	w.turn(syncEvery, false) // also while nothing comes
	if second.synced == 0 {
		t.Error("it waits for something to write")
	}
	w.Step(Rose, 2)
	w.turn(2*syncEvery, false)
	list, _ := readAll(t, second.data)
	if len(list) != 2 || list[0].Kind != Prepared || list[1].Kind != Rose || !first.closed {
		t.Errorf("%+v, the first is closed: %v", list, first.closed)
	}
	if got := heard(w); len(got) != 1 || got[0] != "the journal had been moved away: it goes on in a.jsonl" {
		t.Errorf("told %q", got)
	}
}

// Beyond its length a journal only keeps where the bed is.
func TestLongestJournal(t *testing.T) {
	p := &platter{room: -1}
	w, b := onPlatter(one(p)), newBed(t)
	w.Step(Prepared, 0)
	w.turn(0, true)
	w.paper.written = MaxBytes // as if
	w.Step(Prepared, 1)
	w.turn(1, true)
	for i := range 100 {
		at := time.Duration(i) * time.Second
		ask(w, b, at, bed.Step)
		w.turn(at, true)
	}
	w.last = []byte("{\"t\":0,\"k\":\"closed\"}\n")
	w.paper.close(w.last)
	list, _ := readAll(t, p.data)
	counts := map[Kind]int{}
	for _, rec := range list {
		counts[rec.Kind]++
	}
	if counts[Called] != 0 || counts[Stands] != 100 || counts[Gap] != 1 || list[len(list)-1].Kind != Closed {
		t.Errorf("%v", counts)
	}
	if got := heard(w); len(got) != 1 || !strings.HasPrefix(got[0], "the journal is as long as it may be") {
		t.Errorf("told %q", got)
	}
}

// Nothing is written where no journal is kept.
func TestNoWriter(t *testing.T) {
	var w *Writer
	e := bed.Event{}
	w.Call(0, &e, nil, nil)
	w.Step(Prepared, 0)
	w.Played(0, nil, 0)
	w.Say(Cue, 0, "")
	w.Port(0, 0, true)
	if w.News() != nil || w.Path() != "" || w.Lost() || w.Close(0, "", 0) != nil || w.Break() != nil {
		t.Error("a writer that is none says something")
	}
}

// Many hands at once: every record stands once, whole, and each hand's in order.
func TestManyHands(t *testing.T) {
	p := &platter{room: -1}
	w := onPlatter(one(p))
	go w.write()
	const hands, each = 4, 2000
	var players sync.WaitGroup
	for h := range hands {
		players.Go(func() {
			for i := range each {
				w.Played(time.Duration(i), []byte{0x90, byte(h), 1}, uint64(i))
				if rand.IntN(100) == 0 {
					w.hurry(true)
				}
			}
		})
	}
	players.Wait()
	if err := w.Close(each, "asked", 0); err != nil {
		t.Fatal(err)
	}
	list, _ := readAll(t, p.data)
	next := [hands]uint64{}
	for _, rec := range list {
		if rec.Kind != Played {
			continue
		}
		if h := rec.Message[1]; rec.After != next[h] {
			t.Fatalf("hand %d: %d follows %d", h, rec.After, next[h])
		} else {
			next[h]++
		}
	}
	if next != [hands]uint64{each, each, each, each} {
		t.Errorf("%v", next)
	}
}

// Taking a record allocates nothing, whatever it is.
func TestTakingAllocatesNothing(t *testing.T) {
	q, b := newQueue(), newBed(t)
	at, msg := time.Duration(0), []byte{0x90, 60, 64}
	var actions []bed.Action
	round := func() {
		for _, c := range []bed.Command{bed.Step, bed.LevelUp, bed.Swap, bed.LevelDown} {
			at += 300 * time.Millisecond
			e := bed.Event{Kind: bed.Asked, Command: c}
			actions = b.Handle(at, e, actions[:0])
			q.call(at, &e, actions, b)
			q.played(at, msg, 3)
			q.step(Rose, at)
		}
		q.giveBack(q.swap())
	}
	for range 20 {
		round()
	}
	if n := testing.AllocsPerRun(100, round); n != 0 {
		t.Errorf("%v allocations, want 0", n)
	}
}

// What taking a call costs the core, and a message an input.
func BenchmarkCall(b *testing.B) {
	q, one := newQueue(), newBed(b)
	e := bed.Event{Kind: bed.Asked, Command: bed.BringIn}
	actions := one.Handle(0, e, nil)
	tick := bed.Event{}
	b.ReportAllocs()
	for b.Loop() {
		if q.call(1, &tick, actions[:1], one) {
			q.giveBack(q.swap())
		}
	}
}

func BenchmarkPlayed(b *testing.B) {
	q, msg := newQueue(), []byte{0x90, 60, 64}
	b.ReportAllocs()
	for b.Loop() {
		if q.played(1, msg, 1) {
			q.giveBack(q.swap())
		}
	}
}
