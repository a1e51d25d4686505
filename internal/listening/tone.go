package listening

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	// A voice's pitch is looked for from 60 to 500 Hz.
	shortestLag = innerRate / 500
	longestLag  = innerRate/60 + 1

	topOfTone = 3000.0 // Hz: above it a voice is more breath than tone

	// octaveCost makes the highest of nearly equal pitches win (Boersma 1993, 0.01 an
	// octave; more here, for noise).
	octaveCost = 0.02
)

// tone finds the pitch of a frame by the autocorrelation of its spectrum, divided by
// that of the window (Boersma 1993, IFA Proceedings 17).
type tone struct {
	fft    *fourier.FFT
	powers []complex128
	lags   []float64
	window [longestLag + 2]float64
}

func newTone() *tone {
	t := &tone{fft: fourier.NewFFT(frameSize), powers: make([]complex128, frameSize/2+1), lags: make([]float64, frameSize)}
	for lag := range t.window {
		for i := range frameSize - lag {
			t.window[lag] += hann(i) * hann(i+lag)
		}
	}
	for lag := len(t.window) - 1; lag >= 0; lag-- {
		t.window[lag] /= t.window[0]
	}
	return t
}

// find gives the pitch in Hz and how much of the frame's power repeats at it, 0…1; 0
// and 0 for none.
func (t *tone) find(powers *[numBins]float64) (hz, strength float64) {
	top := bin(topOfTone)
	for k := firstBin; k < top; k++ {
		fade := min(1, float64(top-k)/64) // no hard edge, which would ring
		t.powers[k] = complex(powers[k]*fade, 0)
	}
	lags := t.fft.Sequence(t.lags, t.powers)
	if !(lags[0] > 0) {
		return 0, 0
	}
	for lag := 1; lag < len(t.window); lag++ {
		lags[lag] /= lags[0] * t.window[lag]
	}
	best, score := 0.0, 0.0
	for lag := shortestLag; lag <= longestLag; lag++ {
		a, b, c := lags[lag-1], lags[lag], lags[lag+1]
		if !(b >= a && b > c) || b < 0.2 {
			continue
		}
		off := 0.5 * (a - c) / (a - 2*b + c)
		peak := b - 0.25*(a-c)*off
		at := float64(lag) + off
		if s := peak - octaveCost*math.Log2(at); s > score || best == 0 {
			best, score, strength = at, s, min(peak, 1)
		}
	}
	if best == 0 {
		return 0, 0
	}
	return innerRate / best, strength
}
