package talks

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"time"
)

// Sounds makes something that is no speech, about as loud as it is in a room where
// somebody speaks into a microphone with a root mean square of 0.06.
func Sounds(what What, length time.Duration, seed uint64) []float32 {
	n := int(length.Seconds() * Rate)
	switch what {
	case Clapping:
		return scaled(Claps(n, 20, seed), 0.12)
	case Singing:
		return scaled(Sings(n, 3, seed), 0.06)
	case Cough:
		return scaled(Coughs(n, seed), 0.12)
	}
	return make([]float32, n)
}

func scaled(x []float32, level float64) []float32 {
	y := make([]float32, len(x))
	add(y, x, level)
	return y
}

// Pink makes noise whose power falls by 3 dB an octave from 20 Hz on: white noise
// through a row of poles and zeros, four of each a decade.
func Pink(n int, seed uint64) []float32 {
	r := rand.New(rand.NewPCG(seed, 3))
	type section struct{ pole, zero, before, last float64 }
	var row []section
	ratio := math.Pow(10, 0.25)
	for f := 20.0; f*math.Sqrt(ratio) < Rate/2; f *= ratio {
		row = append(row, section{pole: math.Exp(-2 * math.Pi * f / Rate), zero: math.Exp(-2 * math.Pi * f * math.Sqrt(ratio) / Rate)})
	}
	out := make([]float32, n)
	for i := range out {
		x := r.NormFloat64()
		for k := range row {
			s := &row[k]
			y := x - s.zero*s.before + s.pole*s.last
			s.before, s.last = x, y
			x = y
		}
		out[i] = float32(x)
	}
	return scaled(out, 0.1)
}

// Pad makes a soft pad: chords of four notes in turn, eight seconds each, two voices
// a note that beat.
func Pad(n int, seed uint64) []float32 {
	r := rand.New(rand.NewPCG(seed, 4))
	out := make([]float32, n)
	sounds := make([]float64, fade+bar) // one chord
	for start, chord := 0, 0; start < n; start, chord = start+bar, chord+1 {
		clear(sounds)
		for _, note := range [...][4]float64{{48, 55, 60, 64}, {53, 57, 60, 64}, {45, 57, 60, 64}, {50, 57, 62, 65}}[chord%4] {
			for range 2 {
				cents := 4 * r.NormFloat64()
				f := 440 * math.Exp2((note-69+cents/100)/12)
				for h := 1.0; h <= 6 && f*h < 4000; h++ {
					at := cmplx.Rect(1/(h*h), 2*math.Pi*r.Float64())
					turn := cmplx.Rect(1, 2*math.Pi*f*h/Rate)
					for i := range sounds {
						at *= turn
						sounds[i] += imag(at)
					}
				}
			}
		}
		for i := max(start-fade, 0); i < min(start+bar, n); i++ {
			out[i] += float32(sounds[i-start+fade] * chordLevel(i-start, start > 0))
		}
	}
	return scaled(out, 0.1)
}

// How long a chord of the pad lasts, and takes to come and go, in frames.
const (
	bar  = 8 * Rate
	fade = Rate
)

// chordLevel is how much of a chord sounds, 0…1, some frames after its start: it
// comes in while the one before goes out.
func chordLevel(since int, comesIn bool) float64 {
	part := 1.0
	switch left := bar - since; {
	case left < fade:
		part = float64(left) / fade
	case since < 0 && comesIn:
		part = float64(since+fade) / fade
	}
	return 0.5 - 0.5*math.Cos(math.Pi*part)
}

// comesBack is what a microphone gets of a loudspeaker: 23 ms late, duller, with two
// reflections.
func comesBack(plays []float32) []float32 {
	out := make([]float32, len(plays))
	low := 0.0
	for i := range out {
		for _, path := range [...]struct{ ms, gain float64 }{{23, 1}, {41, 0.4}, {67, -0.25}} {
			if k := i - int(path.ms*Rate/1000); k >= 0 {
				out[i] += float32(path.gain) * plays[k]
			}
		}
		low += (float64(out[i]) - low) * (1 - math.Exp(-2*math.Pi*3000/Rate))
		out[i] = float32(low)
	}
	return out
}

