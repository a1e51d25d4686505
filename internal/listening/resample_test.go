package listening

import (
	"math"
	"testing"
)

// A tone keeps its level and its frequency; what is above the inner rate's half is
// gone.
func TestResampling(t *testing.T) {
	for _, rate := range []float64{8000, 11025, 16000, 22050, 44100, 48000, 96000, 192000} {
		for _, c := range []struct{ hz, gainDB, bar float64 }{
			{100, 0, 0.05}, {1000, 0, 0.05}, {3000, 0, 0.2}, {10000, -35, 0}, {14000, -60, 0},
		} {
			if c.hz >= rate/2 || c.gainDB == 0 && c.hz > 0.8*rate/2 {
				continue
			}
			r, sum, cos, sin, n := newResampler(rate), 0.0, 0.0, 0.0, 0
			for i := range int(rate) {
				r.put(float32(math.Sin(2 * math.Pi * c.hz * float64(i) / rate)))
				for y, due := r.take(); due; y, due = r.take() {
					if n++; n <= 1600 {
						continue
					}
					sum += float64(y) * float64(y)
					s, k := math.Sincos(2 * math.Pi * c.hz * float64(n) / innerRate)
					cos, sin = cos+float64(y)*k, sin+float64(y)*s
				}
			}
			if n < innerRate-1 || n > innerRate+1 {
				t.Errorf("a second at %v Hz gives %d samples", rate, n)
			}
			m := float64(n - 1600)
			power, tone := decibels(2*sum/m), decibels(4*(cos*cos+sin*sin)/m/m)
			if c.gainDB < 0 { // no more than that
				if power > c.gainDB {
					t.Errorf("%v Hz at %v: %.1f dB is left, want %v at most", c.hz, rate, power, c.gainDB)
				}
			} else if math.Abs(power) > c.bar || math.Abs(tone) > c.bar {
				t.Errorf("%v Hz at %v: %.3f dB, at its frequency %.3f", c.hz, rate, power, tone)
			}
		}
	}
}
