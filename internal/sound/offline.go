package sound

import (
	"fmt"
	"sync"
	"sync/atomic"
)

// Event is a channel message at a time, in frames from the start of a
// rendering.
type Event struct {
	Frame                int64
	Status, Data1, Data2 byte
}

// RenderTo renders events, ordered by Frame, and tail frames after the last
// one, and hands the sound to sink in blocks of interleaved stereo. The
// block is used again after sink returns. progress, which may be nil, is
// told the frames done and the total. Both are called on another goroutine, one
// at a time.
//
// It takes all cores: channels sound side by side, and while they do the
// effects and the sink work on what was before. The sound is that of Render, to
// the bit, on any number of cores.
//
// An event out of order, or an error of sink, ends the rendering with that
// error.
func (s *Synth) RenderTo(events []Event, tail int64, sink func([]float32) error, progress func(done, total int64)) error {
	line := newLine(s, sink, telling(progress, length(events, tail)))
	disorder := walk(s, events, tail, func(frames int) bool {
		line.sound(frames)
		return !line.failed.Load()
	})
	if err := line.end(); err != nil {
		return err
	}
	return disorder
}

// length gives the frames of events and tail.
func length(events []Event, tail int64) int64 {
	total := max(tail, 0)
	if n := len(events); n > 0 {
		total += events[n-1].Frame
	}
	return total
}

// telling gives a function that tells progress, which may be nil, the frames
// done.
func telling(progress func(done, total int64), total int64) func(done int64) {
	return func(done int64) {
		if progress != nil {
			progress(done, total)
		}
	}
}

// walk sends events in order and has the frames between them, and the tail,
// rendered in batches, until render says that it is of no more use.
func walk(to Instrument, events []Event, tail int64, render func(frames int) (more bool)) error {
	now, more := int64(0), true
	until := func(end int64) {
		for now < end && more {
			n := min(end-now, batch)
			more = render(int(n))
			now += n
		}
	}
	for i, e := range events {
		if e.Frame < now {
			return fmt.Errorf("event %d is at frame %d, before frame %d: events must be in order of time", i, e.Frame, now)
		}
		if until(e.Frame); !more {
			return nil
		}
		to.Send(e.Status, e.Data1, e.Data2)
	}
	until(length(events, tail))
	return nil
}

// lineLength is how many passages may be on their way, so that one that takes
// longer does not hold up the others at once.
const lineLength = 6

// line carries passages from the voices through the effects to a sink, three
// goroutines that each keep the order.
type line struct {
	synth    *Synth
	free     chan *portion
	sounded  chan *portion
	finished chan *portion
	failed   atomic.Bool
	ended    chan error
}

// portion is a passage and its sound.
type portion struct {
	passage
	out [2 * batch]float32
}

func newLine(s *Synth, sink func([]float32) error, progress func(done int64)) *line {
	l := &line{
		synth:    s,
		free:     make(chan *portion, lineLength),
		sounded:  make(chan *portion, lineLength),
		finished: make(chan *portion, lineLength),
		ended:    make(chan error, 1),
	}
	for range lineLength {
		l.free <- new(portion)
	}
	go l.finish()
	go l.sink(sink, progress)
	return l
}

// sound plays the voices for at most a batch of frames and sends them on.
func (l *line) sound(frames int) {
	s, p := l.synth, <-l.free
	s.begin(frames)
	var others sync.WaitGroup
	for i := range s.channels {
		if c := &s.channels[i]; !c.resting {
			others.Go(func() { c.run(s.offset, frames, s.timing) })
		}
	}
	others.Wait()
	s.gather(frames, &p.passage)
	l.sounded <- p
}

func (l *line) finish() {
	defer close(l.finished)
	for p := range l.sounded {
		l.synth.finish(&p.passage, p.out[:2*p.frames])
		l.finished <- p
	}
}

// sink hands on what is finished, up to the first error.
func (l *line) sink(sink func([]float32) error, progress func(done int64)) {
	var err error
	done := int64(0)
	for p := range l.finished {
		if err == nil {
			if err = sink(p.out[:2*p.frames]); err != nil {
				l.failed.Store(true)
			} else {
				done += int64(p.frames)
				progress(done)
			}
		}
		l.free <- p
	}
	l.ended <- err
}

// end waits for what is on its way and gives the sink's error.
func (l *line) end() error {
	close(l.sounded)
	return <-l.ended
}