// resonance lets a band pass (two poles).
type resonance struct{ a, b, y1, y2 float64 }

func newResonance(hz, width float64) resonance {
	r := math.Exp(-math.Pi * width / Rate)
	return resonance{a: 2 * r * math.Cos(2*math.Pi*hz/Rate), b: -r * r}
}

func (r *resonance) step(x float64) float64 {
	y := x + r.a*r.y1 + r.b*r.y2
	r.y1, r.y2 = y, r.y1
	return y
}

// Claps makes applause: people who clap some three to five times a second (Peltola et
// al. 2007, IEEE TASLP 15, from memory), each with hands that ring at their own pitch
// and die away in some ten milliseconds.
func Claps(n, people int, seed uint64) []float32 {
	r := rand.New(rand.NewPCG(seed, 5))
	out := make([]float32, n)
	for range people {
		hands, rate, size := newResonance(800+1600*r.Float64(), 900), 3+2*r.Float64(), 0.5+r.Float64()
		for at := r.Float64() / rate; at < float64(n)/Rate; at += (1 + 0.08*r.NormFloat64()) / rate {
			decay := (0.006 + 0.006*r.Float64()) * Rate
			for i, from := 0, int(at*Rate); i < int(8*decay) && from+i < n; i++ {
				x := r.NormFloat64() * math.Exp(-float64(i)/decay)
				out[from+i] += float32(size * (0.3*x + 0.2*hands.step(x)))
			}
		}
	}
	return out
}

// Sings makes people who sing a slow tune together: harmonics with vibrato of 5.5 Hz,
// through the formants of an open vowel (Peterson & Barney 1952, men's /ɑ/: 730, 1090,
// 2440 Hz).
func Sings(n, people int, seed uint64) []float32 {
	r := rand.New(rand.NewPCG(seed, 6))
	out := make([]float32, n)
	tune := []float64{55, 57, 59, 60, 62, 60, 59, 57}
	for range people {
		formants := []resonance{newResonance(730, 90), newResonance(1090, 110), newResonance(2440, 170)}
		octave := 12 * float64(r.IntN(2))
		off, wobble := 0.08*r.NormFloat64(), 2*math.Pi*r.Float64()
		note, phase := tune[0], 0.0
		for i := range out {
			at := float64(i) / Rate
			want := tune[int(at/1.2)%len(tune)]
			note += (want - note) * 15 / Rate // a glide of some 70 ms
			f := 440 * math.Exp2((note+octave+off+0.4*math.Sin(2*math.Pi*5.5*at+wobble)-69)/12)
			phase = math.Mod(phase+2*math.Pi*f/Rate, 2*math.Pi)
			x := 0.0
			for h := 1.0; h <= 12 && h*f < 4000; h++ {
				x += math.Sin(h*phase) / h
			}
			for k := range formants {
				out[i] += float32(0.05 * formants[k].step(x))
			}
		}
	}
	return out
}

// Coughs makes one cough at the beginning: two bursts of noise in a third of a
// second.
func Coughs(n int, seed uint64) []float32 {
	r := rand.New(rand.NewPCG(seed, 7))
	out := make([]float32, n)
	throat, mouth := newResonance(600, 300), newResonance(1500, 500)
	for i := range out {
		at := float64(i) / Rate
		env := burst(at, 0.01, 0.06) + 0.5*burst(at-0.18, 0.02, 0.05)
		x := r.NormFloat64() * env
		out[i] = float32(throat.step(x) + mouth.step(x))
	}
	return out
}

// burst rises and dies away.
func burst(at, rise, decay float64) float64 {
	switch {
	case at < 0:
		return 0
	case at < rise:
		return at / rise
	}
	return math.Exp(-(at - rise) / decay)
}
