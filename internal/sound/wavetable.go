package sound

import "math"

const (
	tableBits = 11
	tableSize = 1 << tableBits
	fracBits  = 32 - tableBits

	tableBands = 11 // octaves from lowestTable up
	lowestHz   = 16.0
	topShare   = 0.45 // of the rate: no harmonic of a table passes it
)

// wavetable is one cycle of a sound for each octave, every one with only
// the harmonics that stay under the top at the octave's upper end, so that
// nothing folds back. One sample more than a cycle spares the wrap.
type wavetable [tableBands][tableSize + 1]float64

// newWavetable adds up sines: amplitude gives each harmonic's, 1 for the
// fundamental, and phase its start in turns.
func newWavetable(rate float64, harmonics int, amplitude, phase func(n int) float64) *wavetable {
	w := new(wavetable)
	for band := range w {
		highest := int(topShare * rate / (lowestHz * math.Exp2(float64(band+1))))
		cycle := &w[band]
		for n := 1; n <= max(1, min(harmonics, highest)); n++ {
			a, turn := amplitude(n), phase(n)
			for i := range cycle {
				cycle[i] += a * math.Sin(2*math.Pi*(turn+float64(n*i%tableSize)/tableSize))
			}
		}
	}
	return w
}

// band gives the cycle for a frequency in Hz.
func (w *wavetable) band(hz float64) *[tableSize + 1]float64 {
	b := int(math.Floor(math.Log2(hz / lowestHz)))
	return &w[max(0, min(b, tableBands-1))]
}

// phaseStep gives the step of a 32-bit phase for a frequency.
func phaseStep(hz, rate float64) uint32 { return uint32(hz / rate * (1 << 32)) }

// read gives the value at a 32-bit phase, on the line between two samples.
func read(cycle *[tableSize + 1]float64, phase uint32) float64 {
	i := phase >> fracBits
	part := float64(phase&(1<<fracBits-1)) * (1.0 / (1 << fracBits))
	a := cycle[i]
	return a + part*(cycle[i+1]-a)
}
