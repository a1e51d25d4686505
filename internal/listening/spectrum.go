package listening

import (
	"math"

	"bedd/internal/loudness"
	"gonum.org/v1/gonum/dsp/fourier"
)

// Everything but the loudness is measured at one rate, in frames that overlap.
const (
	innerRate = 16000 // Hz: speech has little above 8 kHz
	hop       = 160   // samples from one frame to the next: 10 ms
	frameSize = 1024  // samples: 64 ms, three periods of a voice at 47 Hz (Boersma 1993 asks for three)
	numBins   = 460   // up to 7.2 kHz, which is the last band
	firstBin  = 5     // 78 Hz: under it there is more rumble than voice

	frameRate = innerRate / hop // a second
	binHz     = float64(innerRate) / frameSize
)

// bin gives the number of the bin nearest to a frequency.
func bin(hz float64) int { return int(math.Round(hz / binHz)) }

// spectra turns the last frame of samples into a spectrum.
type spectra struct {
	window  [frameSize]float64 // Hann, so that the squares of the bins of one side, doubled, sum to the mean square
	ring    [frameSize]float64
	at      int
	samples []float64
	fft     *fourier.FFT
	out     []complex128
}

func newSpectra() *spectra {
	s := &spectra{samples: make([]float64, frameSize), fft: fourier.NewFFT(frameSize), out: make([]complex128, frameSize/2+1)}
	sum := 0.0
	for i := range s.window {
		s.window[i] = hann(i)
		sum += s.window[i] * s.window[i]
	}
	for i := range s.window {
		s.window[i] *= math.Sqrt(2 / (sum * frameSize))
	}
	return s
}

func hann(i int) float64 { return 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/frameSize) }

func (s *spectra) put(x float64) {
	s.ring[s.at] = x
	s.at = (s.at + 1) % frameSize
}

// spectrum gives the bins of what was put in last, valid until the next call.
func (s *spectra) spectrum() []complex128 {
	for i := range s.samples {
		s.samples[i] = s.ring[(s.at+i)%frameSize] * s.window[i]
	}
	return s.fft.Coefficients(s.out, s.samples)[:numBins]
}

func power(x complex128) float64 { return real(x)*real(x) + imag(x)*imag(x) }

// kWeights are the K-weighting's power gains at the bins.
func kWeights() (w [numBins]float64) {
	for k := range w {
		w[k] = math.Pow(10, loudness.WeightDB(max(float64(k), 0.5)*binHz)/10)
	}
	return w
}

// numBands are third octaves from 80 to 6,300 Hz (IEC 61260-1, base ten).
const numBands = 20

// bands sums powers of bins up to third octaves. A bin at an edge counts in both, by
// how much of it lies in each.
type bands [numBands]struct {
	from, to   int // bins that count in full
	low, high  float64
	lowK, topK int
	middle     int
}

func newBands() (b bands) {
	for i := range b {
		from := math.Pow(10, 1.85+float64(i)/10)/binHz + 0.5 // a bin reaches half a bin down and up
		to := math.Pow(10, 1.95+float64(i)/10)/binHz + 0.5
		b[i].lowK, b[i].topK = int(from), int(to)
		b[i].low = math.Floor(from) + 1 - from
		b[i].high = to - math.Floor(to)
		b[i].from, b[i].to = int(from)+1, int(to)
		b[i].middle = bin(math.Pow(10, 1.9+float64(i)/10))
		if b[i].lowK == b[i].topK {
			b[i].low, b[i].high = to-from, 0
		}
	}
	return b
}

func (b *bands) sum(powers *[numBins]float64) (out [numBands]float64) {
	for i, e := range b {
		sum := e.low*powers[e.lowK] + e.high*powers[e.topK]
		for k := e.from; k < e.to; k++ {
			sum += powers[k]
		}
		out[i] = sum
	}
	return out
}

func decibels(power float64) float64 { return 10 * math.Log10(power) }
