// Package talks makes synthetic talks whose intensity is known.
package talks

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"
)

// Talk is what a microphone hears of somebody's talk, and what is true of it.
type Talk struct {
	Rate      int       // Hz
	Samples   []float32 // what the microphone hears, one channel
	Known     []float32 // what bedd itself plays meanwhile, nil for nothing
	Truth     []Point   // the scripted intensity, four times a second
	Sentences []Sentence
	Others    []Other // what is heard besides, between sentences
}

// Point is the scripted intensity at a time.
type Point struct {
	At        time.Duration
	Intensity float64 // 0…1
}

// Span is from a time to before another.
type Span struct{ From, To time.Duration }

// Sentence is one that is spoken without a pause longer than a comma's.
type Sentence struct {
	Span
	Text      string
	Intensity float64 // what it is spoken with, 0…1
	Syllables int     // as espeak-ng pronounces it
}

// Other is something that is no speech.
type Other struct {
	Span
	What What
}

// What is heard besides speech.
type What uint8

// What is heard.
const (
	Quiet What = iota
	Clapping
	Singing
	Cough
)

func (w What) String() string {
	return [...]string{"quiet", "clapping", "singing", "cough"}[w]
}

// Length is how long the talk takes.
func (t Talk) Length() time.Duration {
	return time.Duration(len(t.Samples)) * time.Second / time.Duration(t.Rate)
}

// Voice is an invented speaker.
type Voice struct {
	Name   string  // espeak-ng's -v
	Words  float64 // a minute at intensity ½, espeak-ng's -s
	Pitch  float64 // at intensity ½, espeak-ng's -p, 0…99
	Louder float64 // dB from intensity 0 to 1
	Faster float64 // times as fast at intensity 1 as at 0
	Higher float64 // of espeak-ng's -p, from intensity 0 to 1
}

// Voices are invented: low and high ones, calm and lively, and one that tells by its
// pitch and rate alone, as behind a compressor.
func Voices() []Voice {
	return []Voice{
		{Name: "en-gb", Words: 155, Pitch: 45, Louder: 10, Faster: 1.25, Higher: 30},
		{Name: "en-us+f3", Words: 165, Pitch: 50, Louder: 8, Faster: 1.3, Higher: 30},
		{Name: "en-us+m3", Words: 145, Pitch: 40, Louder: 12, Faster: 1.15, Higher: 20},
		{Name: "en-gb-scotland+f5", Words: 160, Pitch: 50, Louder: 6, Faster: 1.25, Higher: 35},
		{Name: "en-gb+m7", Words: 160, Pitch: 40, Louder: 0, Faster: 1.3, Higher: 45},
	}
}

// Curve is an intensity 0…1 by time. Those here are invented.
type Curve func(time.Duration) float64

// Swells goes evenly between calm and moved, once in a time.
func Swells(every time.Duration) Curve {
	return func(at time.Duration) float64 { return 0.5 - 0.5*math.Cos(2*math.Pi*at.Seconds()/every.Seconds()) }
}

// Builds tells quietly for a while, grows to its end, twice: two thirds of the way
// the first time, all of it the second.
func Builds(length time.Duration) Curve {
	return func(at time.Duration) float64 {
		const half = 0.5
		x := at.Seconds() / length.Seconds()
		top, x := 1.0, math.Mod(x, half)/half
		if at < length/2 {
			top = 0.7
		}
		grow := min(max((x-0.2)/0.55, 0), 1)
		back := min(max((1-x)/0.12, 0), 1)
		return top * min(grow*grow*(3-2*grow), back)
	}
}

// Wanders goes up and down without a plan, by a seed.
func Wanders(seed uint64) Curve {
	r := rand.New(rand.NewPCG(seed, 1))
	var every, phase [3]float64
	for i := range every {
		every[i] = []float64{150, 85, 50}[i] * (0.85 + 0.3*r.Float64())
		phase[i] = 2 * math.Pi * r.Float64()
	}
	return func(at time.Duration) float64 {
		sum := 0.0
		for i, size := range [...]float64{0.25, 0.2, 0.12} {
			sum += size * math.Sin(2*math.Pi*at.Seconds()/every[i]+phase[i])
		}
		return min(max(0.5+sum, 0), 1)
	}
}

// Script is what a talk is made from.
type Script struct {
	Voice  Voice
	Curve  Curve
	Length time.Duration
	Seed   uint64
	Others []Other // put between two sentences when their time has come, for their length
}

// How unsteady a speaker is from sentence to sentence, whatever the intensity:
// standard deviations, invented.
const (
	unsteadyLoudness = 0.8  // dB
	unsteadyWords    = 0.04 // of the rate
	unsteadyPitch    = 3    // of espeak-ng's -p
)

