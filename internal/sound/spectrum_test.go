package sound

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// spectrum is the power in each bin of a length of sound, by gonum's Fourier
// transform, an independent one.
type spectrum struct {
	power []float64
	width float64 // Hz a bin
}

// spectrumOf takes both sides together, under a Gaussian window: a peak is
// then a parabola in dB, also where the sound decays exponentially.
func spectrumOf(interleaved []float32, rate int) spectrum {
	n := len(interleaved) / 2
	x := make([]float64, n)
	norm := 0.0
	for i := range x {
		u := (float64(i) - float64(n)/2) / (float64(n) / 10)
		w := math.Exp(-u * u / 2)
		x[i] = w * float64(interleaved[2*i]+interleaved[2*i+1]) / 2
		norm += w * w
	}
	s := spectrum{power: make([]float64, n/2+1), width: float64(rate) / float64(n)}
	for i, c := range fourier.NewFFT(n).Coefficients(nil, x) {
		s.power[i] = 2 * (real(c)*real(c) + imag(c)*imag(c)) / (norm * float64(n))
	}
	return s
}

// bandDB gives the level between two frequencies.
func (s spectrum) bandDB(from, to float64) float64 {
	sum := 1e-30
	for i := int(from / s.width); i < int(to/s.width) && i < len(s.power); i++ {
		sum += s.power[i]
	}
	return 10 * math.Log10(sum)
}

// peak gives the frequency of the strongest sine within some cents of hz.
func (s spectrum) peak(hz, cents float64) float64 {
	span := math.Exp2(cents / 1200)
	best := max(1, int(hz/span/s.width))
	for i := best; i <= int(hz*span/s.width)+1; i++ {
		if s.power[i] > s.power[best] {
			best = i
		}
	}
	a, b, c := math.Log(s.power[best-1]), math.Log(s.power[best]), math.Log(s.power[best+1])
	return (float64(best) + (a-c)/(2*(a-2*b+c))) * s.width
}

func centsFrom(hz, want float64) float64 { return 1200 * math.Log2(hz/want) }
