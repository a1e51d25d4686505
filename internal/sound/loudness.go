package sound

import (
	"fmt"
	"math"
	"math/cmplx"
)

const (
	loudnessOffset = -0.691 // ITU-R BS.1770-4, Annex 1: makes 997 Hz read right
	absoluteGate   = -70.0  // LUFS, same Annex
	relativeGate   = -10.0  // LU under the mean of what passed the absolute gate

	// All energy is gathered in steps of 10 ms: a momentary reading of the
	// loudest 400 ms is then wrong by 0.1 dB at most, wherever they begin.
	stepRate       = 100 // a second
	momentarySteps = 40  // 400 ms
	shortTermSteps = 300 // 3 s (EBU Tech 3341)
	gateEvery      = 10  // steps from one gating block to the next: they overlap by 75 %
)

// Loudness measures stereo sound by ITU-R BS.1770-4: K-weighted, in blocks
// of 400 ms that overlap by 75 %, gated at −70 LUFS and at 10 LU under the
// mean. It keeps ten numbers for each second of sound.
//
// Add allocates now and then; not for the audio callback.
type Loudness struct {
	shelf, highPass [2]biquad
	stepFrames      int                     // frames in a step
	filled          int                     // frames in the step that is being gathered
	energy          [2]float64              // of the step, by side
	steps           [shortTermSteps]float64 // mean squares of the last, in a ring
	counted         int                     // steps gathered so far
	blocks          []float64
	peaks           [2]interpolator
	peak            float64
}

// NewLoudness makes a meter for sound at rate Hz, 8000…192000.
func NewLoudness(rate int) (*Loudness, error) {
	if rate < 8000 || rate > 192000 {
		return nil, fmt.Errorf("loudness meter at %d Hz: 8000…192000 can be measured", rate)
	}
	l := &Loudness{stepFrames: (rate + stepRate/2) / stepRate}
	for ch := range 2 {
		l.shelf[ch] = kShelf(float64(rate))
		l.highPass[ch] = kHighPass(float64(rate))
	}
	return l, nil
}

// Add measures the next frames, left and right in turn, full scale ±1.
func (l *Loudness) Add(interleaved []float32) {
	frames := len(interleaved) / 2
	for i := 0; i < frames; {
		n := min(measured, frames-i, l.stepFrames-l.filled)
		var left, right [measured]float64
		for k := range n {
			left[k], right[k] = float64(interleaved[2*(i+k)]), float64(interleaved[2*(i+k)+1])
		}
		l.watch(0, left[:n])
		l.watch(1, right[:n])
		l.weigh(left[:n], right[:n])
		i += n
		if l.filled += n; l.filled == l.stepFrames {
			l.step()
		}
	}
}

// measured is how many frames are taken through the meter at a time.
const measured = 64

// watch looks for a new highest peak in some frames of one side.
func (l *Loudness) watch(ch int, side []float64) {
	// Only a new highest value matters, and an in-between value cannot be more
	// than twice its neighbours in band-limited sound.
	if l.peaks[ch].quiet(side, l.peak/2) {
		l.peaks[ch].take(side)
		return
	}
	for _, x := range side {
		l.peak = max(l.peak, math.Abs(x), l.peaks[ch].push(x, l.peak/2))
	}
}

// weigh adds some frames' energy to the step, both sides at once, which keeps
// the processor busy.
func (l *Loudness) weigh(left, right []float64) {
	right = right[:len(left)]
	s0, h0, e0 := l.shelf[0], l.highPass[0], l.energy[0] // copies, which stay in registers
	s1, h1, e1 := l.shelf[1], l.highPass[1], l.energy[1]
	for k := range left {
		y, z := h0.next(s0.next(left[k])), h1.next(s1.next(right[k]))
		e0 += y * y
		e1 += z * z
	}
	l.shelf, l.highPass, l.energy = [2]biquad{s0, s1}, [2]biquad{h0, h1}, [2]float64{e0, e1}
	for ch := range 2 {
		l.shelf[ch].rest()
		l.highPass[ch].rest()
	}
}

// step closes 10 ms of sound.
func (l *Loudness) step() {
	l.steps[l.counted%shortTermSteps] = (l.energy[0] + l.energy[1]) / float64(l.stepFrames)
	l.energy, l.filled = [2]float64{}, 0
	if l.counted++; l.counted >= momentarySteps && l.counted%gateEvery == 0 {
		l.blocks = append(l.blocks, l.mean(momentarySteps))
	}
}