// middle is espeak-ng's -a at intensity ½. Up to 120 its loudness goes evenly with
// it, above it compresses (measured).
const middle = 55

// Give speaks a script. It is the same each time for the same espeak-ng, which must
// be installed.
func Give(s Script) (Talk, error) {
	r := rand.New(rand.NewPCG(s.Seed, 2))
	t := Talk{Rate: Rate}
	others, order := s.Others, r.Perm(len(texts))
	for n := 0; t.Length() < s.Length; n++ {
		for len(others) > 0 && others[0].From <= t.Length() {
			o := others[0]
			o.From, o.To = t.Length(), t.Length()+o.To-o.From
			t.Samples = append(t.Samples, Sounds(o.What, o.To-o.From, s.Seed)...)
			t.Others, others = append(t.Others, o), others[1:]
		}
		text := texts[order[n%len(order)]]
		intensity := s.Curve(t.Length() + usual)
		said, syllables, err := s.Voice.speak(text, intensity, r)
		if err != nil {
			return Talk{}, err
		}
		from := t.Length()
		t.Samples = append(t.Samples, said...)
		t.Sentences = append(t.Sentences, Sentence{Span{from, t.Length()}, text, intensity, syllables})
		pause := 0.35 + 0.75*r.Float64()
		if n%6 == 5 { // a longer one, as between paragraphs
			pause = 1.2 + 1.6*r.Float64()
		}
		t.Samples = append(t.Samples, make([]float32, int(pause*Rate))...)
	}
	for at := time.Duration(0); at < t.Length(); at += time.Second / 4 {
		t.Truth = append(t.Truth, Point{at, s.Curve(at)})
	}
	return t, nil
}

// usual is half of what a sentence takes: it is spoken with the intensity of its
// middle.
const usual = 1700 * time.Millisecond

// speak says a sentence.
func (v Voice) speak(text string, intensity float64, r *rand.Rand) ([]float32, int, error) {
	off := intensity - 0.5
	dB := v.Louder*off + unsteadyLoudness*r.NormFloat64()
	words := v.Words * math.Pow(v.Faster, off) * (1 + unsteadyWords*r.NormFloat64())
	pitch := v.Pitch + v.Higher*off + unsteadyPitch*r.NormFloat64()
	return Speak(v.Name, words, pitch, middle*math.Pow(10, dB/20), text)
}

// Room is what else the microphone hears all the while, in dB against the speech
// without its pauses; −Inf for none.
type Room struct {
	Noise float64 // pink
	Leak  float64 // of a pad that bedd plays, as it comes back to the microphone
}

func (r Room) String() string {
	say := func(what string, dB float64) string {
		if math.IsInf(dB, -1) {
			return ""
		}
		return fmt.Sprintf(" %s %+.0f dB", what, dB)
	}
	if s := say("noise", r.Noise) + say("leak", r.Leak); s != "" {
		return s[1:]
	}
	return "clean"
}

// In puts the talk into a room, with a pad of its own making for the leak.
func (t Talk) In(r Room, seed uint64) Talk {
	return t.With(r, Pad(len(t.Samples), seed), seed)
}

// With puts the talk into a room where bedd plays what is given, at the talk's rate
// and as long.
func (t Talk) With(r Room, plays []float32, seed uint64) Talk {
	speech := t.level()
	heard := append([]float32(nil), t.Samples...)
	if !math.IsInf(r.Noise, -1) {
		add(heard, Pink(len(heard), seed), speech*math.Pow(10, r.Noise/20))
	}
	if !math.IsInf(r.Leak, -1) {
		t.Known = plays[:len(heard)]
		add(heard, comesBack(t.Known), speech*math.Pow(10, r.Leak/20))
	}
	for i, x := range heard {
		heard[i] = min(max(x, -1), 1)
	}
	t.Samples = heard
	return t
}

// level gives the root mean square of the speech without its pauses.
func (t Talk) level() float64 {
	sum, n := 0.0, 0
	for _, s := range t.Sentences {
		for _, x := range t.Samples[t.frame(s.From):t.frame(s.To)] {
			sum, n = sum+float64(x)*float64(x), n+1
		}
	}
	return math.Sqrt(sum / float64(max(n, 1)))
}

func (t Talk) frame(at time.Duration) int {
	return min(int(at.Seconds()*float64(t.Rate)+0.5), len(t.Samples))
}

// add mixes a sound in at a root mean square.
func add(to, sound []float32, level float64) {
	gain := float32(level / max(rms(sound), 1e-12))
	for i := range to {
		to[i] += gain * sound[i]
	}
}

func rms(x []float32) float64 {
	sum := 0.0
	for _, v := range x {
		sum += float64(v) * float64(v)
	}
	return math.Sqrt(sum / float64(max(len(x), 1)))
}
