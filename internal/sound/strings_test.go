package sound

import (
	"math"
	"testing"
)

// struck gives a dry piano note from 0.1 s after the blow.
func struck(t testing.TB, key, velocity byte, seconds float64) []float32 {
	t.Helper()
	oneGoroutine(t)
	s := newSynth(t, 48000)
	s.Send(0xB0, 91, 0)
	play(s, 0.2)
	s.Send(0x90, key, velocity)
	play(s, 0.1)
	return play(s, seconds)
}

func TestPianoKeysAreInTune(t *testing.T) {
	for key := byte(21); key <= 108; key++ {
		// Equal temperament on 440 Hz (ISO 16:1975) and our stated stretch.
		want := 440 * math.Pow(2, (float64(key)-69)/12) * math.Pow(2, stretchCents(key)/1200)
		seconds := 2.7
		if key > 84 {
			seconds = 0.68 // the treble does not ring longer
		}
		got := spectrumOf(struck(t, key, 80, seconds), 48000).peak(want, 60)
		if off := centsFrom(got, want); math.Abs(off) > 1 {
			t.Errorf("key %d: first partial %.4f Hz, want %.4f: %.2f cents off", key, got, want, off)
		}
	}
}

func TestStretchIsSmallWhereChordsAre(t *testing.T) {
	for key := byte(36); key <= 84; key++ {
		if c := stretchCents(key); math.Abs(c) > 3 {
			t.Errorf("key %d is stretched %.2f cents, want at most 3 from C2 to C6", key, c)
		}
	}
	for key := byte(22); key <= 108; key++ {
		if stretchCents(key) < stretchCents(key-1) {
			t.Errorf("stretch falls from key %d to %d", key-1, key)
		}
	}
}

// Young 1952, Fletcher 1964: f_n = n·f0·√(1 + B·n²), worked out here anew.
func TestPartialsAreInharmonic(t *testing.T) {
	for _, key := range []byte{33, 45, 60, 69} {
		s := spectrumOf(struck(t, key, 110, 2.7), 48000)
		b := inharmonicity(key)
		first := keyHz(key) * math.Pow(2, stretchCents(key)/1200)
		for _, n := range []float64{2, 4, 6} {
			want := n * first * math.Sqrt((1+b*n*n)/(1+b))
			if off := centsFrom(s.peak(want, 15), want); math.Abs(off) > 1 {
				t.Errorf("key %d, partial %g is %.2f cents from the stiff string's", key, n, off)
			}
		}
	}
}

// The shape alone is known for sure: one minimum near A2…C3, rising towards
// both ends (Rigaud, David & Daudet 2013; bounds of B from memory).
func TestInharmonicityHasItsKnownShape(t *testing.T) {
	lowest := byte(21)
	for key := byte(21); key <= 108; key++ {
		if inharmonicity(key) < inharmonicity(lowest) {
			lowest = key
		}
	}
	if lowest < 38 || lowest > 50 {
		t.Errorf("inharmonicity is least at key %d, want 38…50", lowest)
	}
	for key := byte(22); key <= 108; key++ {
		if rises := inharmonicity(key) > inharmonicity(key-1); rises != (key > lowest) {
			t.Errorf("inharmonicity turns at key %d, want one minimum, at %d", key, lowest)
		}
	}
	if b := inharmonicity(60); b <= 1e-4 || b >= 1e-3 {
		t.Errorf("B at C4 = %g, want 1e-4…1e-3", b)
	}
	if b := inharmonicity(108); b <= 5e-3 || b >= 5e-2 {
		t.Errorf("B at C8 = %g, want 5e-3…5e-2", b)
	}
}

// partialDB follows the level of the sine at hz in steps of 0.1 s.
func partialDB(interleaved []float32, hz float64) []float64 {
	const step = 4800
	var levels []float64
	for start := 0; start+step <= len(interleaved)/2; start += step {
		re, im := 0.0, 0.0
		for i := range step {
			w := 1 - math.Cos(2*math.Pi*float64(i)/step)
			sin, cos := math.Sincos(2 * math.Pi * hz * float64(i) / 48000)
			x := w * float64(interleaved[2*(start+i)]+interleaved[2*(start+i)+1])
			re += x * cos
			im += x * sin
		}
		levels = append(levels, 10*math.Log10(re*re+im*im))
	}
	return levels
}

