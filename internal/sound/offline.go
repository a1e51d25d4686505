package sound

import "fmt"

// Event is a channel message at a time, in frames from the start of a
// rendering.
type Event struct {
	Frame                int64
	Status, Data1, Data2 byte
}

// offlineBlock is the most frames handed to the sink at once; it only sets
// how often progress is told.
const offlineBlock = 4096

// RenderTo renders events, ordered by Frame, and tail frames after the last
// one, and hands the sound to sink in blocks of interleaved stereo. The
// block is used again after sink returns. progress, which may be nil, is
// told the frames done and the total.
//
// An event out of order, or an error of sink, ends the rendering with that
// error.
func (s *Synth) RenderTo(events []Event, tail int64, sink func([]float32) error, progress func(done, total int64)) error {
	total := max(tail, 0)
	if n := len(events); n > 0 {
		total += events[n-1].Frame
	}
	block := make([]float32, 2*offlineBlock)
	var now int64
	until := func(end int64) error {
		for now < end {
			n := min(end-now, offlineBlock)
			part := block[:2*n]
			s.Render(part)
			if err := sink(part); err != nil {
				return err
			}
			now += n
			if progress != nil {
				progress(now, total)
			}
		}
		return nil
	}
	for i, e := range events {
		if e.Frame < now {
			return fmt.Errorf("event %d is at frame %d, before frame %d: events must be in order of time", i, e.Frame, now)
		}
		if err := until(e.Frame); err != nil {
			return err
		}
		s.Send(e.Status, e.Data1, e.Data2)
	}
	return until(total)
}
