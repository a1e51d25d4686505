package sound

// batch is the most frames that the voices go ahead of the effects.
const batch = 64 * tick

// passage is some frames that all voices have sounded, for the outputs to take
// further.
type passage struct {
	offset, frames int // into the tick; how many
	sends          [2]sends
	wet            [batch/tick + 1]ramp // by tick
	clear          [batch/tick + 1]bool // the room is emptied at its start
}

// Render fills out with interleaved stereo, full scale ±1. The last sample
// of an odd length stays silent.
// Hot path: no allocation; O(frames · voices).
func (s *Synth) Render(out []float32) {
	clear(out)
	for len(out) >= 2 {
		n := min(batch, len(out)/2)
		s.begin(n)
		for i := range s.channels {
			if c := &s.channels[i]; !c.resting {
				c.run(s.offset, n, s.timing)
			}
		}
		s.gather(n, s.passage)
		s.finish(s.passage, out[:2*n])
		out = out[2*n:]
	}
}

// begin opens a passage of n frames: who sounds, and the course of the room.
func (s *Synth) begin(n int) {
	for i := range s.channels {
		s.channels[i].soundingPads, s.channels[i].soundingPianos = 0, 0
	}
	for i := range s.pads {
		if v := &s.pads[i]; v.sounding {
			c := &s.channels[v.channel]
			c.pads[c.soundingPads] = v
			c.soundingPads++
		}
	}
	for i := range s.pianos {
		if v := &s.pianos[i]; v.sounding {
			c := &s.channels[v.channel]
			c.pianos[c.soundingPianos] = v
			c.soundingPianos++
		}
	}
	for i := range s.channels {
		s.channels[i].ran = !s.channels[i].resting
	}
}

// gather adds up what the channels have sounded, in their order, and carries
// the synth's clock on.
func (s *Synth) gather(n int, p *passage) {
	p.offset, p.frames = s.offset, n
	for i := range s.outputs {
		p.sends[i].clear(n)
	}
	for i := range s.channels {
		if c := &s.channels[i]; c.ran {
			p.sends[c.output].add(&c.sends, n)
		}
	}
	for t := 0; t*tick < s.offset+n; t++ {
		p.clear[t] = false
		if t > 0 || s.offset == 0 {
			p.clear[t] = s.advanceRoom()
		}
		p.wet[t] = s.wet
	}
	s.offset = (s.offset + n) % tick
}

// advanceRoom starts a tick of the room, which dies away while it is hushed; it
// reports when that is done.
func (s *Synth) advanceRoom() (empty bool) {
	if !s.hushing {
		s.wet.advance(1, s.timing.hushShare)
		return false
	}
	s.wet.advance(0, s.timing.hushShare)
	empty = s.wet.end < 1e-4
	s.hushing = !empty
	return empty
}

// finish takes a passage through the outputs.
func (s *Synth) finish(p *passage, out []float32) {
	for i := 0; i < p.frames; {
		at := (p.offset + i) % tick
		t := (p.offset + i) / tick
		n := min(tick-at, p.frames-i)
		part := out[2*i : 2*(i+n)]
		if len(s.outputs) == 1 {
			o := &s.outputs[0]
			o.render(&p.sends[0], i, at, n, &p.wet[t], p.clear[t])
			for k := range n {
				part[2*k], part[2*k+1] = float32(o.left[k]), float32(o.right[k])
			}
		} else {
			for side := range s.outputs {
				o := &s.outputs[side]
				o.render(&p.sends[side], i, at, n, &p.wet[t], p.clear[t])
				for k := range n {
					part[2*k+side] = float32(o.left[k])
				}
			}
		}
		s.start.in(part)
		i += n
	}
}
