package talks

import (
	"math"
	"slices"
	"testing"
	"time"
)

func give(t *testing.T, s Script) Talk {
	t.Helper()
	talk, err := Give(s)
	if err != nil {
		t.Fatal(err)
	}
	return talk
}

func script() Script {
	return Script{Voice: Voices()[0], Curve: Swells(20 * time.Second), Length: 30 * time.Second, Seed: 7}
}

// Counted by hand.
func TestSyllablesAreCounted(t *testing.T) {
	for text, want := range map[string]int{
		"He says he saw a road.":                  6,
		"There was no light on the water at all.": 10,
		"Eleven people came home over that road.": 11,
		"The wind took the harbour wall.":         7,
		"A kettle, a little bottle and a button.": 12,
	} {
		for _, v := range Voices() {
			if _, n, err := Speak(v.Name, 150, 50, 60, text); err != nil || n != want {
				t.Errorf("%s says %q in %d syllables, %v; want %d", v.Name, text, n, err, want)
			}
		}
	}
}

func TestATalkIsItsScript(t *testing.T) {
	s := script()
	s.Others = []Other{{Span{5 * time.Second, 8 * time.Second}, Clapping}, {Span{15 * time.Second, 16 * time.Second}, Quiet}}
	talk := give(t, s)
	if again := give(t, s); !slices.Equal(talk.Samples, again.Samples) {
		t.Error("a second time it is another talk")
	}
	s.Seed++
	if other := give(t, s); slices.Equal(talk.Samples, other.Samples) {
		t.Error("another seed makes the same talk")
	}
	if l := talk.Length(); l < s.Length || l > s.Length+10*time.Second {
		t.Errorf("it takes %v, want %v and the rest of a sentence", l, s.Length)
	}
	end := time.Duration(0)
	for _, x := range talk.Sentences {
		if x.From < end || x.To <= x.From {
			t.Errorf("%q from %v to %v, after %v", x.Text, x.From, x.To, end)
		}
		if rate := float64(x.Syllables) / (x.To - x.From).Seconds(); rate < 2.5 || rate > 8 {
			t.Errorf("%q is spoken at %.1f syllables a second", x.Text, rate)
		}
		end = x.To
	}
	if len(talk.Others) != 2 || talk.Others[0].What != Clapping || talk.Others[0].To-talk.Others[0].From != 3*time.Second || talk.Others[0].From < 5*time.Second {
		t.Errorf("besides: %v", talk.Others)
	}
	for _, p := range talk.Truth {
		if want := 0.5 - 0.5*math.Cos(2*math.Pi*p.At.Seconds()/20); math.Abs(p.Intensity-want) > 1e-9 {
			t.Errorf("at %v it is %v, want %v", p.At, p.Intensity, want)
		}
	}
}

// One who speaks with more intensity is louder, as much as the voice says.
func TestIntensityIsHeard(t *testing.T) {
	level := func(intensity float64) float64 {
		s := script()
		s.Length, s.Curve = time.Minute, func(time.Duration) float64 { return intensity }
		return 20 * math.Log10(give(t, s).level())
	}
	if got := level(1) - level(0); math.Abs(got-script().Voice.Louder) > 1.5 {
		t.Errorf("from 0 to 1 it gets louder by %.1f dB, want %v", got, script().Voice.Louder)
	}
}

func TestARoomIsAsLoudAsStated(t *testing.T) {
	talk := give(t, script())
	for _, room := range []Room{{-10, math.Inf(-1)}, {-20, math.Inf(-1)}, {math.Inf(-1), -3}, {math.Inf(-1), -10}} {
		in := talk.In(room, 1)
		added := make([]float32, len(in.Samples))
		for i := range added {
			added[i] = in.Samples[i] - talk.Samples[i]
		}
		if got, want := 20*math.Log10(rms(added)/talk.level()), max(room.Noise, room.Leak); math.Abs(got-want) > 0.1 {
			t.Errorf("%v: %.2f dB, want %v", room, got, want)
		}
		if known := len(in.Known); (known == len(in.Samples)) == math.IsInf(room.Leak, -1) {
			t.Errorf("%v: %d samples are known", room, known)
		}
	}
	if got := talk.In(Room{math.Inf(-1), math.Inf(-1)}, 1); !slices.Equal(got.Samples, talk.Samples) {
		t.Error("a clean room changes the talk")
	}
}

