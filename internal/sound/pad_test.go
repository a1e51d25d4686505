package sound

import (
	"math"
	"testing"
)

var bedKeys = []byte{36, 60, 64, 67, 69} // C E G A over C

// pad gives a synth that holds keys on channel 2.
func pad(t testing.TB, program byte, keys ...byte) *Synth {
	t.Helper()
	oneGoroutine(t)
	s := newSynth(t, 48000)
	s.Send(0xC1, program, 0)
	play(s, 0.2)
	for _, key := range keys {
		s.Send(0x91, key, 80)
	}
	return s
}

// Equal temperament on 440 Hz (ISO 16:1975), as heard over some seconds.
func TestPadKeysAreInTune(t *testing.T) {
	for _, program := range []byte{88, 89} {
		for key := byte(21); key <= 108; key++ {
			s := pad(t, program, key)
			s.Send(0xB1, 91, 0)
			play(s, 1)
			want := 440 * math.Pow(2, (float64(key)-69)/12)
			got := spectrumOf(play(s, 1<<18/48000.0), 48000).peak(want, 40)
			if off := centsFrom(got, want); math.Abs(off) > 1 {
				t.Errorf("program %d, key %d: %.3f Hz over 5 s, want %.3f: %.2f cents off", program, key, got, want, off)
			}
		}
	}
}

// Speech is understood from 1 to 4 kHz (the importance columns of ANSI
// S3.5-1997); the bars themselves are ours.
func TestPadsLeaveRoomForSpeech(t *testing.T) {
	for _, c := range []struct {
		program byte
		speech  float64 // most in 1…4 kHz, dB re all
	}{{89, -26}, {88, -22}} {
		s := pad(t, c.program, bedKeys...)
		play(s, 1.5)
		f := spectrumOf(play(s, 10), 48000)
		all := f.bandDB(20, 20000)
		if got := f.bandDB(1000, 4000) - all; got > c.speech {
			t.Errorf("program %d: 1…4 kHz is at %.1f dB re all, want at most %g", c.program, got, c.speech)
		}
		octave := f.bandDB(250, 500)
		for hz := 500.0; hz < 8000; hz *= 2 {
			next := f.bandDB(hz, 2*hz)
			if next > octave-6 {
				t.Errorf("program %d: octave from %g Hz is at %.1f dB, the one below at %.1f: want 6 dB less", c.program, hz, next, octave)
			}
			octave = next
		}
	}
}

func TestBrightnessFollowsItsController(t *testing.T) {
	previous := -200.0
	for _, value := range []byte{0, 32, 64, 96, 127} {
		s := pad(t, 89, bedKeys...)
		s.Send(0xB1, 74, value)
		play(s, 1.5)
		f := spectrumOf(play(s, 2.7), 48000)
		share := f.bandDB(1000, 8000) - f.bandDB(20, 1000)
		if share < previous+3 {
			t.Errorf("CC 74 = %d: share above 1 kHz %.1f dB, want 3 dB over %.1f", value, share, previous)
		}
		previous = share
	}
}

// A held chord stays alive, and never throbs.
func TestHeldChordIsSteady(t *testing.T) {
	for _, program := range []byte{88, 89} {
		s := pad(t, program, bedKeys...)
		play(s, 2)
		lowest, highest := 100.0, -100.0
		for range 200 {
			level := levelDB(play(s, 0.1))
			lowest, highest = min(lowest, level), max(highest, level)
		}
		if highest-lowest > 4.5 || highest-lowest < 0.3 {
			t.Errorf("program %d: levels of 0.1 s over 20 s lie between %.1f and %.1f dB, want 0.3…4.5 dB apart", program, lowest, highest)
		}
	}
}

