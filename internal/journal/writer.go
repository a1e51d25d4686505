package journal

import (
	"fmt"
	"runtime"
	"sync/atomic"
	"time"

	"bedd/internal/bed"
)

// How a writer writes.
const (
	writeEvery = 250 * time.Millisecond
	syncEvery  = time.Second // at the latest, and at every chord
	tryEvery   = time.Second // after a failure
	// keptBytes is how much is kept for a disk that takes nothing; what comes later
	// is counted.
	keptBytes = 8 << 20
	// MaxBytes is the longest journal: beyond it only where the bed is is written,
	// so that it can be gone on from. Ten hours take a tenth of it.
	MaxBytes = 1 << 30
	// closeWait is how long a disk that stands still holds up the end.
	closeWait = 2 * time.Second
)

// Writer appends a session to its journal. Its methods may be called from the core
// and the inputs: they copy and go on, whatever the disk does, and are nothing for a
// nil Writer. A goroutine of its own writes.
type Writer struct {
	queue *queue
	wake  chan struct{}
	quit  chan struct{}
	done  chan struct{}
	news  chan string
	path  atomic.Pointer[string]
	lost  atomic.Bool
	paper paper // the goroutine's
	last  []byte
	alone bool // nobody writes but the caller
	spare bool // a processor was added
}

// Options say where and how a journal is written.
type Options struct {
	Dir    string
	Header Header // Version is put in
	Kept   int    // how many journals are kept there, KeptSessions if 0
	// Alone has the caller's goroutine write, which then waits for the disk: for a
	// session without a clock, which runs faster than a disk.
	Alone bool
}

// Start begins a journal in a folder, which is made if it is not there. What goes
// wrong with that is told by News, and tried again.
func Start(o Options) *Writer {
	w := newWriter(paper{
		header: o.Header,
		create: func() (disk, error) { return create(o.Dir, o.Header.Began) },
		prune: func(keep string) error {
			kept := o.Kept
			if kept == 0 {
				kept = KeptSessions
			}
			_, err := Prune(o.Dir, keep, kept, KeptBytes)
			return err
		},
	})
	if w.alone = o.Alone; !w.alone {
		w.spare = addProcessor()
		go w.write()
	}
	return w
}

// addProcessor adds one of the scheduler's processors where there is but one, and
// reports whether it did: a disk that stands still keeps one until the scheduler's
// monitor thread takes it away, up to 20 ms later, and the core would wait for that.
func addProcessor() bool {
	one := runtime.NumCPU() == 1 || runtime.GOMAXPROCS(0) == 1
	if one {
		runtime.GOMAXPROCS(runtime.GOMAXPROCS(0) + 1)
	}
	return one
}

func newWriter(p paper) *Writer {
	w := &Writer{queue: newQueue(), wake: make(chan struct{}, 1), quit: make(chan struct{}), done: make(chan struct{}),
		news: make(chan string, 16), paper: p}
	w.paper.tell = func(text string) {
		select {
		case w.news <- text:
		default: // nobody listens
		}
	}
	w.paper.failing = w.lost.Store
	w.paper.opened = func(path string) { w.path.Store(&path) }
	return w
}

// News tells what goes wrong with the journal, and what is well again.
func (w *Writer) News() <-chan string {
	if w == nil {
		return nil
	}
	return w.news
}

// Lost reports whether the journal is not being written.
func (w *Writer) Lost() bool { return w != nil && w.lost.Load() }

// Path is the journal's file, or empty while there is none.
func (w *Writer) Path() string {
	if w == nil || w.path.Load() == nil {
		return ""
	}
	return *w.path.Load()
}

// write is the writer's goroutine. Whatever fails in it, the bed goes on.
func (w *Writer) write() {
	defer close(w.done)
	defer func() {
		if p := recover(); p != nil {
			w.paper.trouble = fmt.Errorf("a fault of bedd's own: %v", p)
			w.lost.Store(true)
			w.paper.tell("the journal has ended by " + w.paper.trouble.Error() + "; the bed goes on")
		}
	}()
	began := time.Now()
	ticks := time.NewTicker(writeEvery)
	defer ticks.Stop()
	for {
		soon, last := false, false
		select {
		case <-ticks.C:
		case <-w.wake:
			soon = true
		case <-w.quit:
			soon, last = true, true
		}
		w.turn(time.Since(began), soon)
		if last {
			w.paper.close(w.last)
			return
		}
	}
}

// turn writes what has come.
func (w *Writer) turn(now time.Duration, soon bool) {
	if b := w.queue.swap(); b != nil {
		w.paper.add(b)
		w.queue.giveBack(b)
	}
	w.paper.put(now, soon)
}