// Pink noise is as strong in each octave.
func TestPinkIsPink(t *testing.T) {
	x := Pink(1<<17, 1)
	octave := func(from float64) float64 { // power of 40 lines spread evenly over it
		sum := 0.0
		for k := range 40 {
			f := from * (1 + (float64(k)+0.5)/40)
			re, im := 0.0, 0.0
			for i, v := range x {
				s, c := math.Sincos(2 * math.Pi * f * float64(i) / Rate)
				re, im = re+float64(v)*c, im+float64(v)*s
			}
			sum += (re*re + im*im) * from
		}
		return 10 * math.Log10(sum)
	}
	low := octave(100)
	for _, from := range []float64{400, 1600, 4000} {
		if d := octave(from) - low; math.Abs(d) > 2.5 {
			t.Errorf("the octave from %v Hz stands %.1f dB to that from 100 Hz", from, d)
		}
	}
}

func TestCurvesStayWithinOne(t *testing.T) {
	for name, c := range map[string]Curve{"swells": Swells(time.Minute), "builds": Builds(3 * time.Minute), "wanders": Wanders(3)} {
		low, high := 1.0, 0.0
		for at := time.Duration(0); at < 3*time.Minute; at += 100 * time.Millisecond {
			v := c(at)
			low, high = min(low, v), max(high, v)
			if step := math.Abs(c(at+100*time.Millisecond) - v); step > 0.02 && at+100*time.Millisecond < 3*time.Minute {
				t.Errorf("%s jumps by %v at %v", name, step, at)
			}
		}
		if low < 0 || high > 1 || high-low < 0.5 {
			t.Errorf("%s goes from %v to %v", name, low, high)
		}
	}
}

func TestWhatIsNoEspeakFileIsRefused(t *testing.T) {
	for _, wav := range []string{"", "RIFF", "RIFFxxxxWAVEfmt xxxxxxxxxxxxxxxxxxxxdatax"} {
		if _, err := decode([]byte(wav)); err == nil {
			t.Errorf("%q is taken for sound", wav)
		}
	}
}

// What is no speech is as loud as stated; applause is more broken up than singing, and
// a cough is over after half a second.
func TestSoundsThatAreNoSpeech(t *testing.T) {
	crest := func(x []float32) float64 { return float64(slices.Max(x)) / rms(x) }
	sounds := map[What][]float32{}
	for what, want := range map[What]float64{Quiet: 0, Clapping: 0.12, Singing: 0.06, Cough: 0.12} {
		x := Sounds(what, 4*time.Second, 3)
		if got := rms(x); len(x) != 4*Rate || math.Abs(got-want) > 1e-4 {
			t.Errorf("%v: %d samples, %v loud, want %v", what, len(x), got, want)
		}
		if !slices.Equal(x, Sounds(what, 4*time.Second, 3)) {
			t.Errorf("%v is another one the second time", what)
		}
		sounds[what] = x
	}
	if clap, sing := crest(sounds[Clapping]), crest(sounds[Singing]); clap < 1.2*sing {
		t.Errorf("applause has a crest factor of %.1f, singing %.1f", clap, sing)
	}
	if x := sounds[Cough]; rms(x[Rate*6/10:]) > 0.01*rms(x) {
		t.Error("a cough goes on after 0.6 s")
	}
	a, b := Pad(Rate, 1), Pad(Rate, 1)
	if !slices.Equal(a, b) || slices.Equal(a, Pad(Rate, 2)) {
		t.Error("a pad is not made by its seed")
	}
}
