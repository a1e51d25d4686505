package listening

import (
	"math"
	"math/rand/v2"
	"testing"
)

// framesOf gives the powers of the frames of a sound at the inner rate, from the
// first full one on.
func framesOf(n int, sound func(i int) float64, take func(powers *[numBins]float64)) {
	s, powers := newSpectra(), [numBins]float64{}
	for i := range n {
		s.put(sound(i))
		if i%hop != hop-1 || i < frameSize {
			continue
		}
		for k, x := range s.spectrum() {
			powers[k] = power(x)
		}
		take(&powers)
	}
}

func TestSpectrumHasThePowerOfTheSignal(t *testing.T) {
	for _, hz := range []float64{125, 440, 1000, 3333, 6300} {
		framesOf(3*frameSize, func(i int) float64 { return 0.5 * math.Sin(2*math.Pi*hz*float64(i)/innerRate) }, func(powers *[numBins]float64) {
			sum, b := 0.0, newBands()
			for _, p := range powers {
				sum += p
			}
			inBands := 0.0
			for _, p := range b.sum(powers) {
				inBands += p
			}
			if math.Abs(decibels(sum)-decibels(0.125)) > 0.05 || math.Abs(decibels(inBands)-decibels(0.125)) > 0.05 {
				t.Fatalf("%v Hz: %.2f dB, in bands %.2f, want %.2f", hz, decibels(sum), decibels(inBands), decibels(0.125))
			}
		})
	}
}

// Third octaves by IEC 61260-1: a tone in the middle of one is in it.
func TestBandsAreThirdOctaves(t *testing.T) {
	bands := newBands()
	for b, hz := range map[int]float64{2: 125, 8: 500, 11: 1000, 14: 2000, 19: 6300} {
		framesOf(2*frameSize, func(i int) float64 { return math.Sin(2 * math.Pi * hz * float64(i) / innerRate) }, func(powers *[numBins]float64) {
			for i, p := range bands.sum(powers) {
				if i != b && p > 0.1*bands.sum(powers)[b] && hz > 200 || i == b && p < 0.35 {
					t.Fatalf("%v Hz: %.3f in band %d", hz, p, i)
				}
			}
		})
	}
}

// Sines, harmonic sounds with and without their fundamental, from 62 to 480 Hz: 1 %.
func TestPitchOfTones(t *testing.T) {
	for hz := 62.0; hz < 480; hz *= 1.13 {
		for name, sound := range map[string]func(i int) float64{
			"sine": func(i int) float64 { return 0.1 * math.Sin(2*math.Pi*hz*float64(i)/innerRate) },
			"harmonic": func(i int) (x float64) {
				for h := 1.0; h*hz < 3000; h++ {
					x += 0.05 / h * math.Sin(2*math.Pi*h*hz*float64(i)/innerRate+h*h)
				}
				return x
			},
			"without its fundamental": func(i int) (x float64) {
				for h := 2.0; h < 8; h++ {
					x += 0.05 * math.Sin(2*math.Pi*h*hz*float64(i)/innerRate+h*h)
				}
				return x
			},
		} {
			if name == "sine" && hz < 100 { // its frame is filtered from 78 Hz on
				continue
			}
			tone := newTone()
			framesOf(4*frameSize, sound, func(powers *[numBins]float64) {
				got, strength := tone.find(powers)
				if math.Abs(got/hz-1) > 0.01 || strength < 0.75 {
					t.Fatalf("%s of %.1f Hz: %.2f Hz, strength %.2f", name, hz, got, strength)
				}
			})
		}
	}
}

func TestNoiseHasNoPitch(t *testing.T) {
	r, tone := rand.New(rand.NewPCG(1, 1)), newTone()
	n, strong := 0, 0
	framesOf(60*frameSize, func(int) float64 { return 0.1 * r.NormFloat64() }, func(powers *[numBins]float64) {
		n++
		if _, strength := tone.find(powers); strength >= voiced {
			strong++
		}
	})
	if strong*100 > n {
		t.Errorf("%d of %d frames of noise are voiced, want 1 %% at most", strong, n)
	}
	if hz, strength := tone.find(&[numBins]float64{}); hz != 0 || strength != 0 {
		t.Errorf("silence has a pitch of %v Hz, strength %v", hz, strength)
	}
}

// Closed form: pitches spread evenly over a range have its parts where they are.
func TestPartsOfPitches(t *testing.T) {
	p := newPitches(1000)
	if p.known() != 0 || p.part(0.5) != 0 {
		t.Errorf("of none: %d known, %v", p.known(), p.part(0.5))
	}
	for i := range 3000 { // the last thousand: 12…24 semitones
		p.put(pitchOf(leastPitch * math.Exp2((12+12*float64(i%1000)/1000)/12)))
	}
	for part, want := range map[float64]float64{0.1: 13.2, 0.5: 18, 0.9: 22.8} {
		if got := p.part(part); math.Abs(got-want) > 0.15 {
			t.Errorf("%v lies under %.2f semitones, want %.2f", part, got, want)
		}
	}
	for range 1000 {
		p.put(noPitch)
	}
	if p.known() != 0 {
		t.Errorf("after a thousand without, %d are known", p.known())
	}
}

// AM noise at known rates (full modulation by a raised cosine), through the same
// spectra as everything: 15 %.
func TestSyllablesOfModulatedNoise(t *testing.T) {
	r, b := rand.New(rand.NewPCG(2, 2)), newBands()
	for _, rate := range []float64{2, 3, 4, 5, 6.5, 8} {
		s, found, n := newSyllables(), 0, 0
		framesOf(20*innerRate, func(i int) float64 {
			return 0.1 * r.NormFloat64() * (0.5 - 0.5*math.Cos(2*math.Pi*rate*float64(i)/innerRate))
		}, func(powers *[numBins]float64) {
			n++
			sum := 0.0
			bands := b.sum(powers)
			for _, p := range bands[6:17] {
				sum += p
			}
			if s.hear(decibels(sum+1e-9), -90, true) {
				found++
			}
		})
		got := float64(found) * frameRate / float64(n)
		t.Logf("%v a second: %.2f", rate, got)
		if math.Abs(got/rate-1) > 0.15 {
			t.Errorf("noise that swells %v times a second has %.2f syllables a second, want ±15 %%", rate, got)
		}
	}
}

func TestSyllablesNeedAVoiceAndADip(t *testing.T) {
	count := func(depth, noise float64, voice bool) (n int) {
		s := newSyllables()
		for i := range 1000 {
			if s.hear(-20+depth/2*math.Sin(2*math.Pi*5*float64(i)/frameRate), noise, voice) {
				n++
			}
		}
		return n
	}
	if n := count(6, -60, true); n < 49 || n > 50 {
		t.Errorf("50 swells of 6 dB: %d syllables", n)
	}
	if a, b, c := count(1.5, -60, true), count(6, -60, false), count(6, -20, true); a+b+c != 0 {
		t.Errorf("swells of 1.5 dB: %d, without a voice: %d, at the noise: %d syllables, want none", a, b, c)
	}
}
