package voicing

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Roughness check values of the author's later program, amplitudes 1, computed
// from the published fit (Sethares 1993; constants as in roughness.go).
func TestPureRoughness(t *testing.T) {
	for _, c := range []struct{ f1, f2, want float64 }{
		{440, 466.1638, 0.898681}, {440, 493.8833, 0.638754}, {440, 523.2511, 0.327567},
		{440, 659.2551, 0.006832}, {110, 116.5409, 0.588620}, {110, 130.8128, 0.896870},
	} {
		if got := PureRoughness(c.f1, c.f2, 1); math.Abs(got-c.want) > 2e-6 {
			t.Errorf("PureRoughness(%v, %v) = %.6f, want %.6f", c.f1, c.f2, got, c.want)
		}
	}
}

// The roughest difference of two pure tones, from the same fit; Plomp & Levelt
// 1965 put it near a quarter of the critical bandwidth.
func TestPureTonesAreRoughestAtTheFitsDifference(t *testing.T) {
	for _, c := range []struct{ hz, want float64 }{{220, 21.6}, {440, 25.8}, {1000, 36.4}} {
		roughest, at := 0.0, 0.0
		for d := 1.0; d < 100; d += 0.01 {
			if r := PureRoughness(c.hz, c.hz+d, 1); r > roughest {
				roughest, at = r, d
			}
		}
		if math.Abs(at-c.want) > 0.1 || math.Abs(roughest-0.898782) > 1e-6 {
			t.Errorf("from %v Hz: roughest %.6f at %.2f Hz, want 0.898782 at %v", c.hz, roughest, at, c.want)
		}
	}
}

// decaying gives the six harmonics that the paper's figures are drawn with,
// each 0.88 of the one below.
func decaying() []float64 {
	amp := make([]float64, 6)
	for i := range amp {
		amp[i] = math.Pow(0.88, float64(i))
	}
	return amp
}

// whole adds what each tone has inside itself to what is between them, as the
// published model does.
func whole(f1, f2 float64, amp []float64) float64 {
	sum := between(f1, f2, amp, amp)
	for _, f := range []float64{f1, f2} {
		for i := range amp {
			for j := range i {
				sum += PureRoughness(f*float64(i+1), f*float64(j+1), min(amp[i], amp[j]))
			}
		}
	}
	return sum
}

// Complex tones, 6 harmonics falling by 0.88, lower notes C4 and C2, from a
// computation of its own with the same fit.
func TestRoughnessOfComplexTones(t *testing.T) {
	for low, row := range map[uint8][12]float64{
		60: {3.8508, 2.7214, 2.1525, 1.9751, 1.3357, 1.9307, 0.6936, 1.8124, 1.1834, 1.4288, 1.8871, 0.1000},
		36: {8.2298, 8.7412, 8.0668, 7.5322, 7.0345, 7.0458, 5.6352, 6.2392, 5.6756, 5.6904, 5.0140, 3.0172},
	} {
		for i, want := range row {
			if got := whole(hertz(low), hertz(low+1+uint8(i)), decaying()); math.Abs(got-want) > 2e-3 {
				t.Errorf("note %d and %d semitones: roughness %.4f, want %.4f", low, i+1, got, want)
			}
		}
	}
}

// The published dissonance curve of two tones with six harmonics has its minima
// at the just intervals: Plomp & Levelt 1965, fig. 11; Sethares 1993, fig. 2
// (lower tone 500 Hz; the figure read from memory).
func TestDissonanceCurveHasItsMinimaAtJustIntervals(t *testing.T) {
	const step = 0.0005
	curve := func(ratio float64) float64 { return whole(500, 500*ratio, decaying()) }
	var minima []float64
	for r := 1 + step; r < 2.1; r += step {
		if here := curve(r); here < curve(r-step) && here < curve(r+step) {
			minima = append(minima, r)
		}
	}
	for _, want := range []float64{6. / 5, 5. / 4, 4. / 3, 3. / 2, 5. / 3, 2} {
		found := false
		for _, got := range minima {
			found = found || math.Abs(got-want) < 2*step
		}
		if !found {
			t.Errorf("no minimum at %.4f: they lie at %.4f", want, minima)
		}
	}
	octave, fifth, fourth, third := curve(2), curve(1.5), curve(4./3), curve(1.25)
	if !(octave < fifth && fifth < fourth && fourth < third && third < curve(1.06)) {
		t.Errorf("octave %.3f, fifth %.3f, fourth %.3f, major third %.3f, semitone %.3f do not grow", octave, fifth, fourth, third, curve(1.06))
	}
}

// On the pad the same holds in order: lower is rougher, a semitone from E4 up is roughest,
// fifth and octave are smoother than any second or third (Plomp & Levelt 1965).
func TestPadRoughnessHasThePublishedShape(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Uint8Range(36, 72).Draw(t, "low")
		for i := uint8(2); i <= 12; i++ {
			if low >= 64 && Roughness(low, low+i) > Roughness(low, low+1) {
				t.Fatalf("note %d: %d semitones are rougher than one", low, i)
			}
		}
		for i := uint8(1); i <= 4; i++ {
			for _, smooth := range []uint8{7, 12} {
				if Roughness(low, low+smooth) >= Roughness(low, low+i) {
					t.Fatalf("note %d: %d semitones are no smoother than %d", low, smooth, i)
				}
			}
		}
		if i := rapid.Uint8Range(3, 12).Draw(t, "interval"); Roughness(low, low+i) <= Roughness(low+12, low+12+i) {
			t.Fatalf("note %d: %d semitones are no rougher than an octave higher", low, i)
		}
	})
}

func TestPadPartialsGoEvenlyBetweenTheMeasuredNotes(t *testing.T) {
	if c4 := PadPartials(60)[0]; c4 != 1 {
		t.Errorf("the fundamental of C4 is %v, want 1", c4)
	}
	if PadPartials(0) != PadPartials(36) || PadPartials(127) != PadPartials(84) {
		t.Error("the partials go on beyond the measured notes")
	}
	a, b, c := PadPartials(48), PadPartials(54), PadPartials(60)
	for i := range b {
		if want := math.Sqrt(a[i] * c[i]); math.Abs(b[i]-want) > 1e-12 {
			t.Errorf("F#3, partial %d: %v, want %v, half way in dB", i+1, b[i], want)
		}
	}
}
