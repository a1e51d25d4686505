package loudness

import (
	"math"
	"testing"
)

// ITU-R BS.1770-4, Annex 1, Tables 1 and 2.
func TestKWeightingIsThePublishedOneAt48kHz(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want [5]float64 // b0 b1 b2 a1 a2
	}{
		{"shelf", coefficients(Shelf(48000)), [5]float64{1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585}},
		{"high-pass", coefficients(HighPass(48000)), [5]float64{1, -2, 1, -1.99004745483398, 0.99007225036621}},
	} {
		for i := range c.want {
			if math.Abs(c.got[i]-c.want[i]) > 1e-12 {
				t.Errorf("%s, coefficient %d: %.14f, want %.14f", c.name, i, c.got[i], c.want[i])
			}
		}
	}
}

func coefficients(f Biquad) [5]float64 { return [5]float64{f.b0, f.b1, f.b2, f.a1, f.a2} }

// Gains of both stages together, computed from the published tables; at
// 44.1 kHz the same analogue filter is meant, to what the bilinear transform
// allows near the top.
func TestKWeightingGain(t *testing.T) {
	for _, c := range []struct{ hz, want float64 }{
		{20, -13.275}, {50, -3.934}, {100, -1.134}, {200, -0.265}, {500, 0.043}, {997, 0.691},
		{1000, 0.698}, {2000, 3.071}, {4000, 3.968}, {10000, 4.042},
	} {
		for _, rate := range []float64{44100, 48000} {
			got := gainDB(Shelf(rate), c.hz/rate) + gainDB(HighPass(rate), c.hz/rate)
			bar := 0.0006
			if rate != 48000 {
				bar = 0.02
			}
			if math.Abs(got-c.want) > bar {
				t.Errorf("%g Hz at %g: %.4f dB, want %.3f", c.hz, rate, got, c.want)
			}
		}
	}
}

// gainDB evaluates the transfer function at a frequency in cycles a sample.
func gainDB(f Biquad, cycles float64) float64 {
	sin, cos := math.Sincos(-2 * math.Pi * cycles)
	z := complex(cos, sin)
	h := (complex(f.b0, 0) + complex(f.b1, 0)*z + complex(f.b2, 0)*z*z) /
		(1 + complex(f.a1, 0)*z + complex(f.a2, 0)*z*z)
	return 10 * math.Log10(real(h)*real(h)+imag(h)*imag(h))
}

// The gains of the K-weighting, computed from the coefficients that BS.1770-4 prints.
func TestWeightDB(t *testing.T) {
	for hz, want := range map[float64]float64{
		20: -13.275, 50: -3.934, 100: -1.134, 200: -0.265, 500: 0.043, 997: 0.691, 1000: 0.698, 2000: 3.071, 4000: 3.968, 10000: 4.042,
	} {
		if got := WeightDB(hz); math.Abs(got-want) > 0.001 {
			t.Errorf("%v Hz: %.4f dB, want %.3f", hz, got, want)
		}
	}
}

func TestRatesThatCannotBeMeasuredAreRefused(t *testing.T) {
	for _, rate := range []int{7999, 192001, 0, -1} {
		if Check(rate) == nil {
			t.Errorf("%d Hz is taken", rate)
		}
	}
	for _, rate := range []int{8000, 192000} {
		if err := Check(rate); err != nil {
			t.Errorf("%d Hz: %v", rate, err)
		}
	}
}
