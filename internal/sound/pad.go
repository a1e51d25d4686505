package sound

import (
	"math"
	"math/rand/v2"
)

const (
	padVoices = 32 // sounding at once: two layers of a bed, a released chord each, and the player
	padSlots  = padVoices + 16

	unison    = 3      // oscillators a voice: one in the middle, one on each side
	sideShare = 0.36   // of the middle one; by ear: deeper beating is heard as a wobble
	sideHz    = 0.3    // detuning of the sides at C4, so that a beat takes about 3 s
	sideCents = 2.2    // and never more than this
	driftRate = 0.11   // Hz, about
	driftPart = 0.0006 // ±1 cent

	breathHz = 900 // from about here up notes have less breath; by ear
)

// padSound is what makes one pad differ from the other. Set by ear, with the
// long-term spectrum in view: little may be left from 1 to 4 kHz, where
// speech is understood.
type padSound struct {
	wave            *wavetable
	level           float64
	attack, release float64 // seconds
	cutoff          float64 // Hz at C4 and CC 74 = 64
	track           float64 // octaves of cutoff for an octave of pitch
	breath          float64 // noise around the second harmonic
}

func newPadSounds(rate float64, random *rand.Rand) (sounds [air + 1]padSound) {
	turns := make([]float64, 64)
	for i := range turns {
		turns[i] = random.Float64()
	}
	phase := func(n int) float64 { return turns[n-1] }
	sounds[warm] = padSound{
		wave: newWavetable(rate, 40, func(n int) float64 {
			a := math.Pow(float64(n), -1.2)
			if n%2 == 0 {
				a *= 0.8
			}
			return a
		}, phase),
		level: 0.070, attack: 0.7, release: 1.3, cutoff: 400, track: 0.4,
	}
	sounds[air] = padSound{
		wave: newWavetable(rate, 8, func(n int) float64 {
			return []float64{1, 0.22, 0.09, 0.05, 0.012, 0.010, 0.004, 0.004}[n-1]
		}, phase),
		level: 0.050, attack: 1.0, release: 1.6, cutoff: 750, track: 0.4, breath: 0.7,
	}
	return sounds
}

// padVoice is one note of a pad.
type padVoice struct {
	note
	sound    *padSound
	hz       float64
	strength float64 // from velocity, on its way to
	aim      float64
	phase    [unison]uint32
	step     [unison]uint32
	detune   [unison]float64 // as a part of the frequency
	drift    [unison]float64 // turns
	driftBy  [unison]float64 // turns a tick
	cycle    *[tableSize + 1]float64
	octaves  float64 // from C4
	progress float64 // through the envelope, 0…1
	cut      float64 // 1…0 while fading
	envelope ramp
	filters  [2]stateVariable
	opened   float64 // octaves of cutoff the filters were last set for
	bent     float64
	noise    uint32
	breath   stateVariable
	breathy  float64 // level of the noise
}

func (v *padVoice) base() *note       { return &v.note }
func (v *padVoice) loudness() float64 { return v.envelope.end }

// strike starts the note, or takes it up again from where its envelope is.
func (v *padVoice) strike(sound *padSound, c *channel, velocity byte, rate float64, random *rand.Rand) {
	v.sound = sound
	// A gentle law: a bed's loudness is its controllers' business.
	v.aim = math.Pow(float64(velocity)/100, 0.6)
	v.held, v.released = true, false
	if v.sounding {
		return
	}
	v.sounding, v.fading = true, false
	v.hz = keyHz(v.key)
	v.progress, v.cut, v.strength = 0, 1, v.aim
	v.envelope.set(0)
	v.filters = [2]stateVariable{}
	v.breath = stateVariable{}
	v.opened, v.bent = math.NaN(), math.NaN()
	v.noise = random.Uint32() | 1
	// High notes breathe less: theirs would be heard as hiss, where speech is
	// understood.
	v.breathy = sound.breath / (1 + (v.hz/breathHz)*(v.hz/breathHz))
	side := min(sideHz*math.Sqrt(v.hz/middleC)/v.hz, sideCents*math.Ln2/1200)
	for i := range unison {
		v.phase[i] = random.Uint32()
		v.drift[i] = random.Float64()
		v.driftBy[i] = driftRate * (0.6 + 0.8*random.Float64()) * tick / rate
		v.detune[i] = side * float64([unison]int{0, 1, -1}[i])
	}
	v.advance(c, rate)
	v.envelope.set(0)
}

