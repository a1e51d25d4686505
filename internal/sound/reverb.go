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
	gain    [reverbLines]float64 // of a line, before its damping
	turn    float64              // of the motion, 0…1
	perTick float64
	damped  [reverbLines]float64
	keep    float64 // of damped, a frame
	low     [2]float64
	lowCut  float64
}

func (r *reverb) init(rate float64) {
	for ch := range 2 {
		for i, ms := range diffuseDelays[ch] {
			r.diffuse[ch][i] = allPass{frames: make([]float64, primeFrom(int(ms*rate/1000)))}
		}
	}
	r.keep = math.Exp(-2 * math.Pi * reverbDampHz / rate)
	for i, ms := range reverbDelays {
		n := primeFrom(int(ms * rate / 1000))
		r.lines[i] = newMovingLine(n)
		r.gain[i] = (1 - r.keep) * feedback(float64(n)/rate, reverbSeconds)
	}
	r.perTick = reverbMotionHz * tick / rate
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

// render takes frames that lie within one tick, from at on, and gives the
// room's answer to those before. No line is shorter than a tick, so that each
// can be read ahead of what is written to it.
// Hot path: no allocation.
func (r *reverb) render(at int, left, right []float64, out *[2][tick]float64) {
	n := len(left)
	var in [2][tick]float64
	for side, from := range [2][]float64{left, right} {
		to := in[side][:n]
		low := r.low[side]
		for k, x := range from {
			low += r.lowCut*(x-low) + quietBias
			to[k] = x - low
		}
		r.low[side] = low
		for i := range r.diffuse[side] {
			r.diffuse[side][i].render(to)
		}
	}
	var y [reverbLines][tick]float64
	for i := range y {
		r.lines[i].read(at, y[i][:n])
	}
	for i := 0; i < reverbLines; i += 4 { // four at once keep the processor busy
		a, b, c, d := y[i][:n], y[i+1][:n], y[i+2][:n], y[i+3][:n]
		da, db, dc, dd := r.damped[i], r.damped[i+1], r.damped[i+2], r.damped[i+3]
		ga, gb, gc, gd := r.gain[i], r.gain[i+1], r.gain[i+2], r.gain[i+3]
		for k := range a {
			da = r.keep*da + ga*a[k]
			db = r.keep*db + gb*b[k]
			dc = r.keep*dc + gc*c[k]
			dd = r.keep*dd + gd*d[k]
			a[k], b[k], c[k], d[k] = da, db, dc, dd
		}
		r.damped[i], r.damped[i+1], r.damped[i+2], r.damped[i+3] = da, db, dc, dd
	}
	for k := range n {
		y0, y1, y2, y3, y4, y5, y6, y7 := y[0][k], y[1][k], y[2][k], y[3][k], y[4][k], y[5][k], y[6][k], y[7][k]
		out[0][k] = y0 - y2 + y4 - y6
		out[1][k] = y1 - y3 + y5 - y7
		y0, y1, y2, y3, y4, y5, y6, y7 = hadamard(y0, y1, y2, y3, y4, y5, y6, y7)
		l, r := in[0][k], in[1][k]
		y[0][k], y[1][k], y[2][k], y[3][k] = y0+l, y1+r, y2+l, y3+r
		y[4][k], y[5][k], y[6][k], y[7][k] = y4+l, y5+r, y6+l, y7+r
	}
	for i := range y {
		r.lines[i].push(y[i][:n])
	}
}

// clear empties the room.
func (r *reverb) clear() {
	for ch := range 2 {
		for i := range r.diffuse[ch] {
			clear(r.diffuse[ch][i].frames)
		}
	}
	for i := range r.lines {
		clear(r.lines[i].frames)
	}
	r.damped, r.low = [reverbLines]float64{}, [2]float64{}
}

// hadamard mixes eight values with a matrix of ±1/√8, which keeps their
// energy: sums and differences of neighbours, of pairs, of fours.
func hadamard(a, b, c, d, e, f, g, h float64) (_, _, _, _, _, _, _, _ float64) {
	a, b, c, d, e, f, g, h = a+b, a-b, c+d, c-d, e+f, e-f, g+h, g-h
	a, b, c, d, e, f, g, h = a+c, b+d, a-c, b-d, e+g, f+h, e-g, f-h
	const s = 0.35355339059327373 // 1/√8
	return s * (a + e), s * (b + f), s * (c + g), s * (d + h), s * (a - e), s * (b - f), s * (c - g), s * (d - h)
}

// quietBias is far under hearing and keeps decaying filters out of the
// denormal numbers, which are slow on some processors.
const quietBias = 1e-20

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

// read fills out with what lies that far back, from at frames into the tick on,
// on the line between two frames.
func (m *movingLine) read(at int, out []float64) {
	frames, mask := m.frames, len(m.frames)-1
	back, now := m.middle+m.motion.at(at), m.at
	for k := range out {
		whole := int(back)
		part := back - float64(whole)
		a, b := frames[(now-whole)&mask], frames[(now-whole-1)&mask]
		out[k] = a + part*(b-a)
		back += m.motion.step
		now++
	}
}

func (m *movingLine) push(x []float64) {
	n := copy(m.frames[m.at:], x)
	copy(m.frames, x[n:])
	m.at = (m.at + len(x)) & (len(m.frames) - 1)
}

// allPass smears time and leaves the spectrum alone (Schroeder 1962).
type allPass struct {
	frames []float64
	at     int
}

// render takes frames, fewer than the line is long, through in their place.
func (a *allPass) render(x []float64) {
	const g = 0.6 // by ear: higher rings
	frames, at := a.frames, a.at
	for len(x) > 0 {
		n := min(len(x), len(frames)-at)
		line := frames[at : at+n]
		for k, v := range x[:n] {
			old := line[k]
			in := v - g*old
			line[k] = in
			x[k] = old + g*in
		}
		x = x[n:]
		if at += n; at == len(frames) {
			at = 0
		}
	}
	a.at = at
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
