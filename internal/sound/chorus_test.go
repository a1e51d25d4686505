package sound

import (
	"math"
	"testing"
)

func TestCubicPassesThroughAnyCubic(t *testing.T) {
	f := func(x float64) float64 { return 2 - x + 3*x*x - 0.5*x*x*x }
	for x := 0.0; x <= 1; x += 0.125 {
		if got := cubic(x, f(-1), f(0), f(1), f(2)); math.Abs(got-f(x)) > 1e-12 {
			t.Errorf("cubic at %g = %v, want %v", x, got, f(x))
		}
	}
}

// oneFrame takes one frame, equal on both sides, through an effect.
func oneFrame(render func(int, []float64, []float64, *[2][tick]float64), at int, x float64) (left, right float64) {
	var out [2][tick]float64
	render(at, []float64{x}, []float64{x}, &out)
	return out[0][0], out[1][0]
}

// The copy's pitch moves by under 3 cents: counted from its crossings of
// zero.
func TestChorusBendsLittle(t *testing.T) {
	oneGoroutine(t)
	const rate, hz = 48000, 1000
	var c chorus
	c.init(rate)
	last, crossed := 0.0, -1.0
	worst := 0.0
	for i := range 10 * rate {
		if i%tick == 0 {
			c.advance()
		}
		x := math.Sin(2 * math.Pi * hz * float64(i) / rate)
		left, _ := oneFrame(c.render, i%tick, x)
		if i > rate/10 && last < 0 && left >= 0 {
			at := float64(i) - left/(left-last)
			if crossed > 0 {
				worst = max(worst, math.Abs(centsFrom(rate/(at-crossed), hz)))
			}
			crossed = at
		}
		last = left
	}
	if worst > 3 || worst < 1 {
		t.Errorf("pitch moves by up to %.2f cents, want 1…3", worst)
	}
}