// advance starts a tick.
func (v *padVoice) advance(c *channel, rate float64) {
	if v.released {
		v.progress -= tick / (v.sound.release * rate)
	} else {
		v.progress += tick / (v.sound.attack * rate)
	}
	v.progress = max(0, min(1, v.progress))
	v.strength += tick / (v.sound.attack * rate) * (v.aim - v.strength)
	if v.fading {
		v.cut = max(0, v.cut-tick/(fadeSeconds*rate))
	}
	v.envelope.lineTo(v.sound.level * v.strength * smoothStep(v.progress) * smoothStep(v.cut))
	if v.envelope.start == 0 && v.envelope.end == 0 && (v.released || v.fading) {
		v.sounding = false
		return
	}
	hz := min(v.hz*c.pitchFactor, topShare*rate)
	if hz != v.bent {
		v.bent = hz
		v.cycle = v.sound.wave.band(hz)
		v.octaves = math.Log2(hz / middleC)
	}
	for i := range unison {
		v.drift[i] += v.driftBy[i]
		v.drift[i] -= math.Floor(v.drift[i])
		v.step[i] = phaseStep(hz*(1+v.detune[i]+driftPart*wave(v.drift[i])), rate)
	}
	// The filter opens a little with the envelope, as a bow or breath would.
	opened := c.cutoff.end - 0.5*(1-v.progress) + v.sound.track*v.octaves
	if math.Abs(opened-v.opened) > 1e-3 || v.opened != v.opened {
		v.opened = opened
		cutoff := v.sound.cutoff * math.Exp2(opened)
		for i := range v.filters {
			v.filters[i].tune(cutoff, 0.6, rate)
		}
		v.breath.tune(min(2*hz, 3000), 5, rate)
	}
}

// add renders n frames from i frames into the tick onto the channel's bus.
// Hot path: no allocation.
func (v *padVoice) add(c *channel, i, n int) {
	cycle := v.cycle
	p0, p1, p2 := v.phase[0], v.phase[1], v.phase[2]
	s0, s1, s2 := v.step[0], v.step[1], v.step[2]
	left, right := v.filters[0], v.filters[1] // copies, which stay in registers
	breath := v.breathy
	outLeft, outRight := c.bus[0][i:i+n], c.bus[1][i:i+n]
	frame := float64(i)
	for k := range outLeft {
		middle := read(cycle, p0)
		l := middle + sideShare*read(cycle, p1)
		r := middle + sideShare*read(cycle, p2)
		p0, p1, p2 = p0+s0, p1+s1, p2+s2
		if breath != 0 {
			v.noise ^= v.noise << 13
			v.noise ^= v.noise >> 17
			v.noise ^= v.noise << 5
			_, band := v.breath.next(float64(int32(v.noise)) * (1.0 / (1 << 31)))
			l += breath * band
			r += breath * band
		}
		l, _ = left.next(l)
		r, _ = right.next(r)
		e := v.envelope.start + v.envelope.step*frame
		frame++
		outLeft[k] += e * l
		outRight[k] += e * r
	}
	v.filters[0], v.filters[1] = left, right
	v.phase = [unison]uint32{p0, p1, p2}
}

// stateVariable is a two-pole filter with trapezoidal integrators: the
// bilinear transform of the analogue one, safe to retune while it runs
// (Zavalishin, The Art of VA Filter Design). It is written as a step from one
// state to the next, in which little waits for anything else; each output is
// the middle of an old and a new state.
type stateVariable struct {
	keep1, cross, keep2, in2 float64 // cross is also the way in to s1
	s1, s2                   float64
}

// tune sets the corner in Hz and the resonance; the gain at the corner is Q.
func (f *stateVariable) tune(hz, q, rate float64) {
	g := math.Tan(math.Pi * min(hz, 0.45*rate) / rate)
	a := 1 / (1 + g*(g+1/q))
	f.keep1 = 2*a - 1
	f.cross = 2 * g * a
	f.in2 = 2 * g * g * a
	f.keep2 = 1 - f.in2
}

func (f *stateVariable) next(x float64) (low, band float64) {
	s1, s2 := f.s1, f.s2
	f.s1 = f.keep1*s1 - f.cross*s2 + f.cross*x
	f.s2 = f.cross*s1 + f.keep2*s2 + f.in2*x
	return 0.5 * (s2 + f.s2), 0.5 * (s1 + f.s1)
}

// smoothStep goes from 0 to 1 with level ends.
func smoothStep(x float64) float64 { return x * x * (3 - 2*x) }

// wave goes from 0 to 1, −1 and back in a turn, 0…1, on two parabolas.
func wave(turn float64) float64 {
	x := 2*turn - 1
	return 4 * x * (math.Abs(x) - 1)
}

// middleC is C4 in Hz.
var middleC = keyHz(60)

// keyHz gives equal temperament on A4 = 440 Hz (ISO 16:1975).
func keyHz(key byte) float64 { return 440 * math.Exp2((float64(key)-69)/12) }