// hurry has the writer write now, if that is asked for.
func (w *Writer) hurry(soon bool) {
	if !soon {
		return
	}
	if w.alone {
		w.turn(0, true)
		return
	}
	select {
	case w.wake <- struct{}{}:
	default:
	}
}

// Call takes a call of the bed's that has been carried out. Hot path: no allocation;
// O(actions).
func (w *Writer) Call(at time.Duration, e *bed.Event, actions []bed.Action, b *bed.Bed) {
	if w != nil {
		w.hurry(w.queue.call(at, e, actions, b))
	}
}

// Stands takes where the bed is, if that has changed. Hot path: no allocation; O(1).
func (w *Writer) Stands(at time.Duration, b *bed.Bed) {
	if w != nil {
		w.hurry(w.queue.stand(at, b))
	}
}

// Failed takes a call of the bed's that failed before it was carried out.
func (w *Writer) Failed(at time.Duration, e *bed.Event) {
	if w != nil {
		w.hurry(w.queue.failed(at, e))
	}
}

// Step takes a step of the core's in the ledger that is no call: Prepared, Reset,
// Rose, Finished. Hot path: no allocation; O(1).
func (w *Writer) Step(k Kind, at time.Duration) {
	if w != nil {
		w.hurry(w.queue.step(k, at))
	}
}

// Played takes a message of the player's that goes to the ledger when the core has
// taken so many steps there. Hot path: no allocation; O(bytes).
func (w *Writer) Played(at time.Duration, msg []byte, after uint64) {
	if w != nil {
		w.hurry(w.queue.played(at, msg, after))
	}
}

// Say takes a Cue or a Notice.
func (w *Writer) Say(k Kind, at time.Duration, text string) {
	w.line(at, k, func(out []byte) []byte { return said(out, "text", text) })
}

// Port says that a port, by its place in the header, was lost or is back.
func (w *Writer) Port(at time.Duration, port int, up bool) {
	w.line(at, Moved, func(out []byte) []byte { return yes(number(out, "p", int64(port)), "up", up) })
}

// Flood says how many values of a port were left out so far.
func (w *Writer) Flood(at time.Duration, port int, values uint64) {
	w.line(at, Flood, func(out []byte) []byte { return number(number(out, "p", int64(port)), "count", int64(values)) })
}

// Under says how many blocks of sound came too late so far.
func (w *Writer) Under(at time.Duration, blocks uint64) {
	w.line(at, Under, func(out []byte) []byte { return number(out, "count", int64(blocks)) })
}

// Late says how late the core was so far.
func (w *Writer) Late(at time.Duration, d Delays) {
	w.line(at, Late, func(out []byte) []byte { return written(out, "delays", d) })
}

// Busy says when an output was busiest so far.
func (w *Writer) Busy(at time.Duration, port int, l Wire) {
	w.line(at, Busy, func(out []byte) []byte { return written(number(out, "p", int64(port)), "load", l) })
}

// Task says that a task of a practice has begun or is over.
func (w *Writer) Task(at time.Duration, t Tried) {
	w.line(at, Task, func(out []byte) []byte {
		out = yes(number(out, "n", int64(t.Number)), "over", t.Over)
		if !t.Over {
			return out
		}
		return said(real(yes(out, "whole", t.Whole), "mark", t.Mark), "figure", t.Figure)
	})
}

// line takes a record that is rare.
func (w *Writer) line(at time.Duration, k Kind, add func(out []byte) []byte) {
	if w != nil {
		w.hurry(w.queue.line(at, end(add(begin(nil, at, k)))))
	}
}

// Close ends the journal: the session ended as it should, for a reason in a word,
// and so many of the player's messages were refused. A disk that stands still is
// given up after a while.
func (w *Writer) Close(at time.Duration, why string, refused uint64) error {
	return w.close(end(said(number(begin(nil, at, Closed), "refused", int64(refused)), "why", why)))
}

// Break ends the journal of a session that did not end as it should: it can be gone
// on from.
func (w *Writer) Break() error { return w.close(nil) }

func (w *Writer) close(last []byte) error {
	if w == nil {
		return nil
	}
	w.last = last
	if w.alone {
		w.turn(0, true)
		w.paper.close(w.last)
		return w.paper.failed()
	}
	if w.spare {
		defer func() { runtime.GOMAXPROCS(runtime.GOMAXPROCS(0) - 1) }()
	}
	close(w.quit)
	timer := time.NewTimer(closeWait)
	defer timer.Stop()
	select {
	case <-w.done:
		return w.paper.failed()
	case <-timer.C:
		return fmt.Errorf("the journal could not be ended: its disk takes nothing")
	}
}
