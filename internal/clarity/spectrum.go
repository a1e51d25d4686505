package clarity

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	// LeastRate is the lowest rate, in Hz, that has all bands: the last ends at
	// 8,913 Hz (IEC 61260-1, base ten).
	LeastRate = 18000

	blocksPerSecond = 5 // each lasts 0.4 s, so that they overlap by half

	silent = 1e-7 // power re full scale: −70 dB, the absolute gate of ITU-R BS.1770-4
	quiet  = 0.1  // of the mean: −10 dB, its relative gate
)

// Spectrum measures the long-term spectrum of a sound in third-octave bands, in
// blocks of 400 ms that overlap by half. What is under −70 dB and what is more than
// 10 dB under the mean of the rest does not count, as in ITU-R BS.1770: a speaker's
// pauses are no speech. It keeps eighteen numbers for each fifth of a second.
type Spectrum struct {
	window []float64
	frames []complex128 // of the block that is being filled: left, and right as the imaginary part
	filled int
	fft    *fourier.CmplxFFT
	bins   []complex128
	edges  [Bands + 1]float64 // in bins
	blocks [][Bands]float64   // powers of whole bands
}

// NewSpectrum makes one for sound at rate Hz, LeastRate…192000.
func NewSpectrum(rate int) (*Spectrum, error) {
	if rate < LeastRate || rate > 192000 {
		return nil, fmt.Errorf("a spectrum of speech needs %d…192000 frames a second, not %d", LeastRate, rate)
	}
	n := 2 * (rate / blocksPerSecond)
	s := &Spectrum{window: make([]float64, n), frames: make([]complex128, n), bins: make([]complex128, n), fft: fourier.NewCmplxFFT(n)}
	sum := 0.0
	for i := range s.window { // Hann
		s.window[i] = math.Pow(math.Sin(math.Pi*(float64(i)+0.5)/float64(n)), 2)
		sum += s.window[i] * s.window[i]
	}
	for i := range s.window {
		s.window[i] /= math.Sqrt(sum * float64(n)) // the bins' squares then sum to the mean power
	}
	for i := range s.edges { // half a third of an octave under 160 Hz, which is 10^2.2, and up
		s.edges[i] = math.Pow(10, 2.15+float64(i)/10) * float64(n) / float64(rate)
	}
	return s, nil
}

// Add measures the next frames, left and right in turn, full scale ±1. The sides'
// powers add up, as in BS.1770; what is not a number counts as silence. An odd last
// sample is left out.
func (s *Spectrum) Add(interleaved []float32) {
	for i := 0; i+1 < len(interleaved); i += 2 {
		s.frames[s.filled] = complex(finite(interleaved[i]), finite(interleaved[i+1]))
		if s.filled++; s.filled == len(s.frames) {
			s.blocks = append(s.blocks, s.block())
			s.filled = copy(s.frames, s.frames[s.filled/2:])
		}
	}
}

func finite(x float32) float64 {
	if v := float64(x); !math.IsNaN(v) && !math.IsInf(v, 0) {
		return v
	}
	return 0
}

// block gives the powers of the bands of a full block. A bin at an edge counts in
// both bands, by how much of it lies in each.
func (s *Spectrum) block() (bands [Bands]float64) {
	for i, x := range s.frames {
		s.bins[i] = x * complex(s.window[i], 0)
	}
	s.fft.Coefficients(s.bins, s.bins)
	n := len(s.bins)
	for b := range bands {
		low, high := s.edges[b], s.edges[b+1]
		for k := int(low + 0.5); k <= int(high+0.5); k++ {
			inside := min(float64(k)+0.5, high) - max(float64(k)-0.5, low)
			up, down := cmplx.Abs(s.bins[k]), cmplx.Abs(s.bins[n-k])
			bands[b] += max(0, inside) * (up*up + down*down)
		}
	}
	return bands
}

// Levels gives the spectrum levels of what counted, re full scale: a sine of full
// scale on one side alone has a power of −3.01 dB. Silence is −Inf.
func (s *Spectrum) Levels() Levels {
	loud := s.mean(silent)
	counted := s.mean(max(silent, quiet*total(loud)))
	var l Levels
	for i := range l {
		l[i] = decibels(counted[i]) - bandwidthDB(i)
	}
	return l
}

// Seconds gives how much of the sound counted.
func (s *Spectrum) Seconds() float64 {
	least := max(silent, quiet*total(s.mean(silent)))
	n := 0
	for _, b := range s.blocks {
		if total(b) > least {
			n++
		}
	}
	return float64(n) / blocksPerSecond
}

// mean averages the blocks whose power is more than least.
func (s *Spectrum) mean(least float64) (mean [Bands]float64) {
	n := 0.0
	for _, b := range s.blocks {
		if total(b) > least {
			n++
			for i := range mean {
				mean[i] += b[i]
			}
		}
	}
	for i := range mean {
		mean[i] /= max(1, n)
	}
	return mean
}

func total(bands [Bands]float64) (sum float64) {
	for _, b := range bands {
		sum += b
	}
	return sum
}
