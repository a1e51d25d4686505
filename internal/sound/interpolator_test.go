package sound

import (
	"math"
	"testing"
)

// A sine between the samples is known exactly.
func TestInterpolatorFindsTheSineBetweenSamples(t *testing.T) {
	for _, hz := range []float64{100, 1000, 6000, 12000, 18000} {
		turn := 2 * math.Pi * hz / 48000
		for phase := 1; phase < interPhases; phase++ {
			worst := 0.0
			for start := range 50 {
				got := 0.0
				for k, w := range interTable[phase] {
					got += w * math.Sin(turn*float64(start+k))
				}
				want := math.Sin(turn * (float64(start+interDelay-1) + float64(phase)/interPhases))
				worst = max(worst, math.Abs(got-want))
			}
			if worst > 0.02 {
				t.Errorf("%g Hz, phase %d: wrong by up to %.4f, want 0.02", hz, phase, worst)
			}
		}
	}
}

func TestInterpolatorPassesSamplesUnderTheFloor(t *testing.T) {
	var p interpolator
	for i := range 40 {
		got := p.push(float64(i), 100)
		if want := max(0, float64(i-interDelay)); got != want {
			t.Fatalf("push %d gives %v, want the sample %d pushes ago, %v", i, got, interDelay, want)
		}
	}
}
