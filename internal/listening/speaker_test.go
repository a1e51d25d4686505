package listening

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"
)

const block = 10 * time.Millisecond

// says gives the features of somebody who speaks with an intensity 0…1, as the tests
// want it: 12 LU, a quarter of an octave, and a third of the rate between calm and
// moved.
func says(intensity float64) Features {
	return Features{
		Sound: Speech, Voice: true, Loudness: -36 + 12*intensity, Momentary: -36 + 12*intensity, Speech: -36 + 12*intensity,
		Syllables: 4 * math.Exp(0.3*intensity), Pitch: 110 * math.Exp2(0.25*intensity), Range: 5 + 3*intensity,
	}
}

// hears is a speaker who is told features by made-up time.
type hears struct {
	*Speaker
	now time.Duration
}

func newHears(t *testing.T, m Manner) *hears {
	t.Helper()
	s, err := NewSpeaker(m)
	if err != nil {
		t.Fatal(err)
	}
	return &hears{Speaker: s}
}

// goes on for a time with what a function says of it, counted from its start.
func (h *hears) goes(on time.Duration, with func(time.Duration) Features) {
	for since := time.Duration(0); since < on; since += block {
		f := with(since)
		f.At = h.now
		h.Hear(f)
		h.now += block
	}
}

// speaks goes on with a swell about the middle, once in 20 s.
func (h *hears) speaks(on time.Duration) {
	h.goes(on, func(at time.Duration) Features { return says(0.5 + 0.3*math.Sin(2*math.Pi*at.Seconds()/20)) })
}

func (h *hears) value() float64 { v, _ := h.Intensity(); return v }

func still(sound Kind) func(time.Duration) Features {
	return func(time.Duration) Features {
		return Features{Sound: sound, Loudness: -10, Momentary: -10, Speech: math.Inf(-1)}
	}
}

func TestDefaultMannerIsInOrder(t *testing.T) {
	if err := DefaultManner().Check(); err != nil {
		t.Error(err)
	}
}

func TestMannersThatAreRefused(t *testing.T) {
	for want, change := range map[string]func(*Manner){
		"rise in 0s is out of range 500ms…5m0s":                                   func(m *Manner) { m.Rise = 0 },
		"fall in 6m0s is out of range 500ms…5m0s":                                 func(m *Manner) { m.Fall = 6 * time.Minute },
		"settle in -1s is out of range 500ms…5m0s":                                func(m *Manner) { m.Settle = -time.Second },
		"a rate of 0.3 a second is out of range 0.002…0.2":                        func(m *Manner) { m.Rate = 0.3 },
		"a rate of NaN a second is out of range 0.002…0.2":                        func(m *Manner) { m.Rate = math.NaN() },
		"the band from 0.5 to 0.5 is none within 0…1":                             func(m *Manner) { m.Low, m.High = 0.5, 0.5 },
		"the band from 0.1 to NaN is none within 0…1":                             func(m *Manner) { m.High = math.NaN() },
		"the band from -0.1 to 0.8 is none within 0…1":                            func(m *Manner) { m.Low = -0.1 },
		"a rest of 1s is no longer than a speaker's pauses: it takes at least 2s": func(m *Manner) { m.Rest = time.Second },
		"settling to 0.05 leaves the band 0.1…0.8":                                func(m *Manner) { m.SettleTo = 0.05 },
		"a norm over 1s is out of range 10s…30m0s":                                func(m *Manner) { m.Norm = time.Second },
	} {
		m := DefaultManner()
		change(&m)
		if err := m.Check(); err == nil || err.Error() != want {
			t.Errorf("%+v: %v, want %q", m, err, want)
		}
		if s, err := NewSpeaker(m); err == nil || s != nil {
			t.Errorf("NewSpeaker(%+v) makes one", m)
		}
	}
}

func TestASpeakerIsKnownAfterFiveSecondsOfSpeech(t *testing.T) {
	h := newHears(t, DefaultManner())
	h.Begin(0.3)
	h.goes(time.Minute, still(Clapping))
	h.goes(10*time.Second, still(Silence))
	h.speaks(usable - block)
	if v, heard := h.Intensity(); heard || !h.Holds() || h.Why() != Learns || v != 0.3 {
		t.Errorf("before: %v, %v, %v; want 0.3, which is not heard, while it learns", v, heard, h.Why())
	}
	h.speaks(3 * block)
	if _, heard := h.Intensity(); !heard || h.Holds() || h.Why() != Follows {
		t.Errorf("after: %v, %v", heard, h.Why())
	}
	h.Begin(0.8)
	if h.value() == 0.8 {
		t.Error("one who is known is made to begin anew")
	}
}

