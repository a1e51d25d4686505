package voicing

import "math"

// Sensory roughness of two pure tones after Plomp & Levelt 1965, in the fit of
// Sethares 1993 ("Local consonance and the relationship between timbre and
// scale", J. Acoust. Soc. Am. 94): with x = s·Δf and s = 0.24/(s1·f + s2),
// f the lower of the two, d = a·(e^(−b1·x) − e^(−b2·x)). These are the constants
// of the author's later program, scaled by five; b1 and the scale from memory.
const (
	roughX     = 0.24
	roughS1    = 0.0207
	roughS2    = 18.96
	roughB1    = 3.51
	roughB2    = 5.75
	roughScale = 5

	partials     = 6    // enough for a soft pad
	partialDecay = 0.88 // amplitude of each partial over the one below
)

// PureRoughness gives the roughness of two pure tones of f1 and f2 Hz with
// amplitude a, the smaller of the two.
func PureRoughness(f1, f2, a float64) float64 {
	x := roughX * math.Abs(f2-f1) / (roughS1*min(f1, f2) + roughS2)
	return roughScale * a * (math.Exp(-roughB1*x) - math.Exp(-roughB2*x))
}

// Roughness gives the roughness of two MIDI notes together, each with six
// harmonic partials that fall by 0.88. What each note has inside itself counts
// too, as in the published model; it is the same for every voicing of a note.
func Roughness(low, high uint8) float64 {
	var freq, amp [2 * partials]float64
	for i, note := range [2]uint8{low, high} {
		f := 440 * math.Exp2((float64(note)-69)/12)
		a := 1.0
		for k := range partials {
			freq[i*partials+k], amp[i*partials+k] = f*float64(k+1), a
			a *= partialDecay
		}
	}
	sum := 0.0
	for i := range freq {
		for j := range i {
			sum += PureRoughness(freq[i], freq[j], min(amp[i], amp[j]))
		}
	}
	return sum
}

// between gives what two notes add to each other's roughness.
func between(low, high uint8) float64 {
	f1 := 440 * math.Exp2((float64(low)-69)/12)
	f2 := 440 * math.Exp2((float64(high)-69)/12)
	var amp [partials]float64
	amp[0] = 1
	for k := 1; k < partials; k++ {
		amp[k] = amp[k-1] * partialDecay
	}
	sum := 0.0
	for i := range partials {
		for j := range partials {
			sum += PureRoughness(f1*float64(i+1), f2*float64(j+1), min(amp[i], amp[j]))
		}
	}
	return sum
}

// roughTable holds between for every pair of notes in low…high.
type roughTable struct {
	low, width int
	values     []float32
}

func newRoughTable(low, high int) roughTable {
	t := roughTable{low: low, width: high - low + 1}
	t.values = make([]float32, t.width*t.width)
	for i := range t.width {
		for j := range i {
			r := float32(between(uint8(low+j), uint8(low+i)))
			t.values[i*t.width+j], t.values[j*t.width+i] = r, r
		}
	}
	return t
}

func (t *roughTable) between(a, b uint8) float64 {
	return float64(t.values[(int(a)-t.low)*t.width+int(b)-t.low])
}

// of sums the roughness between all notes of v.
func (t *roughTable) of(v *Voicing) float64 {
	sum := 0.0
	for i, n := range v.Notes() {
		if v.Bass != NoBass {
			sum += t.between(v.Bass, n)
		}
		for _, m := range v.Upper[:i] {
			sum += t.between(m, n)
		}
	}
	return sum
}