// Aliases of bright notes up to C7: what is under 10 kHz and not near a harmonic.
// The unison and the drift keep within 60 Hz and 3 % of theirs.
func TestPadHasNoAliases(t *testing.T) {
	for _, c := range []struct{ program, key byte }{{89, 60}, {89, 72}, {89, 79}, {89, 84}, {89, 91}, {89, 96}, {88, 96}} {
		s := pad(t, c.program, c.key)
		for i := range s.pads {
			s.pads[i].breathy = 0 // noise is none
		}
		s.Send(0xB1, 74, 127)
		s.Send(0xB1, 91, 0)
		play(s, 2)
		f := spectrumOf(play(s, 2.7), 48000)
		first, stray := keyHz(c.key), 1e-30
		for i := range f.power {
			hz := float64(i) * f.width
			n := math.Max(1, math.Round(hz/first))
			if hz > 50 && hz < 10000 && math.Abs(hz-n*first) > 60 {
				stray += f.power[i]
			}
		}
		got := 10*math.Log10(stray) - f.bandDB(0.97*first, 1.03*first)
		t.Logf("program %d, key %d: %.1f dB", c.program, c.key, got)
		if got > -60 {
			t.Errorf("program %d: beside the harmonics of key %d there is %.1f dB re the fundamental, want at most -60", c.program, c.key, got)
		}
	}
}

func TestPadRisesAndFallsGently(t *testing.T) {
	s := pad(t, 89, 60)
	s.Send(0xB1, 91, 0)
	early := levelDB(play(s, 0.05))
	play(s, 1.5)
	full := levelDB(play(s, 0.5))
	for _, key := range bedKeys {
		s.Send(0x81, key, 0)
	}
	play(s, 0.3)
	falling := levelDB(play(s, 0.05))
	play(s, 1.5)
	gone := levelDB(play(s, 0.05))
	if early > full-20 || falling < full-9 || falling > full || gone > full-60 {
		t.Errorf("pad: first 50 ms %.1f dB, full %.1f, 0.3 s after the release %.1f, 1.8 s after %.1f", early, full, falling, gone)
	}
}

// A note struck again while it sounds goes on; one that is just going comes
// back from where it is.
func TestPadStruckAgainGoesOn(t *testing.T) {
	s, twin := pad(t, 89, 60), pad(t, 89, 60)
	play(s, 1.5)
	play(twin, 1.5)
	s.Send(0x91, 60, 80)
	again, held := play(s, 0.2), play(twin, 0.2)
	for i := range held {
		if again[i] != held[i] {
			t.Fatalf("struck again, sample %d is %v, want %v as if only held", i, again[i], held[i])
		}
	}
	s.Send(0x81, 60, 0)
	play(s, 0.3)
	s.Send(0x91, 60, 80)
	play(s, 0.8)
	play(twin, 1.1)
	before := levelDB(play(twin, 0.2))
	if after := levelDB(play(s, 0.2)); math.Abs(after-before) > 1 {
		t.Errorf("taken up again, the level is %.1f dB, want about %.1f as if only held", after, before)
	}
	s.Send(0x81, 60, 0)
	play(s, 4)
	if left := levelDB(play(s, 0.1)); left > before-40 {
		t.Errorf("after one note off the level is %.1f dB, want the note gone", left)
	}
}

// Two-pole low-pass, trapezoidal, 1 kHz at 48 kHz: computed in closed form
// for the bilinear transform.
func TestStateVariableMatchesItsClosedForm(t *testing.T) {
	for _, c := range []struct {
		q, hz, want float64
	}{
		{math.Sqrt2 / 2, 100, -0.0004}, {math.Sqrt2 / 2, 500, -0.2622}, {math.Sqrt2 / 2, 1000, -3.0103},
		{math.Sqrt2 / 2, 2000, -12.3749}, {math.Sqrt2 / 2, 8000, -37.7971},
		{1, 500, 0.9003}, {1, 4000, -24.2095}, {2, 1000, 6.0206}, {10, 1000, 20}, {10, 2000, -9.6610},
	} {
		var f stateVariable
		f.tune(1000, c.q, 48000)
		const settle, n = 48000, 48000
		in, out := 0.0, 0.0
		for i := range settle + n {
			x := math.Sin(2 * math.Pi * c.hz * float64(i) / 48000)
			y, _ := f.next(x)
			if i >= settle {
				in += x * x
				out += y * y
			}
		}
		if got := 10 * math.Log10(out/in); math.Abs(got-c.want) > 1e-3 {
			t.Errorf("Q %.4g at %g Hz: %.4f dB, want %.4f", c.q, c.hz, got, c.want)
		}
	}
}