// An average voice is the middle of the band, one that stands out goes towards its
// ends and comes back: however loud, high or fast the speaker is by nature, and
// whatever the microphone makes of it.
func TestItIsAgainstTheSpeakersOwnNorm(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		gain := rapid.Float64Range(-30, 20).Draw(rt, "gain")
		high := rapid.Float64Range(0.8, 2.5).Draw(rt, "high")
		fast := rapid.Float64Range(0.7, 1.4).Draw(rt, "fast")
		run := func(gain, high, fast float64) (values []float64) {
			h := newHears(t, DefaultManner())
			for _, part := range []struct {
				on        time.Duration
				intensity float64
			}{{30 * time.Second, 0.5}, {20 * time.Second, 1}, {20 * time.Second, 0.5}, {20 * time.Second, 0}} {
				h.goes(part.on, func(time.Duration) Features {
					f := says(part.intensity)
					f.Speech, f.Pitch, f.Syllables = f.Speech+gain, f.Pitch*high, f.Syllables*fast
					return f
				})
				values = append(values, h.value())
			}
			return values
		}
		plain, other := run(0, 1, 1), run(gain, high, fast)
		for i := range plain {
			if math.Abs(plain[i]-other[i]) > 1e-6 {
				rt.Fatalf("%v becomes %v", plain, other)
			}
		}
		if m := plain; math.Abs(m[0]-0.45) > 0.01 || m[1] < 0.65 || m[2] > m[1]-0.1 || m[3] > 0.25 {
			rt.Fatalf("average, moved, average, calm: %v", m)
		}
	})
}

func TestItHolds(t *testing.T) {
	for sound, why := range map[Kind]Hold{Singing: InSinging, Clapping: InClapping, Knock: InKnock, Silence: InSilence, NumKinds: InSilence} {
		h := newHears(t, DefaultManner())
		h.speaks(23 * time.Second)
		before := h.value()
		h.goes(15*time.Second, still(sound))
		if !h.Holds() || h.Why() != why || h.value() != before {
			t.Errorf("%v: %v from %v to %v", sound, h.Why(), before, h.value())
		}
		h.goes(after[min(sound, Knock)]/2, func(time.Duration) Features { return says(1) })
		if sound != Silence && sound != NumKinds && h.value() != before {
			t.Errorf("it follows at once after %v, while the features still have it in them", sound)
		}
		h.goes(after[min(sound, Knock)]+time.Second, func(time.Duration) Features { return says(1) })
		if h.Holds() || h.value() == before {
			t.Errorf("it does not follow again after %v: %v", sound, h.Why())
		}
	}
	h := newHears(t, DefaultManner())
	h.speaks(23 * time.Second)
	before := h.value()
	h.goes(10*time.Minute, still(Singing))
	if h.value() != before {
		t.Errorf("ten minutes' singing moves it from %v to %v", before, h.value())
	}
}

func TestSilenceSettles(t *testing.T) {
	m := DefaultManner()
	h := newHears(t, m)
	h.speaks(25 * time.Second)
	before := h.value()
	h.goes(m.Rest-block, still(Silence))
	if h.value() != before {
		t.Errorf("it settles from %v to %v before its time", before, h.value())
	}
	h.goes(m.Settle+block, still(Silence))
	want := m.SettleTo + (before-m.SettleTo)/math.E
	if h.Holds() || h.Why() != Settles || math.Abs(h.value()-want) > 0.01 {
		t.Errorf("after one time constant it is %v at %v, want %v", h.Why(), h.value(), want)
	}
	h.goes(2*time.Second, still(Knock))
	if h.Why() != Settles {
		t.Errorf("a cough in the silence: %v", h.Why())
	}
	h.goes(5*time.Minute, still(Silence))
	if math.Abs(h.value()-m.SettleTo) > 0.001 {
		t.Errorf("it settles to %v, want %v", h.value(), m.SettleTo)
	}
	h.goes(m.Rest/20, func(time.Duration) Features { return says(0.5) })
	if h.Why() != Settles {
		t.Errorf("a word in the silence: %v", h.Why())
	}
	h.goes(2*block, func(time.Duration) Features { return says(0.5) })
	if h.Why() != Follows || h.norms[byLoudness].known > kept.Seconds()+1 {
		t.Errorf("the speaker goes on: %v, and %v s are known of him", h.Why(), h.norms[byLoudness].known)
	}
}

// Silence in which one block of twenty is taken for speech settles too.
func TestABrokenSilenceSettles(t *testing.T) {
	m := DefaultManner()
	h := newHears(t, m)
	h.speaks(25 * time.Second)
	n := 0
	h.goes(3*time.Minute, func(time.Duration) Features {
		if n++; n%20 == 0 {
			return says(0.5)
		}
		return still(Silence)(0)
	})
	if math.Abs(h.value()-m.SettleTo) > 0.02 {
		t.Errorf("it is at %v, want %v", h.value(), m.SettleTo)
	}
}

