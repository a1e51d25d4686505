package sound

import (
	"math"

	"bedd/internal/loudness"
)

const (
	absoluteGate = -70.0 // LUFS, ITU-R BS.1770-4, Annex 1
	relativeGate = -10.0 // LU under the mean of what passed the absolute gate
	gateEvery    = 10    // steps from one gating block to the next: they overlap by 75 %
)

// Loudness measures stereo sound by ITU-R BS.1770-4: K-weighted, in blocks
// of 400 ms that overlap by 75 %, gated at −70 LUFS and at 10 LU under the
// mean. It keeps ten numbers for each second of sound.
//
// Add allocates now and then; not for the audio callback.
type Loudness struct {
	shelf, highPass [2]loudness.Biquad
	stepFrames      int        // frames in a step
	filled          int        // frames in the step that is being gathered
	energy          [2]float64 // of the step, by side
	recent          loudness.Recent
	blocks          []float64
	peaks           [2]interpolator
	peak            float64
}

// NewLoudness makes a meter for sound at rate Hz, 8000…192000.
func NewLoudness(rate int) (*Loudness, error) {
	if err := loudness.Check(rate); err != nil {
		return nil, err
	}
	l := &Loudness{stepFrames: loudness.StepFrames(rate)}
	for ch := range 2 {
		l.shelf[ch] = loudness.Shelf(float64(rate))
		l.highPass[ch] = loudness.HighPass(float64(rate))
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
		y, z := h0.Next(s0.Next(left[k])), h1.Next(s1.Next(right[k]))
		e0 += y * y
		e1 += z * z
	}
	l.shelf, l.highPass, l.energy = [2]loudness.Biquad{s0, s1}, [2]loudness.Biquad{h0, h1}, [2]float64{e0, e1}
	for ch := range 2 {
		l.shelf[ch].Rest()
		l.highPass[ch].Rest()
	}
}

// step closes 10 ms of sound.
func (l *Loudness) step() {
	l.recent.Add((l.energy[0] + l.energy[1]) / float64(l.stepFrames))
	l.energy, l.filled = [2]float64{}, 0
	if n := l.recent.Counted(); n >= loudness.MomentarySteps && n%gateEvery == 0 {
		l.blocks = append(l.blocks, l.recent.Mean(loudness.MomentarySteps))
	}
}

// Momentary gives the loudness of the last whole 400 ms in LUFS, −Inf for
// silence or before 400 ms have passed.
func (l *Loudness) Momentary() float64 { return l.recent.Momentary() }

// ShortTerm gives the loudness of the last whole 3 s in LUFS, −Inf for silence
// or before 3 s have passed.
func (l *Loudness) ShortTerm() float64 { return l.recent.ShortTerm() }

// Integrated gives the gated loudness of everything so far in LUFS, −Inf
// when nothing passed the gates.
func (l *Loudness) Integrated() float64 {
	loud := l.gatedMean(absoluteGate)
	if loud == 0 {
		return math.Inf(-1)
	}
	return loudness.LUFS(l.gatedMean(max(absoluteGate, loudness.LUFS(loud)+relativeGate)))
}

// gatedMean gives the mean square of the blocks above gate LUFS, 0 for none.
func (l *Loudness) gatedMean(gate float64) float64 {
	sum, n := 0.0, 0
	for _, b := range l.blocks {
		if loudness.LUFS(b) > gate {
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
