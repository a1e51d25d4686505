package sound

import (
	"math"
	"testing"
)

type stretch struct{ seconds, peakDB float64 }

func measure(t *testing.T, rate int, hz float64, sides int, stretches ...stretch) *Loudness {
	t.Helper()
	l, err := NewLoudness(rate)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range stretches {
		sound := sine(int(p.seconds*float64(rate)), hz, math.Pow(10, p.peakDB/20), rate)
		if sides == 1 {
			for i := 1; i < len(sound); i += 2 {
				sound[i] = 0
			}
		}
		l.Add(sound)
	}
	return l
}

func TestLoudnessOfSines(t *testing.T) {
	oneGoroutine(t)
	for _, c := range []struct {
		name   string
		hz     float64
		sides  int
		peakDB float64
		want   float64
	}{
		// ITU-R BS.1770-4, Annex 1: 997 Hz at 0 dBFS in one channel.
		{"997 Hz, left", 997, 1, 0, -3.01},
		// Worked out from the published coefficients.
		{"1 kHz, both", 1000, 2, -23, -22.993},
		{"1 kHz, left", 1000, 1, -23, -26.004},
	} {
		for _, rate := range []int{44100, 48000} {
			l := measure(t, rate, c.hz, c.sides, stretch{5, c.peakDB})
			for name, got := range map[string]float64{"integrated": l.Integrated(), "momentary": l.Momentary()} {
				if math.Abs(got-c.want) > 0.006 {
					t.Errorf("%s at %d Hz: %s %.4f LUFS, want %.3f", c.name, rate, name, got, c.want)
				}
			}
		}
	}
}

// EBU Tech 3341, Table 1, cases 1 to 5; ±0.1 LU. The durations of case 5
// are from memory.
func TestEBUTech3341(t *testing.T) {
	oneGoroutine(t)
	for i, stretches := range [][]stretch{
		{{20, -23}},
		{{20, -33}},
		{{10, -36}, {60, -23}, {10, -36}},
		{{10, -72}, {10, -36}, {60, -23}, {10, -36}, {10, -72}},
		{{20, -26}, {20.1, -20}, {20, -26}},
	} {
		want := -23.0
		if i == 1 {
			want = -33
		}
		for _, rate := range []int{44100, 48000} {
			l := measure(t, rate, 1000, 2, stretches...)
			readings := map[string]float64{"integrated": l.Integrated()}
			if i < 2 {
				readings["momentary"], readings["short-term"] = l.Momentary(), l.ShortTerm()
			}
			for name, got := range readings {
				if math.Abs(got-want) > 0.1 {
					t.Errorf("case %d at %d Hz: %s %.3f LUFS, want %g ± 0.1", i+1, rate, name, got, want)
				}
			}
		}
	}
}

// follow measures 1 kHz in steps of 10 ms and gives the lowest and highest
// reading after some seconds.
func follow(t *testing.T, read func(*Loudness) float64, after float64, stretches ...stretch) (lowest, highest float64) {
	t.Helper()
	l := measure(t, 48000, 1000, 2)
	lowest, highest = math.Inf(1), math.Inf(-1)
	now := 0
	for _, p := range stretches {
		sound := sine(int(math.Round(p.seconds*48000)), 1000, math.Pow(10, p.peakDB/20), 48000)
		for len(sound) > 0 {
			n := min(len(sound), 2*480)
			l.Add(sound[:n])
			sound = sound[n:]
			if now += n / 2; float64(now) > after*48000 {
				lowest, highest = min(lowest, read(l)), max(highest, read(l))
			}
		}
	}
	return lowest, highest
}

// EBU Tech 3341, cases 9 and 12: readings that stay still while the level
// alternates over the very length they are taken of; ±0.1 LU. The signals are
// from memory.
func TestEBUTech3341Steady(t *testing.T) {
	oneGoroutine(t)
	for _, c := range []struct {
		name  string
		read  func(*Loudness) float64
		times int
		after float64
		a, b  stretch
	}{
		{"case 9, short-term", (*Loudness).ShortTerm, 5, 3, stretch{1.34, -20}, stretch{1.66, -30}},
		{"case 12, momentary", (*Loudness).Momentary, 25, 1, stretch{0.18, -20}, stretch{0.22, -30}},
	} {
		var stretches []stretch
		for range c.times {
			stretches = append(stretches, c.a, c.b)
		}
		if lowest, highest := follow(t, c.read, c.after, stretches...); lowest < -23.1 || highest > -22.9 {
			t.Errorf("%s: %.3f…%.3f LUFS, want -23 ± 0.1 throughout", c.name, lowest, highest)
		}
	}
}

// EBU Tech 3341, cases 10, 11, 13 and 14: the loudest reading of a tone that
// lasts just as long as the reading, wherever it begins, and at any level; ±0.1
// LU. The signals are from memory.
func TestEBUTech3341Loudest(t *testing.T) {
	oneGoroutine(t)
	const silent = -200
	for _, c := range []struct {
		name          string
		read          func(*Loudness) float64
		length, shift float64
	}{
		{"cases 10 and 11, short-term", (*Loudness).ShortTerm, 3, 0.150},
		{"cases 13 and 14, momentary", (*Loudness).Momentary, 0.4, 0.020},
	} {
		for i := range 20 {
			before := stretch{float64(i) * c.shift, silent}
			for _, level := range []float64{-23, -38 + float64(i)} {
				_, got := follow(t, c.read, 0, before, stretch{c.length, level}, stretch{1, silent})
				if math.Abs(got-level) > 0.1 {
					t.Errorf("%s: after %.2f s of silence %.3f LUFS at most, want %g ± 0.1", c.name, before.seconds, got, level)
				}
			}
		}
	}
}