// mean gives the mean square of the last steps.
func (l *Loudness) mean(steps int) float64 {
	sum := 0.0
	for i := range steps {
		sum += l.steps[(l.counted-1-i)%shortTermSteps]
	}
	return sum / float64(steps)
}

// Momentary gives the loudness of the last whole 400 ms in LUFS, −Inf for
// silence or before 400 ms have passed.
func (l *Loudness) Momentary() float64 { return l.last(momentarySteps) }

// ShortTerm gives the loudness of the last whole 3 s in LUFS, −Inf for silence
// or before 3 s have passed.
func (l *Loudness) ShortTerm() float64 { return l.last(shortTermSteps) }

func (l *Loudness) last(steps int) float64 {
	if l.counted < steps {
		return math.Inf(-1)
	}
	return toLUFS(l.mean(steps))
}

// Integrated gives the gated loudness of everything so far in LUFS, −Inf
// when nothing passed the gates.
func (l *Loudness) Integrated() float64 {
	loud := l.gatedMean(absoluteGate)
	if loud == 0 {
		return math.Inf(-1)
	}
	return toLUFS(l.gatedMean(max(absoluteGate, toLUFS(loud)+relativeGate)))
}

// gatedMean gives the mean square of the blocks above gate LUFS, 0 for none.
func (l *Loudness) gatedMean(gate float64) float64 {
	sum, n := 0.0, 0
	for _, b := range l.blocks {
		if toLUFS(b) > gate {
			sum += b
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n)
}

// PeakDB gives the true peak so far in dBTP, estimated at 4 times the rate;
// −Inf for silence. A peak in the last 8 frames is seen only by its samples.
func (l *Loudness) PeakDB() float64 { return 20 * math.Log10(l.peak) }

// KWeightDB gives the gain of the K-weighting of ITU-R BS.1770-4 at a frequency up to
// 20 kHz, in dB.
func KWeightDB(hz float64) float64 {
	z := cmplx.Exp(complex(0, -2*math.Pi*hz/48000))
	gain := 1.0
	for _, f := range []biquad{kShelf(48000), kHighPass(48000)} {
		b := complex(f.b0, 0) + complex(f.b1, 0)*z + complex(f.b2, 0)*z*z
		a := 1 + complex(f.a1, 0)*z + complex(f.a2, 0)*z*z
		gain *= cmplx.Abs(b / a)
	}
	return 20 * math.Log10(gain)
}

func toLUFS(meanSquare float64) float64 {
	return loudnessOffset + 10*math.Log10(meanSquare)
}

// biquad is a second-order filter, a0 = 1, transposed direct form II.
type biquad struct {
	b0, b1, b2, a1, a2 float64
	s1, s2             float64
}

func (f *biquad) next(x float64) float64 {
	y := f.b0*x + f.s1
	f.s1 = f.b1*x - f.a1*y + f.s2
	f.s2 = f.b2*x - f.a2*y
	return y
}

// rest ends what has died away: silence must not linger as denormal numbers.
func (f *biquad) rest() {
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

// kShelf is the first stage, the head's effect: +4 dB at high frequencies.
func kShelf(rate float64) biquad {
	k := math.Tan(math.Pi * shelfHz / rate)
	high := math.Pow(10, shelfDB/20)
	band := math.Pow(high, shelfMiddle)
	a0 := 1 + k/shelfQ + k*k
	return biquad{
		b0: (high + band*k/shelfQ + k*k) / a0,
		b1: 2 * (k*k - high) / a0,
		b2: (high - band*k/shelfQ + k*k) / a0,
		a1: 2 * (k*k - 1) / a0,
		a2: (1 - k/shelfQ + k*k) / a0,
	}
}

// kHighPass is the second stage. Its gain is not exactly 1 at the top: the
// standard prints 1, −2, 1 for the numerator and so do we at every rate.
func kHighPass(rate float64) biquad {
	k := math.Tan(math.Pi * highPassHz / rate)
	a0 := 1 + k/highPassQ + k*k
	return biquad{b0: 1, b1: -2, b2: 1, a1: 2 * (k*k - 1) / a0, a2: (1 - k/highPassQ + k*k) / a0}
}