// A stall of the microphone is no reason to jump, nor is a clock that begins anew.
func TestGapsCountForNoMoreThanAQuarterOfASecond(t *testing.T) {
	h := newHears(t, DefaultManner())
	h.speaks(30 * time.Second)
	for _, at := range []time.Duration{h.now + time.Hour, 0, math.MaxInt64, math.MinInt64, math.MaxInt64, 5 * time.Second} {
		before := h.value()
		f := says(1)
		f.At = at
		h.Hear(f)
		if moved := math.Abs(h.value() - before); moved > DefaultManner().Rate*mostStep.Seconds()+1e-12 {
			t.Errorf("at %v it moves by %v", at, moved)
		}
	}
}

// Whatever it hears, and however long the gaps: a number, inside the band, that
// moves no faster than it may, and not at all while it holds.
func TestItNeverJumps(t *testing.T) {
	number := rapid.OneOf(
		rapid.Float64(),
		rapid.Float64Range(-60, 12),
		rapid.Float64Range(0, 20),
		rapid.Float64Range(50, 500),
		rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, math.Copysign(0, -1), math.MaxFloat64, 5e-324}),
	)
	step := rapid.OneOf(
		rapid.Just(block), rapid.Just(100*time.Millisecond),
		rapid.Map(rapid.Int64Range(-int64(time.Minute), int64(time.Hour)), func(n int64) time.Duration { return time.Duration(n) }),
		rapid.Map(rapid.Int64(), func(n int64) time.Duration { return time.Duration(n) }),
	)
	rapid.Check(t, func(rt *rapid.T) {
		m := DefaultManner()
		m.Low = rapid.Float64Range(0, 0.5).Draw(rt, "low")
		m.High = rapid.Float64Range(m.Low+0.01, 1).Draw(rt, "high")
		m.SettleTo = m.Low + (m.High-m.Low)*rapid.Float64Range(0, 1).Draw(rt, "settles")
		m.Rate = rapid.Float64Range(LeastRate, MostRate).Draw(rt, "rate")
		m.Rise = time.Duration(rapid.Int64Range(int64(ShortestTime), int64(LongestTime)).Draw(rt, "rise"))
		m.Rest = ShortestRest
		h := newHears(t, m)
		h.Begin(number.Draw(rt, "begin"))
		if rapid.Bool().Draw(rt, "known") {
			h.speaks(usable + time.Second)
		}
		before := h.value()
		for range 60 {
			dt := step.Draw(rt, "dt")
			now := h.at + dt
			counts := min(max(dt, 0), mostStep)
			switch {
			case !h.begun: // there is nothing to count from
				counts = 0
			case dt > 0 && now < h.at: // it did not fit, and is a time that goes back
				counts = 0
			case dt < 0 && now > h.at:
				counts = mostStep
			}
			h.Hear(Features{
				At: now, Sound: Kind(rapid.OneOf(rapid.Just(uint8(Speech)), rapid.Uint8()).Draw(rt, "sound")), Voice: rapid.Bool().Draw(rt, "voice"),
				Loudness: number.Draw(rt, "loudness"), Momentary: number.Draw(rt, "momentary"), Speech: number.Draw(rt, "speech"),
				Syllables: number.Draw(rt, "syllables"), Pitch: number.Draw(rt, "pitch"), Range: number.Draw(rt, "range"),
				Pause: step.Draw(rt, "pause"), Leak: number.Draw(rt, "leak"),
			})
			v := h.value()
			if !(v >= m.Low && v <= m.High) {
				rt.Fatalf("%v is outside %v…%v", v, m.Low, m.High)
			}
			if moved := math.Abs(v - before); moved > m.Rate*counts.Seconds()+1e-12 {
				rt.Fatalf("in %v it moves by %v", dt, moved)
			} else if h.Holds() && moved > 0 {
				rt.Fatalf("it moves by %v while it holds for %v", moved, h.Why())
			}
			before = v
		}
	})
}

