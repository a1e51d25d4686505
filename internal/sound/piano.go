package sound

import "math"

const (
	pianoVoices = 64
	pianoSlots  = pianoVoices + 32

	pianoLevel  = 0.34
	inaudible   = 3e-5 // amplitude at which a mode is let go: −90 dB
	softForce   = 0.82 // CC 67: what is left of the blow
	softSlope   = 3    // and the dB per kHz it is darker
	contactTime = 0.0018
)

// pianoVoice is one struck key: a bank of decaying sines, each a two-pole
// resonator left to ring.
type pianoVoice struct {
	note
	model        *pianoKey
	count        int                 // modes that still sound
	c, d, y1, y2 [maxModes]float64   // y[n] = c·y[n−1] − d·y[n−2]
	life         [maxModes + 1]int32 // ticks each will be heard
	age          int32               // ticks
	bent         float64             // pitch factor the resonators are tuned to
	rise, risen  int                 // frames of hammer contact, and past of it
	gain         float64             // of the damper
	cut          float64             // 1…0 while fading
	envelope     ramp
	strength     float64
}

func (v *pianoVoice) base() *note       { return &v.note }
func (v *pianoVoice) loudness() float64 { return v.strength * v.envelope.end }

// strike sets the modes ringing.
// O(modes), about a microsecond or two.
func (v *pianoVoice) strike(model *pianoKey, velocity byte, soft bool, rate float64) {
	force := float64(velocity) / 127
	slope := hammerSlope(force) * model.brightness
	level := pianoLevel * math.Pow(force, 1.6)
	if soft {
		level *= softForce
		slope += softSlope
	}
	v.model = model
	v.sounding, v.held, v.released, v.fading = true, true, false, false
	v.age, v.gain, v.cut, v.bent, v.strength = 0, 1, 1, 1, level*model.loudest
	v.rise = max(8, int(contactTime*model.contact*(1.6-force)*rate))
	v.risen = 0
	v.envelope.set(1)
	v.count = len(model.modes)
	perDB := math.Ln10 / 20
	for i := range model.modes {
		m := &model.modes[i]
		a := level * m.level * math.Exp(-perDB*slope*m.kilo)
		// From rest: y[0] = 0 and a sine from there.
		sin, cos := math.Sincos(m.turn)
		v.c[i] = 2 * m.decay * cos
		v.d[i] = m.decay * m.decay
		v.y1[i] = -a * sin / m.decay
		v.y2[i] = -2 * a * sin * cos / v.d[i]
		v.life[i] = 0
		if a > inaudible {
			v.life[i] = int32(math.Log(inaudible/a)/math.Log(m.decay)/tick) + 1
		}
	}
	for i := v.count; i < maxModes; i++ { // the last group of four may be part empty
		v.c[i], v.d[i], v.y1[i], v.y2[i] = 0, 0, 0, 0
	}
}

// advance starts a tick.
func (v *pianoVoice) advance(c *channel, rate float64) {
	v.age++
	v.strength *= v.model.loudestPerTick
	for v.count > 0 && v.age > v.life[v.count-1] {
		v.count--
	}
	if v.released {
		v.gain *= v.model.damp
	}
	if v.fading {
		v.cut = max(0, v.cut-tick/(fadeSeconds*rate))
	}
	v.envelope.lineTo(v.gain * smoothStep(v.cut))
	if v.count == 0 || v.gain < 1e-5 || v.envelope.start == 0 {
		v.sounding = false
		return
	}
	if c.pitchFactor != v.bent {
		v.bent = c.pitchFactor
		for i := range v.count {
			m := &v.model.modes[i]
			v.c[i] = 2 * m.decay * math.Cos(min(m.turn*v.bent, 2*math.Pi*topShare))
		}
	}
}

// add renders n frames from i frames into the tick onto the channel's bus.
// Hot path: no allocation; O(modes still heard).
func (v *pianoVoice) add(c *channel, i, n int) {
	var sums [tick][2]float64 // of every other mode
	to := sums[:n]
	for g := 0; g < v.count; g += 4 {
		c0, c1, c2, c3 := v.c[g], v.c[g+1], v.c[g+2], v.c[g+3]
		d0, d1, d2, d3 := v.d[g], v.d[g+1], v.d[g+2], v.d[g+3]
		p0, p1, p2, p3 := v.y1[g], v.y1[g+1], v.y1[g+2], v.y1[g+3]
		q0, q1, q2, q3 := v.y2[g], v.y2[g+1], v.y2[g+2], v.y2[g+3]
		k := 0
		for ; k+1 < len(to); k += 2 { // two frames a turn: the values change places without moving
			now, next := &to[k], &to[k+1]
			q0 = c0*p0 - d0*q0
			q2 = c2*p2 - d2*q2
			now[0] += q0 + q2
			q1 = c1*p1 - d1*q1
			q3 = c3*p3 - d3*q3
			now[1] += q1 + q3
			p0 = c0*q0 - d0*p0
			p2 = c2*q2 - d2*p2
			next[0] += p0 + p2
			p1 = c1*q1 - d1*p1
			p3 = c3*q3 - d3*p3
			next[1] += p1 + p3
		}
		if k < len(to) {
			p0, q0 = c0*p0-d0*q0, p0
			p1, q1 = c1*p1-d1*q1, p1
			p2, q2 = c2*p2-d2*q2, p2
			p3, q3 = c3*p3-d3*q3, p3
			to[k][0] += p0 + p2
			to[k][1] += p1 + p3
		}
		v.y1[g], v.y1[g+1], v.y1[g+2], v.y1[g+3] = p0, p1, p2, p3
		v.y2[g], v.y2[g+1], v.y2[g+2], v.y2[g+3] = q0, q1, q2, q3
	}
	for k := 0; k < n && v.risen < v.rise; k++ {
		e := smoothStep(float64(v.risen) / float64(v.rise))
		to[k][0] *= e
		to[k][1] *= e
		v.risen++
	}
	m := v.model
	left, right := c.bus[0][i:i+n], c.bus[1][i:i+n]
	frame := float64(i)
	for k := range to {
		e := v.envelope.start + v.envelope.step*frame
		frame++
		x, y := e*to[k][0], e*to[k][1]
		left[k] += m.aLeft*x + m.bLeft*y
		right[k] += m.aRight*x + m.bRight*y
	}
}
