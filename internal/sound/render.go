package sound

import "math"

// Render fills out with interleaved stereo, full scale ±1. The last sample
// of an odd length stays silent.
// Hot path: no allocation; O(frames · voices).
func (s *Synth) Render(out []float32) {
	clear(out)
	for len(out) >= 2 {
		if s.offset == 0 {
			s.advance()
		}
		n := min(tick-s.offset, len(out)/2)
		s.segment(out[:2*n])
		s.offset = (s.offset + n) % tick
		out = out[2*n:]
	}
}

// advance starts a tick: every control value takes its next step.
func (s *Synth) advance() {
	for i := range s.channels {
		s.channels[i].advance(s.levelShare, s.toneShare)
	}
	for i := range s.pads {
		if v := &s.pads[i]; v.sounding {
			v.advance(&s.channels[v.channel], s.rate)
		}
	}
	for i := range s.pianos {
		if v := &s.pianos[i]; v.sounding {
			v.advance(&s.channels[v.channel], s.rate)
		}
	}
	s.chorus.advance()
	s.reverb.advance()
	if s.hushing {
		s.wet.advance(0, s.hush)
		if s.wet.end < 1e-4 {
			s.chorus.clear()
			s.reverb.clear()
			s.hushing = false
		}
	} else {
		s.wet.advance(1, s.hush)
	}
}

// segment renders frames that lie within one tick.
func (s *Synth) segment(out []float32) {
	from, n := s.offset, len(out)/2
	for i := range s.pads {
		if v := &s.pads[i]; v.sounding {
			v.add(&s.channels[v.channel], from, n)
		}
	}
	for i := range s.pianos {
		if v := &s.pianos[i]; v.sounding {
			v.add(&s.channels[v.channel], from, n)
		}
	}
	var dry, room, wide [tick][2]float64
	for i := range s.channels {
		if c := &s.channels[i]; c.busy {
			c.mix(from, n, &dry, &room, &wide)
		}
	}
	for k := from; k < from+n; k++ {
		cl, cr := s.chorus.next(k, wide[k][0], wide[k][1])
		rl, rr := s.reverb.next(k, room[k][0], room[k][1])
		wet := s.wet.at(k)
		l := dry[k][0] + wet*(chorusLevel*cl+reverbLevel*rl)
		r := dry[k][1] + wet*(chorusLevel*cr+reverbLevel*rr)
		l, r = s.limiter.next(s.dc[0].next(l), s.dc[1].next(r))
		if s.faded < s.fade {
			g := smoothStep(float64(s.faded) / float64(s.fade))
			l, r = g*l, g*r
			s.faded++
		}
		out[2*(k-from)], out[2*(k-from)+1] = float32(l), float32(r)
	}
}

// mix adds the channel's bus to what is heard directly and to the sends, and
// empties it.
func (c *channel) mix(from, n int, dry, room, wide *[tick][2]float64) {
	for k := from; k < from+n; k++ {
		l, r := c.busLeft[k]*c.left.at(k), c.busRight[k]*c.right.at(k)
		c.busLeft[k], c.busRight[k] = 0, 0
		reverb, chorus := c.reverbSend.at(k), c.chorSend.at(k)
		dry[k][0] += l
		dry[k][1] += r
		room[k][0] += l * reverb
		room[k][1] += r * reverb
		wide[k][0] += l * chorus
		wide[k][1] += r * chorus
	}
	c.busy = false
}

// highPass takes away what does not move.
type highPass struct{ keep, x, y float64 }

func (h *highPass) next(x float64) float64 {
	h.y = x - h.x + h.keep*h.y
	h.x = x
	if math.Abs(h.y) < 1e-15 { // decays towards denormal numbers otherwise
		h.y = 0
	}
	return h.y
}
