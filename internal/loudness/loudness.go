// Package loudness weighs and sums sound up by ITU-R BS.1770-4.
package loudness

import (
	"fmt"
	"math"
	"math/cmplx"
)

const (
	offset = -0.691 // ITU-R BS.1770-4, Annex 1: makes 997 Hz read right

	// StepRate is how many steps a second energy is gathered in: a momentary
	// reading of the loudest 400 ms is then wrong by 0.1 dB at most, wherever they
	// begin.
	StepRate = 100

	MomentarySteps = 40  // 400 ms
	ShortTermSteps = 300 // 3 s (EBU Tech 3341)
)

// Check says what is wrong with a rate in Hz, if anything: 8000…192000 can be
// measured.
func Check(rate int) error {
	if rate < 8000 || rate > 192000 {
		return fmt.Errorf("loudness meter at %d Hz: 8000…192000 can be measured", rate)
	}
	return nil
}

// StepFrames gives how many frames a step has at a rate in Hz.
func StepFrames(rate int) int { return (rate + StepRate/2) / StepRate }

// LUFS gives the loudness of a K-weighted mean square, summed over the channels;
// −Inf for 0.
func LUFS(meanSquare float64) float64 { return offset + 10*math.Log10(meanSquare) }

// Recent keeps the K-weighted mean squares of the last steps. The zero value has
// none.
type Recent struct {
	steps   [ShortTermSteps]float64
	counted int
}

// Add takes the mean square of the next step.
func (r *Recent) Add(meanSquare float64) {
	r.steps[r.counted%ShortTermSteps] = meanSquare
	r.counted++
}

// Counted gives how many steps there were so far.
func (r *Recent) Counted() int { return r.counted }

// Mean gives the mean square of the last steps, at most ShortTermSteps.
func (r *Recent) Mean(steps int) float64 {
	sum := 0.0
	for i := range steps {
		sum += r.steps[(r.counted-1-i)%ShortTermSteps]
	}
	return sum / float64(steps)
}

// Momentary gives the loudness of the last 400 ms in LUFS, −Inf for silence or
// before 400 ms have passed.
func (r *Recent) Momentary() float64 { return r.last(MomentarySteps) }

// ShortTerm gives the loudness of the last 3 s in LUFS, −Inf for silence or before
// 3 s have passed.
func (r *Recent) ShortTerm() float64 { return r.last(ShortTermSteps) }

func (r *Recent) last(steps int) float64 {
	if r.counted < steps {
		return math.Inf(-1)
	}
	return LUFS(r.Mean(steps))
}

// WeightDB gives the gain of the K-weighting at a frequency up to 20 kHz, in dB.
func WeightDB(hz float64) float64 {
	z := cmplx.Exp(complex(0, -2*math.Pi*hz/48000))
	gain := 1.0
	for _, f := range []Biquad{Shelf(48000), HighPass(48000)} {
		b := complex(f.b0, 0) + complex(f.b1, 0)*z + complex(f.b2, 0)*z*z
		a := 1 + complex(f.a1, 0)*z + complex(f.a2, 0)*z*z
		gain *= cmplx.Abs(b / a)
	}
	return 20 * math.Log10(gain)
}

// Biquad is a second-order filter, a0 = 1, transposed direct form II. [Shelf] and
// [HighPass] in a row are the K-weighting.
type Biquad struct {
	b0, b1, b2, a1, a2 float64
	s1, s2             float64
}

// Next filters a sample. Hot path: no allocation.
func (f *Biquad) Next(x float64) float64 {
	y := f.b0*x + f.s1
	f.s1 = f.b1*x - f.a1*y + f.s2
	f.s2 = f.b2*x - f.a2*y
	return y
}

// Rest ends what has died away: silence must not linger as denormal numbers. To be
// called now and then, such as once a block.
func (f *Biquad) Rest() {
	if math.Abs(f.s1)+math.Abs(f.s2) < 1e-30 {
		f.s1, f.s2 = 0, 0
	}
}

// The K-weighting's analogue prototypes, which give the coefficients of
// BS.1770-4, Annex 1, Tables 1 and 2 at 48 kHz through the bilinear
// transform, to all digits printed there. The standard prints no prototype;
// these values are in wide use (from memory) and the test
// compares them with the tables.
const (
	shelfHz     = 1681.974450955533
	shelfDB     = 3.999843853973347
	shelfQ      = 0.7071752369554196
	shelfMiddle = 0.4996667741545416 // exponent of the band gain: almost the root of the shelf's
	highPassHz  = 38.13547087602444
	highPassQ   = 0.5003270373238773
)

// Shelf is the first stage at a rate in Hz, the head's effect: +4 dB at high
// frequencies.
func Shelf(rate float64) Biquad {
	k := math.Tan(math.Pi * shelfHz / rate)
	high := math.Pow(10, shelfDB/20)
	band := math.Pow(high, shelfMiddle)
	a0 := 1 + k/shelfQ + k*k
	return Biquad{
		b0: (high + band*k/shelfQ + k*k) / a0,
		b1: 2 * (k*k - high) / a0,
		b2: (high - band*k/shelfQ + k*k) / a0,
		a1: 2 * (k*k - 1) / a0,
		a2: (1 - k/shelfQ + k*k) / a0,
	}
}

// HighPass is the second stage at a rate in Hz. Its gain is not exactly 1 at the
// top: the standard prints 1, −2, 1 for the numerator and so do we at every rate.
func HighPass(rate float64) Biquad {
	k := math.Tan(math.Pi * highPassHz / rate)
	a0 := 1 + k/highPassQ + k*k
	return Biquad{b0: 1, b1: -2, b2: 1, a1: 2 * (k*k - 1) / a0, a2: (1 - k/highPassQ + k*k) / a0}
}
