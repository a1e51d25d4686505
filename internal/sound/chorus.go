package sound

import "math"

const (
	chorusMiddle = 0.017 // seconds of delay around which it moves
	chorusDepth  = 0.0011
	chorusHz     = 0.23 // with this depth the pitch moves by under 3 cents; by ear
)

// chorus is a pair of slowly moving delays, left and right a quarter turn
// apart, which widens a pad.
type chorus struct {
	lines  [2][]float64
	at     int
	delays [2]ramp
	turn   float64 // 0…1
	rate   float64
}

func (c *chorus) init(rate float64) {
	n := 1
	for float64(n) < (chorusMiddle+2*chorusDepth)*rate+4 {
		n *= 2
	}
	c.rate = rate
	for ch := range c.lines {
		c.lines[ch] = make([]float64, n)
		c.delays[ch].set(c.delay(ch))
	}
}

func (c *chorus) delay(ch int) float64 {
	return c.rate * (chorusMiddle + chorusDepth*math.Sin(2*math.Pi*(c.turn+float64(ch)/4)))
}

// advance starts a tick.
func (c *chorus) advance() {
	c.turn += chorusHz * tick / c.rate
	c.turn -= math.Floor(c.turn)
	for ch := range c.delays {
		c.delays[ch].lineTo(c.delay(ch))
	}
}

// render takes frames that lie within one tick, from at on, and gives their
// moved copies.
// Hot path: no allocation.
func (c *chorus) render(at int, left, right []float64, out *[2][tick]float64) {
	mask := len(c.lines[0]) - 1
	for side, from := range [2][]float64{left, right} {
		line, to, now := c.lines[side], out[side][:len(from)], c.at
		back := c.delays[side].at(at)
		for k, x := range from {
			line[now&mask] = x
			whole := int(back)
			part := back - float64(whole)
			back += c.delays[side].step
			// A cubic through four frames: on a line between two, the treble
			// would flutter as the delay passes from frame to frame.
			i := now - whole
			to[k] = cubic(part, line[(i+1)&mask], line[i&mask], line[(i-1)&mask], line[(i-2)&mask])
			now++
		}
	}
	c.at = (c.at + len(left)) & mask
}

// cubic gives Lagrange's third-order value at x, 0…1 from b to c, of equally
// spaced values.
func cubic(x, a, b, c, d float64) float64 {
	outer, inner := x*(x-1), (x+1)*(x-2)
	return outer*((x+1)*d-(x-2)*a)/6 + inner*((x-1)*b-x*c)/2
}

// clear empties the delays.
func (c *chorus) clear() {
	for ch := range c.lines {
		clear(c.lines[ch])
	}
}
