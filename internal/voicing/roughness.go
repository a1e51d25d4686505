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
)

// PureRoughness gives the roughness of two pure tones of f1 and f2 Hz with
// amplitude a, the smaller of the two.
func PureRoughness(f1, f2, a float64) float64 {
	x := roughX * math.Abs(f2-f1) / (roughS1*min(f1, f2) + roughS2)
	return roughScale * a * (math.Exp(-roughB1*x) - math.Exp(-roughB2*x))
}

// between gives the roughness of each partial of one harmonic tone of f1 Hz
// with each of another of f2 Hz; the amplitudes are linear, the fundamental
// first.
func between(f1, f2 float64, amp1, amp2 []float64) float64 {
	sum := 0.0
	for i, a := range amp1 {
		for j, b := range amp2 {
			sum += PureRoughness(f1*float64(i+1), f2*float64(j+1), min(a, b))
		}
	}
	return sum
}

// Partials is how many harmonics of a note count for its roughness.
const Partials = 6

// padPartials holds the warm pad's harmonics in dB re the fundamental of C4,
// a row for each C from C2 to C6. Measured on internal/sound: each the mean of
// six keys about its C, held at velocity 80 with the pad's own room and chorus;
// a single key lies up to 6 dB beside it. TestPadHasThePartialsOfTheVoicings
// there measures it anew.
var padPartials = [5][Partials]float64{
	{1, -7, -12, -20, -21, -28},
	{3, -11, -15, -25, -28, -34},
	{0, -14, -21, -31, -35, -41},
	{-2, -19, -28, -38, -42, -49},
	{-6, -26, -35, -45, -50, -57},
}

// PadPartials gives the amplitudes of the warm pad's harmonics at a MIDI note,
// 1 being the fundamental of C4; between the measured notes they go evenly in
// dB, below C2 and above C6 they stay.
func PadPartials(note uint8) (amp [Partials]float64) {
	const lowest = 36
	at := min(max(0, float64(note)-lowest)/12, float64(len(padPartials)-1))
	row := min(int(at), len(padPartials)-2)
	part := at - float64(row)
	for i := range amp {
		dB := padPartials[row][i] + part*(padPartials[row+1][i]-padPartials[row][i])
		amp[i] = math.Pow(10, dB/20)
	}
	return amp
}

// Roughness gives what two MIDI notes of the warm pad rub against each other,
// partial by partial; what each has inside itself, sounding alone, is not in it.
func Roughness(low, high uint8) float64 {
	a, b := PadPartials(low), PadPartials(high)
	return between(hertz(low), hertz(high), a[:], b[:])
}

// hertz gives equal temperament on A4 = 440 Hz (ISO 16:1975).
func hertz(note uint8) float64 { return 440 * math.Exp2((float64(note)-69)/12) }

// roughTable holds Roughness for every pair of notes in low…high.
type roughTable struct {
	low, width int
	values     []float32
}

func newRoughTable(low, high int) roughTable {
	t := roughTable{low: low, width: high - low + 1}
	t.values = make([]float32, t.width*t.width)
	for i := range t.width {
		for j := range i {
			r := float32(Roughness(uint8(low+j), uint8(low+i)))
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
