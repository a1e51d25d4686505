package sound

import "math"

const (
	reverbLines   = 8
	reverbSeconds = 2.4  // T60 at low and middle frequencies; by ear: a large, soft room
	reverbDampHz  = 2600 // one-pole in each line, so that the tail darkens
	reverbLowHz   = 140  // what is below stays out of the room and does not boom

	// The lines' lengths move by this many frames either way, so that no mode
	// of the network stands still and whistles. Both by ear: more is heard as
	// a chorus.
	reverbMotion   = 7
	reverbMotionHz = 0.31
)

// reverbDelays are the lines' lengths in milliseconds, made prime in frames
// so that no two echoes of them coincide. By ear.
var reverbDelays = [reverbLines]float64{31.7, 37.3, 43.1, 48.7, 55.9, 61.3, 68.9, 77.1}

// diffuseDelays are the lengths of the all-passes in front, in milliseconds.
var diffuseDelays = [2][4]float64{{4.9, 7.7, 11.3, 16.1}, {5.3, 7.1, 12.1, 15.1}}

// reverb is a feedback delay network (Jot & Chaigne 1991): eight lines mixed
// by a Hadamard matrix, so that it loses energy only where we want it to.
type reverb struct {
	diffuse [2][4]allPass
	lines   [reverbLines]movingLine
	gain    [reverbLines]float64
	turn    float64 // of the motion, 0…1
	perTick float64
	damped  [reverbLines]float64
	damp    float64
	low     [2]float64
	lowCut  float64
}

func (r *reverb) init(rate float64) {
	for ch := range 2 {
		for i, ms := range diffuseDelays[ch] {
			r.diffuse[ch][i] = allPass{line: newDelayLine(primeFrom(int(ms * rate / 1000)))}
		}
	}
	for i, ms := range reverbDelays {
		n := primeFrom(int(ms * rate / 1000))
		r.lines[i] = newMovingLine(n)
		r.gain[i] = feedback(float64(n)/rate, reverbSeconds)
	}
	r.perTick = reverbMotionHz * tick / rate
	r.damp = 1 - math.Exp(-2*math.Pi*reverbDampHz/rate)
	r.lowCut = 1 - math.Exp(-2*math.Pi*reverbLowHz/rate)
}

// feedback gives the gain of a loop with a delay in seconds that loses 60 dB
// in t60 seconds.
func feedback(seconds, t60 float64) float64 { return math.Pow(10, -3*seconds/t60) }

// advance starts a tick.
func (r *reverb) advance() {
	r.turn += r.perTick
	r.turn -= math.Floor(r.turn)
	for i := range r.lines {
		// Each at a place of its own in the turn, and every other one faster.
		turn := r.turn*float64(1+i%2) + float64(i)/reverbLines
		r.lines[i].motion.lineTo(reverbMotion * math.Sin(2*math.Pi*turn))
	}
}

// next takes the frame that is at frames into the tick and gives the room's
// answer to those before.
// Hot path: no allocation.
func (r *reverb) next(at int, left, right float64) (float64, float64) {
	in := [2]float64{left, right}
	for ch := range in {
		r.low[ch] += r.lowCut*(in[ch]-r.low[ch]) + quietBias
		x := in[ch] - r.low[ch]
		for i := range r.diffuse[ch] {
			x = r.diffuse[ch][i].next(x)
		}
		in[ch] = x
	}
	var y [reverbLines]float64
	for i := range y {
		r.damped[i] += r.damp * (r.lines[i].read(at)*r.gain[i] - r.damped[i])
		y[i] = r.damped[i]
	}
	outLeft := y[0] - y[2] + y[4] - y[6]
	outRight := y[1] - y[3] + y[5] - y[7]
	hadamard(&y)
	for i := range y {
		r.lines[i].push(y[i] + in[i%2])
	}
	return outLeft, outRight
}

// clear empties the room.
func (r *reverb) clear() {
	for ch := range 2 {
		for i := range r.diffuse[ch] {
			clear(r.diffuse[ch][i].line.frames)
		}
	}
	for i := range r.lines {
		clear(r.lines[i].frames)
	}
	r.damped, r.low = [reverbLines]float64{}, [2]float64{}
}

// hadamard mixes eight values with a matrix of ±1/√8, which keeps their
// energy.
func hadamard(y *[reverbLines]float64) {
	for span := 1; span < reverbLines; span *= 2 {
		for i := 0; i < reverbLines; i += 2 * span {
			for j := i; j < i+span; j++ {
				a, b := y[j], y[j+span]
				y[j], y[j+span] = a+b, a-b
			}
		}
	}
	for i := range y {
		y[i] *= 0.35355339059327373 // 1/√8
	}
}

// quietBias is far under hearing and keeps decaying filters out of the
// denormal numbers, which are slow on some processors.
const quietBias = 1e-20

// delayLine gives back what was pushed len(frames) pushes ago.
type delayLine struct {
	frames []float64
	at     int
}

func newDelayLine(n int) delayLine { return delayLine{frames: make([]float64, n)} }

func (d *delayLine) oldest() float64 { return d.frames[d.at] }

func (d *delayLine) push(x float64) {
	d.frames[d.at] = x
	if d.at++; d.at == len(d.frames) {
		d.at = 0
	}
}

// movingLine is a delay line whose length moves around its middle.
type movingLine struct {
	frames []float64
	at     int
	middle float64
	motion ramp // frames from the middle
}

func newMovingLine(n int) movingLine {
	size := 1
	for size < n+reverbMotion+2 {
		size *= 2
	}
	return movingLine{frames: make([]float64, size), middle: float64(n)}
}

// read gives the value that far back, i frames into the tick, on the line
// between two frames.
func (m *movingLine) read(i int) float64 {
	back := m.middle + m.motion.at(i)
	whole := int(back)
	part := back - float64(whole)
	mask := len(m.frames) - 1
	a, b := m.frames[(m.at-whole)&mask], m.frames[(m.at-whole-1)&mask]
	return a + part*(b-a)
}

func (m *movingLine) push(x float64) {
	m.frames[m.at] = x
	m.at = (m.at + 1) & (len(m.frames) - 1)
}

// allPass smears time and leaves the spectrum alone (Schroeder 1962).
type allPass struct{ line delayLine }

func (a *allPass) next(x float64) float64 {
	const g = 0.6 // by ear: higher rings
	old := a.line.oldest()
	in := x - g*old
	a.line.push(in)
	return old + g*in
}

// primeFrom gives the first prime from n up.
func primeFrom(n int) int {
	for ; ; n++ {
		prime := n > 1
		for d := 2; d*d <= n; d++ {
			if n%d == 0 {
				prime = false
				break
			}
		}
		if prime {
			return n
		}
	}
}
