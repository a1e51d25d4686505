package sound

import "math"

const (
	chorusLevel = 0.8
	reverbLevel = 0.5
	dcHz        = 4 // under the lowest string
)

// output is the way of some channels' sound out: chorus, room, limiter.
type output struct {
	chorus      chorus
	reverb      reverb
	dc          [2]highPass
	limiter     limiter
	mono        bool
	left, right [tick]float64 // where it is mono only left has sound
}

func (o *output) init(rate, ceilingDB float64, mono bool) {
	o.mono = mono
	o.chorus.init(rate)
	o.reverb.init(rate)
	o.limiter.init(rate, ceilingDB)
	for i := range o.dc {
		o.dc[i].keep = math.Exp(-2 * math.Pi * dcHz / rate)
	}
}

// render leaves n frames, which lie within one tick from at on and stand at i
// in the sends, in left and right.
// Hot path: no allocation.
func (o *output) render(s *sends, i, at, n int, wet *ramp, empty bool) {
	if at == 0 {
		o.chorus.advance()
		o.reverb.advance()
		if empty {
			o.chorus.clear()
			o.reverb.clear()
		}
	}
	var wide, room [2][tick]float64
	o.chorus.render(at, s.wide[0][i:i+n], s.wide[1][i:i+n], &wide)
	o.reverb.render(at, s.room[0][i:i+n], s.room[1][i:i+n], &room)
	left, right := o.left[:n], o.right[:n]
	dryLeft, dryRight := s.dry[0][i:i+n], s.dry[1][i:i+n]
	for k := range left {
		w := wet.at(at + k)
		l := dryLeft[k] + w*(chorusLevel*wide[0][k]+reverbLevel*room[0][k])
		r := dryRight[k] + w*(chorusLevel*wide[1][k]+reverbLevel*room[1][k])
		if o.mono { // both sides at the power they had together
			l, r = (l+r)*(math.Sqrt2/2), 0
		}
		left[k], right[k] = o.dc[0].next(l), o.dc[1].next(r)
	}
	o.limiter.render(left, right)
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
