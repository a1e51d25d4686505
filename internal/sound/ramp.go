package sound

import "math"

// tick is the number of frames between two control values. In between they
// are interpolated, on this grid whatever blocks the caller asks for.
const tick = 32

// ramp follows a control value without steps: two equal low-passes after one
// another, worked out once a tick, with a straight line in between.
type ramp struct {
	middle, end float64
	start, step float64 // of the running tick
}

// set puts the value at v at once.
func (r *ramp) set(v float64) { *r = ramp{middle: v, end: v, start: v} }

// advance moves a share of the way to target; call it at the start of a tick.
func (r *ramp) advance(target, share float64) {
	r.start = r.end
	if math.Abs(target-r.end)+math.Abs(target-r.middle) < 1e-7 {
		r.middle, r.end = target, target
	} else {
		r.middle += share * (target - r.middle)
		r.end += share * (r.middle - r.end)
	}
	r.step = (r.end - r.start) / tick
}

// lineTo goes straight to v within the tick.
func (r *ramp) lineTo(v float64) {
	r.start, r.end = r.end, v
	r.step = (r.end - r.start) / tick
}

// at gives the value i frames into the tick.
func (r *ramp) at(i int) float64 { return r.start + r.step*float64(i) }

// shareFor gives advance's share for a time constant in seconds.
func shareFor(seconds, rate float64) float64 {
	return 1 - math.Exp(-tick/(seconds*rate))
}
