package sound

import "math"

const (
	interTaps   = 16            // samples an in-between value is made from
	interDelay  = interTaps / 2 // samples from push to the value's place
	interPhases = 4             // 4× oversampling (ITU-R BS.1770-4, Annex 2)
)

// interTable holds, for each quarter of the way between two samples, the
// weights of their neighbours: a sinc under a Kaiser window of shape 6. The
// Annex's own table has 12 taps; ours is longer and flatter at the top.
var interTable = func() (table [interPhases][interTaps]float64) {
	const beta = 6
	for p := range table {
		sum := 0.0
		for k := range table[p] {
			x := float64(k-interDelay+1) - float64(p)/interPhases
			w := 1.0
			if x != 0 {
				w = math.Sin(math.Pi*x) / (math.Pi * x)
			}
			edge := x / interDelay
			w *= besselI0(beta*math.Sqrt(max(0, 1-edge*edge))) / besselI0(beta)
			table[p][k] = w
			sum += w
		}
		for k := range table[p] {
			table[p][k] /= sum
		}
	}
	return table
}()

// besselI0 is the modified Bessel function of order 0, by its power series.
func besselI0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; k < 40; k++ {
		term *= (x / 2 / k) * (x / 2 / k)
		sum += term
	}
	return sum
}

// interpolator finds the peak of one channel between its samples.
type interpolator struct {
	recent [2 * interTaps]float64 // the last samples, twice, so that any window is in one piece
	at     int
	hot    int // pushes until every recent sample is under the floor
}

// push takes the next sample and gives the highest absolute value from the
// sample interDelay pushes ago up to the one after it. Where all samples
// around stay under floor it is the sample's own value, which saves the
// work for quiet sound.
// Hot path: no allocation.
func (p *interpolator) push(x, floor float64) float64 {
	p.recent[p.at], p.recent[p.at+interTaps] = x, x
	p.at = (p.at + 1) % interTaps
	around := (*[interTaps]float64)(p.recent[p.at:])
	peak := math.Abs(around[interDelay-1])
	if math.Abs(x) > floor {
		p.hot = interTaps
	}
	if p.hot == 0 {
		return peak
	}
	p.hot--
	for phase := 1; phase < interPhases; phase++ {
		weights := &interTable[phase]
		sum := 0.0
		for k, w := range weights {
			sum += w * around[k]
		}
		peak = max(peak, math.Abs(sum))
	}
	return peak
}

// quiet reports whether push would give nothing but the values of samples and
// those before: all are under the floor.
func (p *interpolator) quiet(samples []float64, floor float64) bool {
	if p.hot > 0 {
		return false
	}
	for _, x := range samples {
		if !(math.Abs(x) <= floor) {
			return false
		}
	}
	return true
}

// take is push for samples that are quiet.
// Hot path: no allocation.
func (p *interpolator) take(samples []float64) {
	at := p.at + len(samples)
	last := samples[max(0, len(samples)-interTaps):]
	for i, x := range last {
		k := (at - len(last) + i) % interTaps
		p.recent[k], p.recent[k+interTaps] = x, x
	}
	p.at = at % interTaps
}
