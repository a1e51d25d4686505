package sound

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// No harmonic of a table, played at the top of its octave, comes over the
// band; below that all are there.
func TestTablesAreBandLimited(t *testing.T) {
	const rate, harmonics = 48000, 40
	w := newWavetable(rate, harmonics, func(n int) float64 { return 1 / float64(n) }, func(int) float64 { return 0.1 })
	for band := range w {
		top := lowestHz * math.Exp2(float64(band+1))
		cycle := w[band][:tableSize]
		for n, c := range fourier.NewFFT(tableSize).Coefficients(nil, cycle) {
			got := math.Hypot(real(c), imag(c)) * 2 / tableSize
			want := 0.0
			if n == 1 || n > 1 && n <= harmonics && float64(n)*top <= topShare*rate {
				want = 1 / float64(n)
			}
			if got > 1e-9 && n > 1 && float64(n)*top > rate/2 {
				t.Errorf("band %d has harmonic %d, which folds back at the top of its octave", band, n)
			}
			if math.Abs(got-want) > 1e-9 {
				t.Errorf("band %d, harmonic %d: %.3g, want %.3g", band, n, got, want)
			}
		}
		if w[band][0] != w[band][tableSize] {
			t.Errorf("band %d does not close: %v and %v", band, w[band][0], w[band][tableSize])
		}
	}
}

func TestEveryFrequencyHasItsBand(t *testing.T) {
	w := newWavetable(48000, 1, func(int) float64 { return 1 }, func(int) float64 { return 0 })
	for _, c := range []struct {
		hz   float64
		band int
	}{{1, 0}, {16, 0}, {31.9, 0}, {32.1, 1}, {440, 4}, {12543, 9}, {30000, 10}} {
		if got := w.band(c.hz); got != &w[c.band] {
			t.Errorf("%g Hz does not play band %d", c.hz, c.band)
		}
	}
}

func TestReadIsASine(t *testing.T) {
	w := newWavetable(48000, 1, func(int) float64 { return 1 }, func(int) float64 { return 0 })
	for i := range uint32(100000) {
		phase := i * 42949 // all around, between the samples
		want := math.Sin(2 * math.Pi * float64(phase) / (1 << 32))
		if got := read(&w[3], phase); math.Abs(got-want) > 2e-6 {
			t.Fatalf("read at %d = %v, want %v", phase, got, want)
		}
	}
}
