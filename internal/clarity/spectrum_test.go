package clarity

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// measured gives the spectrum of a sound on both sides.
func measured(t testing.TB, rate int, frames int, at func(i int) (left, right float64)) *Spectrum {
	t.Helper()
	s, err := NewSpectrum(rate)
	if err != nil {
		t.Fatal(err)
	}
	block := make([]float32, 2)
	for i := range frames {
		l, r := at(i)
		block[0], block[1] = float32(l), float32(r)
		s.Add(block)
	}
	return s
}

// A sine in the middle of a band has all its power there, at any rate, and the two
// sides add up: half its square, −3.01 dB of full scale, on one side.
func TestSineIsInItsBand(t *testing.T) {
	for _, rate := range []int{LeastRate, 22050, 44100, 48000, 96000} {
		for band, nominal := range Centres {
			hz := math.Pow(10, 2.2+float64(band)/10)
			if hz > float64(rate)/2*0.95 {
				continue
			}
			s := measured(t, rate, rate, func(i int) (float64, float64) {
				return 0.5 * math.Sin(2*math.Pi*hz*float64(i)/float64(rate)), 0
			})
			l := s.Levels()
			if got := l[band] + bandwidthDB(band); !near(got, -9.03, 0.02) {
				t.Errorf("%d Hz: sine at %.0f Hz has %.2f dB in its band of %v, want −9.03", rate, hz, got, nominal)
			}
			for other := range l {
				if other != band && l[other] > l[band]-40 {
					t.Errorf("%d Hz: sine at %.0f Hz has %.1f dB at %v Hz, %.1f in its own band", rate, hz, l[other], Centres[other], l[band])
				}
			}
		}
	}
}

// White noise has the same spectrum level everywhere: its power over half the rate.
func TestWhiteNoiseIsFlat(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	const rate, rms = 48000, 0.1
	s := measured(t, rate, 30*rate, func(int) (float64, float64) { return rms * random.NormFloat64(), 0 })
	want := 20*math.Log10(rms) - 10*math.Log10(rate/2)
	for i, got := range s.Levels() {
		if !near(got, want, 0.35) {
			t.Errorf("%v Hz: %.2f dB, want %.2f", Centres[i], got, want)
		}
	}
}

// Pauses do not count: speech with as much silence, or hiss 20 dB under it, has the
// level of the speech.
func TestPausesDoNotCount(t *testing.T) {
	const rate = 22050
	tone := func(i int) float64 { return 0.2 * math.Sin(2*math.Pi*1000*float64(i)/rate) }
	whole := measured(t, rate, 8*rate, func(i int) (float64, float64) { return tone(i), tone(i) })
	for _, under := range []float64{0, 0.1} {
		s := measured(t, rate, 16*rate, func(i int) (float64, float64) {
			x := tone(i)
			if i/(2*rate)%2 == 1 {
				x *= under
			}
			return x, x
		})
		// Blocks that a pause cuts count as what they are: a tenth of all.
		if got, want := s.Levels()[8], whole.Levels()[8]; !near(got, want, 0.5) {
			t.Errorf("pauses at %v: %.2f dB, want %.2f", under, got, want)
		}
		if s.Seconds() < 7.5 || s.Seconds() > 9.5 {
			t.Errorf("%v s counted of 8 s of speech", s.Seconds())
		}
	}
	if l := measured(t, rate, rate, func(int) (float64, float64) { return 0, 0 }).Levels(); l != Silence() {
		t.Errorf("silence has %v", l)
	}
}

// However the frames come in pieces, the spectrum is the same; and no sample, NaN
// and infinities among them, makes it anything but numbers and silence.
func TestSpectrumInPieces(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))
		samples := make([]float32, 2*rapid.IntRange(0, 30000).Draw(rt, "frames"))
		for i := range samples {
			switch samples[i] = float32(random.NormFloat64()); random.IntN(5000) {
			case 0:
				samples[i] = float32(math.NaN())
			case 1:
				samples[i] = float32(math.Inf(1))
			}
		}
		whole, _ := NewSpectrum(18000)
		whole.Add(samples)
		pieces, _ := NewSpectrum(18000)
		for rest := samples; len(rest) > 0; {
			n := min(len(rest), 2*rapid.IntRange(1, 9000).Draw(rt, "piece"))
			pieces.Add(rest[:n])
			rest = rest[n:]
		}
		a, b := whole.Levels(), pieces.Levels()
		if a != b {
			rt.Fatalf("whole %v, in pieces %v", a, b)
		}
		for _, db := range a {
			if math.IsNaN(db) || math.IsInf(db, 1) {
				rt.Fatalf("levels %v", a)
			}
		}
	})
}

func TestRatesAreChecked(t *testing.T) {
	for _, rate := range []int{0, 8000, LeastRate - 1, 192001} {
		if _, err := NewSpectrum(rate); err == nil {
			t.Errorf("a spectrum at %d Hz", rate)
		}
	}
}

func BenchmarkSpectrum(b *testing.B) {
	s, _ := NewSpectrum(48000)
	second := make([]float32, 2*48000)
	for i := range second {
		second[i] = float32(math.Sin(float64(i)))
	}
	for b.Loop() {
		s.Add(second)
	}
}
