package listening

import (
	"math"
	"math/rand/v2"
	"testing"
)

// noisy lets a floor hear noise of a level in dB, and gives how far its noise lies
// from the bands' own mean on average over bands and the last two seconds.
func noisy(f *floor, r *rand.Rand, seconds int, dB float64, holds bool) (off float64) {
	b, n := newBands(), 0
	var mean, told [numBands]float64
	gain := math.Pow(10, dB/20)
	framesOf(seconds*innerRate, func(int) float64 { return gain * r.NormFloat64() }, func(powers *[numBins]float64) {
		now := b.sum(powers)
		f.hear(&now, holds)
		if n++; n > (seconds-2)*frameRate {
			for i, p := range now {
				mean[i] += p
				told[i] += f.noise[i]
			}
		}
	})
	for i := range mean {
		off += decibels(told[i]/mean[i]) / numBands
	}
	return off
}

func TestFloorIsTheNoise(t *testing.T) {
	var f floor
	r := rand.New(rand.NewPCG(3, 3))
	for _, dB := range []float64{-40, -20, -55} {
		off := noisy(&f, r, 8, dB, false)
		t.Logf("noise of %v dB: off by %.2f dB", dB, off)
		if math.Abs(off) > 1.5 {
			t.Errorf("noise of %v dB: the floor is off by %.1f dB, want 1.5 at most", dB, off)
		}
	}
}

func TestFloorRisesSlowlyWhileItHolds(t *testing.T) {
	var f floor
	r := rand.New(rand.NewPCG(4, 4))
	noisy(&f, r, 6, -50, false)
	if off := noisy(&f, r, 8, -20, true); off > -23 || off < -28 {
		t.Errorf("eight seconds of 30 dB more: it lies %.1f dB from there, want -30 and half a decibel a second", off)
	}
	if off := noisy(&f, r, 4, -60, true); math.Abs(off) > 1.5 {
		t.Errorf("it follows a fall, but is off by %.1f dB", off)
	}
}

func TestFloorOfSilence(t *testing.T) {
	var f floor
	for range 10 * frameRate {
		f.hear(&[numBands]float64{}, false)
	}
	for b, n := range f.noise {
		if n != least {
			t.Errorf("band %d of silence: %v, want %v", b, n, least)
		}
	}
}
