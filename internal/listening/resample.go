package listening

import "math"

// resampler brings one channel from any rate to innerRate: each sample that comes
// out is a weighted mean of those that came in around it (windowed sinc, Blackman).
// It keeps them in a ring that is written twice, so that any stretch is in one piece.
type resampler struct {
	step    float64 // input samples from one output to the next
	taps    int
	table   []float32 // phases+1 rows of taps
	ring    []float32 // 2·taps
	at      int       // where the next sample goes, 0…taps
	pending float64   // input samples until the next output is due
}

const (
	phases = 64 // between two input samples; the nearest is taken
	lobes  = 8  // of the sinc on either side
)

func newResampler(rate float64) *resampler {
	cut := min(1, innerRate/rate) // of the input's band
	half := lobes / cut
	r := &resampler{step: rate / innerRate, taps: 2 * int(math.Ceil(half))}
	r.ring = make([]float32, 2*r.taps)
	r.table = make([]float32, (phases+1)*r.taps)
	for p := range phases + 1 {
		row, sum := r.table[p*r.taps:(p+1)*r.taps], 0.0
		for i := range row {
			// The middle lies between the taps' two middle ones, by the phase.
			x := float64(i-r.taps/2+1) - float64(p)/phases
			w := 0.0
			if u := x / half; math.Abs(u) < 1 {
				w = 0.42 + 0.5*math.Cos(math.Pi*u) + 0.08*math.Cos(2*math.Pi*u)
			}
			if x == 0 {
				row[i] = 1
			} else {
				row[i] = float32(w * math.Sin(math.Pi*x*cut) / (math.Pi * x * cut))
			}
			sum += float64(row[i])
		}
		for i := range row {
			row[i] = float32(float64(row[i]) / sum)
		}
	}
	return r
}

// put takes a sample.
func (r *resampler) put(x float32) {
	r.ring[r.at], r.ring[r.at+r.taps] = x, x
	if r.at++; r.at == r.taps {
		r.at = 0
	}
	r.pending--
}

// take gives a sample, if one is due: call it until there is none.
func (r *resampler) take() (y float32, due bool) {
	if r.pending > 0 {
		return 0, false
	}
	// pending, −1…0, is how far the wanted place lies before the newest sample.
	row := int((1+r.pending)*phases+0.5) * r.taps
	r.pending += r.step
	weights, samples := r.table[row:row+r.taps], r.ring[r.at:r.at+r.taps]
	sum := float32(0)
	for i, w := range weights {
		sum += w * samples[i]
	}
	return sum, true
}