// EBU Tech 3341, cases 15 to 19, with fades of 100 ms, as a hard start has a
// true peak of its own; −0.4/+0.2 dB.
func TestTruePeak(t *testing.T) {
	for _, c := range []struct {
		divisor, degrees, peak, want float64
	}{
		{4, 0, 0.5, -6}, {4, 45, 0.5, -6}, {6, 60, 0.5, -6}, {8, 67.5, 0.5, -6}, {4, 45, 1.41, 3},
	} {
		const rate, seconds = 48000, 1
		sound := make([]float32, 2*rate*seconds)
		for i := range rate * seconds {
			edge := min(1, float64(min(i, rate*seconds-1-i))/(0.1*rate))
			x := edge * c.peak * math.Sin(2*math.Pi*float64(i)/c.divisor+c.degrees*math.Pi/180)
			sound[2*i+1] = float32(x) // the right side counts as much as the left
		}
		l, err := NewLoudness(rate)
		if err != nil {
			t.Fatal(err)
		}
		l.Add(sound)
		if got := l.PeakDB(); got > c.want+0.2 || got < c.want-0.4 {
			t.Errorf("fs/%g at %g°, %g: %.2f dBTP, want %g", c.divisor, c.degrees, c.peak, got, c.want)
		}
	}
}

func TestLoudnessOfNothing(t *testing.T) {
	l := measure(t, 48000, 1000, 2)
	minus := math.Inf(-1)
	check := func(when string) {
		t.Helper()
		if i, m := l.Integrated(), l.Momentary(); i != minus || m != minus {
			t.Errorf("%s: integrated %v, momentary %v, want -Inf", when, i, m)
		}
	}
	check("before any sound")
	if s := l.ShortTerm(); s != minus {
		t.Errorf("short-term of no sound = %v, want -Inf", s)
	}
	if p := l.PeakDB(); p != minus {
		t.Errorf("peak of no sound = %v, want -Inf", p)
	}
	l.Add(sine(48000*399/1000, 1000, 0.5, 48000))
	check("after 399 ms")
	l = measure(t, 48000, 1000, 2)
	l.Add(make([]float32, 2*48000))
	check("after a second of silence")
	l.Add(sine(48000, 1000, 1e-4, 48000)) // −80 dBFS: under the absolute gate
	if got := l.Integrated(); got != minus {
		t.Errorf("integrated loudness of -80 dBFS = %v, want -Inf", got)
	}
}

func TestLoudnessDoesNotDependOnBlocks(t *testing.T) {
	oneGoroutine(t)
	sound := play(busySynth(t), 2)
	whole := measure(t, 48000, 1000, 2)
	whole.Add(sound)
	pieces := measure(t, 48000, 1000, 2)
	for len(sound) > 0 {
		n := min(2*77, len(sound))
		pieces.Add(sound[:n])
		sound = sound[n:]
	}
	if a, b := whole.Integrated(), pieces.Integrated(); a != b {
		t.Errorf("whole %v, in pieces %v", a, b)
	}
	if a, b := whole.PeakDB(), pieces.PeakDB(); a != b {
		t.Errorf("peak whole %v, in pieces %v", a, b)
	}
}

func TestLoudnessRefusesOddRates(t *testing.T) {
	_, err := NewLoudness(96)
	if want := "loudness meter at 96 Hz: 8000…192000 can be measured"; err == nil || err.Error() != want {
		t.Errorf("error = %v, want %q", err, want)
	}
}

// What a player gets: a full bed on the usual levels with a moderate piano
// around −23…−18 LUFS, and the bed turned down clearly under the piano.
func TestBedAndPianoSitWell(t *testing.T) {
	oneGoroutine(t)
	loudest := func(expression byte, bed, keys bool) float64 {
		s := newSynth(t, 48000)
		s.Send(0xC1, 89, 0)
		s.Send(0xB1, 7, 100)
		s.Send(0xB1, 11, expression)
		play(s, 0.2)
		if bed {
			for _, key := range bedKeys {
				s.Send(0x91, key, 80)
			}
			play(s, 2)
		}
		meter := measure(t, 48000, 1000, 2)
		highest := math.Inf(-1)
		for i := range 16 {
			if keys {
				s.Send(0x90, []byte{48, 55, 64, 67, 72, 76, 72, 67}[i%8], 70)
			}
			meter.Add(play(s, 0.3))
			highest = max(highest, meter.Momentary())
			if keys {
				s.Send(0x80, []byte{48, 55, 64, 67, 72, 76, 72, 67}[i%8], 0)
			}
		}
		return highest
	}
	if got := loudest(127, true, true); got < -23 || got > -18 {
		t.Errorf("full bed and moderate piano: at most %.1f LUFS, want -23…-18", got)
	}
	bed, keys := loudest(80, true, false), loudest(80, false, true)
	if bed > keys-5 || bed < keys-16 {
		t.Errorf("bed at CC 11 = 80 is at %.1f LUFS, the piano at %.1f: want 5…16 LU between them", bed, keys)
	}
}