// Weinreich 1977 (from memory): about 8 dB/s at first in the middle of the
// keyboard, then about 2 dB/s.
func TestDecayHasTwoStages(t *testing.T) {
	levels := partialDB(struck(t, 60, 80, 6), keyHz(60)*math.Exp2(stretchCents(60)/1200))
	early := (levels[0] - levels[5]) / 0.5
	late := (levels[39] - levels[59]) / 2
	if early < 4 || early > 11 {
		t.Errorf("C4 decays by %.1f dB/s at first, want 4…11", early)
	}
	if late < 1 || late > 4.5 || late > early/1.5 {
		t.Errorf("C4 decays by %.1f dB/s after 4 s, want 1…4.5 and well under %.1f", late, early)
	}
}

// T60 by register, after Martin 1947 (from memory).
func TestDecayByRegister(t *testing.T) {
	for _, c := range []struct {
		key      byte
		min, max float64 // seconds
	}{{21, 10, 25}, {60, 5, 10}, {84, 1, 3}, {108, 0.3, 1}} {
		if s := 60 / decayDB(c.key); s < c.min || s > c.max {
			t.Errorf("key %d: T60 %.2f s, want %g…%g", c.key, s, c.min, c.max)
		}
	}
	for key := byte(22); key <= 108; key++ {
		if decayDB(key) <= decayDB(key-1) {
			t.Errorf("key %d decays no faster than the one below", key)
		}
	}
}

func TestHardBlowsAreLouderAndBrighter(t *testing.T) {
	previous, brightest := -200.0, -200.0
	for _, velocity := range []byte{20, 50, 80, 110, 127} {
		s := spectrumOf(struck(t, 55, velocity, 0.68), 48000)
		level := s.bandDB(50, 10000)
		bright := s.bandDB(1500, 10000) - level
		if level < previous+1 || bright < brightest+1 {
			t.Errorf("velocity %d: level %.1f dB after %.1f, treble share %.1f dB after %.1f; want 1 dB more of both",
				velocity, level, previous, bright, brightest)
		}
		previous, brightest = level, bright
	}
}

func TestSoftPedalIsSofterAndDarker(t *testing.T) {
	oneGoroutine(t)
	sound := func(pedal byte) spectrum {
		s := newSynth(t, 48000)
		s.Send(0xB0, 67, pedal)
		play(s, 0.2)
		s.Send(0x90, 60, 90)
		return spectrumOf(play(s, 0.68), 48000)
	}
	open, soft, half := sound(0), sound(127), sound(63)
	if drop := open.bandDB(50, 10000) - soft.bandDB(50, 10000); drop < 1 || drop > 6 {
		t.Errorf("CC 67 takes %.1f dB, want 1…6", drop)
	}
	if open.bandDB(1500, 10000)-soft.bandDB(1500, 10000) < open.bandDB(50, 600)-soft.bandDB(50, 600)+1 {
		t.Error("CC 67 takes no more from the treble than from the bass")
	}
	if a, b := open.bandDB(50, 10000), half.bandDB(50, 10000); math.Abs(a-b) > 0.01 {
		t.Errorf("CC 67 at 63 changes the level from %.2f to %.2f dB, want off", a, b)
	}
}

func TestTrebleStringsHaveNoDampers(t *testing.T) {
	oneGoroutine(t)
	after := func(key byte) float64 { // dB lost from 0.1 to 0.4 s after the release
		s := newSynth(t, 48000)
		s.Send(0xB0, 91, 0)
		play(s, 0.2)
		s.Send(0x90, key, 90)
		play(s, 0.1)
		s.Send(0x80, key, 0)
		play(s, 0.1)
		first := levelDB(play(s, 0.05))
		play(s, 0.25)
		return first - levelDB(play(s, 0.05))
	}
	if top, below := after(firstUndamped), after(firstUndamped-1); top > 20 || below < 30 {
		t.Errorf("0.3 s after the release F♯6 lost %.1f dB and F6 %.1f, want under 20 and over 30", top, below)
	}
}