// The same features give the same intensity, and cues that say nothing are as if they
// had no weight: the other ones go on.
func TestMissingCues(t *testing.T) {
	for name, without := range map[string]func(*Features){
		"pitch":                  func(f *Features) { f.Pitch, f.Range = 0, 0 },
		"syllables":              func(f *Features) { f.Syllables = 0 },
		"loudness":               func(f *Features) { f.Speech = math.Inf(-1) },
		"all but syllables, NaN": func(f *Features) { f.Speech, f.Pitch, f.Range = math.NaN(), math.NaN(), math.NaN() },
	} {
		h := newHears(t, DefaultManner())
		h.speaks(20 * time.Second)
		for _, part := range []struct {
			intensity float64
			right     func(v float64) bool
		}{{1, func(v float64) bool { return v > 0.5 }}, {0, func(v float64) bool { return v < 0.35 }}} {
			h.goes(15*time.Second, func(time.Duration) Features { f := says(part.intensity); without(&f); return f })
			if !part.right(h.value()) {
				t.Errorf("without %s, intensity %v gives %v", name, part.intensity, h.value())
			}
		}
	}
	h := newHears(t, DefaultManner())
	h.goes(time.Minute, func(time.Duration) Features { return Features{Sound: Speech, Voice: true, Speech: math.Inf(-1)} })
	if v, heard := h.Intensity(); heard || v != 0.45 {
		t.Errorf("with no cue at all: %v, %v", v, heard)
	}
}

// A shout is no new norm.
func TestAShoutHardlyMovesTheNorm(t *testing.T) {
	h := newHears(t, DefaultManner())
	h.speaks(time.Minute)
	before, _ := h.norms[byLoudness].usual(cues[byLoudness])
	h.goes(2*time.Second, func(time.Duration) Features { f := says(1); f.Speech = 5; return f })
	after, _ := h.norms[byLoudness].usual(cues[byLoudness])
	if moved := after - before; moved < 0 || moved > 0.8 {
		t.Errorf("a shout of two seconds, 35 LU up, moves the norm by %v LU", moved)
	}
}

// What wanders evenly about a place has it for the middle of its norm, and a spread
// that grows with how far it wanders, whatever is thrown in.
func TestTheNormLiesInTheMiddle(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for _, want := range []struct{ mean, spread float64 }{{-30, 3}, {-18, 4.5}, {-50, 2.5}} {
		var n norm
		for i := range 60_000 {
			x := want.mean + want.spread*math.Sqrt2*math.Sin(float64(i)*0.01*2*math.Pi/40)
			if r.IntN(50) == 0 {
				x = want.mean + 50 // two in a hundred
			}
			n.learn(cues[byLoudness], x, 0.01, 60)
		}
		middle, spread := n.usual(cues[byLoudness])
		if math.Abs(middle-want.mean) > 0.3*want.spread || spread < 0.45*want.spread || spread > 1.1*want.spread {
			t.Errorf("%v is learned as %.2f and %.2f", want, middle, spread)
		}
	}
}

// A microphone that is turned up by 20 dB, after a voice that did not move at all, is
// got used to, all but 6 dB, within four minutes of speech: the norm moves no faster, so
// that who stays moved is not taken to be calm.
func TestTheNormFollowsTheMicrophone(t *testing.T) {
	h := newHears(t, DefaultManner())
	h.goes(3*time.Minute, func(time.Duration) Features { return says(0.5) })
	h.goes(4*time.Minute, func(time.Duration) Features { f := says(0.5); f.Speech += 20; return f })
	if middle, _ := h.norms[byLoudness].usual(cues[byLoudness]); math.Abs(middle-(-10)) > 6 {
		t.Errorf("the middle of the loudness is %.1f LUFS, want -10", middle)
	}
	if h.value() > 0.65 {
		t.Errorf("it is still at %v", h.value())
	}
}

// One who stays moved for a minute is still heard as that.
func TestAPlateauIsNoNorm(t *testing.T) {
	h := newHears(t, DefaultManner())
	h.speaks(40 * time.Second)
	h.goes(15*time.Second, func(time.Duration) Features { return says(1) })
	most := h.value()
	h.goes(time.Minute, func(time.Duration) Features { return says(1) })
	if v := h.value(); v < 0.45+0.4*(most-0.45) {
		t.Errorf("it was at %.3f, and a minute later at %.3f", most, v)
	}
}

func TestHoldsAreNamed(t *testing.T) {
	want := []string{"follows", "learning", "silence", "singing", "clapping", "knock", "settles", "unknown"}
	for h, name := range want {
		if got := Hold(h).String(); got != name {
			t.Errorf("hold %d is %q, want %q", h, got, name)
		}
	}
}

func TestHearingAllocatesNothing(t *testing.T) {
	h := newHears(t, DefaultManner())
	f := says(0.7)
	if n := testing.AllocsPerRun(1000, func() { f.At += block; h.Hear(f) }); n != 0 {
		t.Errorf("Hear allocates %v times, want 0", n)
	}
}

func BenchmarkSpeaker(b *testing.B) {
	s, err := NewSpeaker(DefaultManner())
	if err != nil {
		b.Fatal(err)
	}
	f := says(0.7)
	for b.Loop() {
		f.At += block
		s.Hear(f)
	}
}
