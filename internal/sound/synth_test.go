package sound

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func newSynth(t testing.TB, rate int) *Synth {
	t.Helper()
	s, err := New(Config{Rate: rate, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// oneGoroutine skips a long test under the race detector, which makes it ten
// times longer and has nothing to find in it.
func oneGoroutine(t testing.TB) {
	t.Helper()
	if raced {
		t.Skip("one goroutine: nothing for the race detector")
	}
}

// play renders seconds of sound.
func play(s *Synth, seconds float64) []float32 {
	out := make([]float32, 2*int(seconds*s.rate))
	s.Render(out)
	return out
}

// levelDB gives the RMS level in dB re full scale.
func levelDB(interleaved []float32) float64 {
	sum := 0.0
	for _, x := range interleaved {
		sum += float64(x) * float64(x)
	}
	return 10 * math.Log10(sum/float64(len(interleaved)))
}

// sine gives frames of a stereo sine of the given peak, both sides equal.
func sine(frames int, hz, peak float64, rate int) []float32 {
	out := make([]float32, 2*frames)
	for i := range frames {
		x := float32(peak * math.Sin(2*math.Pi*hz*float64(i)/float64(rate)))
		out[2*i], out[2*i+1] = x, x
	}
	return out
}

func TestNewRefusesWhatItCannotPlay(t *testing.T) {
	for _, c := range []struct {
		config Config
		want   string
	}{
		{Config{Rate: 22050}, "synth at 22050 Hz: 44100 and 48000 are played"},
		{Config{Rate: 48000, CeilingDB: 3}, "synth with a ceiling of 3 dBTP: −24…−0.5 can be kept"},
		{Config{Rate: 48000, CeilingDB: math.NaN()}, "synth with a ceiling of NaN dBTP: −24…−0.5 can be kept"},
	} {
		if _, err := New(c.config); err == nil || err.Error() != c.want {
			t.Errorf("New(%+v) error = %v, want %q", c.config, err, c.want)
		}
	}
}

// someMusic sends a bar with chords, pedals, levels and a bend, through
// render, which plays the given number of frames.
func someMusic(s *Synth, render func(frames int)) {
	s.Send(0xC1, 89, 0)
	s.Send(0xC2, 88, 0)
	for _, key := range []byte{36, 60, 64, 67} {
		s.Send(0x91, key, 80)
		s.Send(0x92, key+12, 80)
	}
	render(12345)
	s.Send(0xB0, 64, 127)
	s.Send(0x90, 48, 90)
	render(17)
	s.Send(0x90, 64, 60)
	s.Send(0xB1, 11, 40)
	render(7001)
	s.Send(0xE0, 0, 80)
	s.Send(0xB1, 74, 100)
	s.Send(0x81, 60, 0)
	render(5000)
	s.Send(0xB0, 64, 0)
	s.Send(0xB2, 120, 0)
	render(9999)
}

// The same messages at the same frames, cut into blocks of any length.
func TestBlockLengthDoesNotChangeTheSound(t *testing.T) {
	oneGoroutine(t)
	whole := func(block int) []float32 {
		var sound []float32
		s := newSynth(t, 48000)
		someMusic(s, func(frames int) {
			for frames > 0 {
				n := min(block, frames)
				out := make([]float32, 2*n)
				s.Render(out)
				sound = append(sound, out...)
				frames -= n
			}
		})
		return sound
	}
	want := whole(4096)
	if level := levelDB(want); level < -40 {
		t.Fatalf("the music is at %.1f dB: too quiet to tell anything", level)
	}
	for _, block := range []int{1, 31, 64, 1000} {
		got := whole(block)
		for i := range want {
			if got[i] != want[i] {
				t.Fatalf("blocks of %d: sample %d = %v, with 4096 %v", block, i, got[i], want[i])
			}
		}
	}
}

func TestSameSeedSameSound(t *testing.T) {
	sound := func(seed uint64) []float32 {
		s, err := New(Config{Rate: 44100, Seed: seed})
		if err != nil {
			t.Fatal(err)
		}
		s.Send(0xC0, 89, 0)
		s.Send(0x90, 60, 80)
		return play(s, 0.5)
	}
	a, b, other := sound(7), sound(7), sound(8)
	same, differs := true, false
	for i := range a {
		same = same && a[i] == b[i]
		differs = differs || a[i] != other[i]
	}
	if !same || !differs {
		t.Errorf("same seed gives the same sound: %v; another seed another: %v; want both", same, differs)
	}
}

func TestOddBlockLeavesItsLastSampleSilent(t *testing.T) {
	s := newSynth(t, 48000)
	s.Send(0x90, 60, 100)
	play(s, 0.3)
	out := []float32{9, 9, 9}
	s.Render(out)
	if out[0] == 9 || out[1] == 9 || out[2] != 0 {
		t.Errorf("Render of 3 samples = %v, want a frame and a 0", out)
	}
}

func TestHotPathDoesNotAllocate(t *testing.T) {
	s := busySynth(t)
	out := make([]float32, 256)
	for _, c := range []struct {
		name string
		do   func()
	}{
		{"Render", func() { s.Render(out) }},
		{"Send note on and off", func() { s.Send(0x90, 60, 90); s.Send(0x80, 60, 0) }},
		{"Send pad on and off", func() { s.Send(0x91, 61, 90); s.Send(0x81, 61, 0) }},
		{"Send controllers", func() {
			for cc := range byte(128) {
				s.Send(0xB0, cc, 64)
			}
		}},
		{"Send bend and program", func() { s.Send(0xE0, 1, 2); s.Send(0xC5, 88, 0) }},
	} {
		if n := testing.AllocsPerRun(200, c.do); n != 0 {
			t.Errorf("%s allocates %v times, want 0", c.name, n)
		}
	}
}

// Every key of every channel at full force, on all sounds, twice over.
func TestNothingPassesTheCeiling(t *testing.T) {
	oneGoroutine(t)
	for _, c := range []struct {
		rate    int
		ceiling float64
	}{{44100, -1}, {48000, -1}, {48000, -12}} {
		s, err := New(Config{Rate: c.rate, Seed: 3, CeilingDB: c.ceiling})
		if err != nil {
			t.Fatal(err)
		}
		meter, err := NewLoudness(c.rate)
		if err != nil {
			t.Fatal(err)
		}
		for ch := range byte(16) {
			s.Send(0xC0|ch, []byte{0, 88, 89}[ch%3], 0)
			for _, cc := range []byte{7, 11, 74, 91, 93} {
				s.Send(0xB0|ch, cc, 127)
			}
		}
		for range 2 {
			for key := range byte(128) {
				for ch := range byte(16) {
					s.Send(0x90|ch, key, 127)
				}
				meter.Add(play(s, 0.002))
			}
			meter.Add(play(s, 1))
		}
		if peak := meter.PeakDB(); peak > c.ceiling || peak < c.ceiling-3 {
			t.Errorf("%d Hz: true peak %.2f dBTP, want at most %g and near it", c.rate, peak, c.ceiling)
		}
	}
}

func TestAnyEventStreamGivesSoundNumbers(t *testing.T) {
	s := newSynth(t, 48000)
	out := make([]float32, 2*700)
	rapid.Check(t, func(t *rapid.T) {
		for range rapid.IntRange(1, 60).Draw(t, "events") {
			s.Send(rapid.Byte().Draw(t, "status"), rapid.Byte().Draw(t, "data1"), rapid.Byte().Draw(t, "data2"))
			part := out[:2*rapid.IntRange(0, 700).Draw(t, "frames")]
			s.Render(part)
			checkNumbers(t, part)
		}
	})
}

func FuzzSend(f *testing.F) {
	f.Add([]byte{0x90, 60, 100, 0xE0, 127, 127, 0xB0, 101, 0, 0xB0, 100, 0, 0xB0, 6, 24, 0x90, 127, 127})
	f.Add([]byte{0xC1, 88, 0, 0x91, 0, 1, 0x91, 127, 127, 0xB1, 74, 127, 0xB1, 120, 0, 0xF0, 1, 2, 0x3C, 0, 0})
	s, err := New(Config{Rate: 44100})
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, bytes []byte) {
		out := make([]float32, 2*50)
		for ; len(bytes) >= 3; bytes = bytes[3:] {
			s.Send(bytes[0], bytes[1], bytes[2])
			s.Render(out)
			checkNumbers(t, out)
		}
	})
}

// checkNumbers refuses NaN, infinities, anything over full scale and
// denormal numbers.
func checkNumbers(t interface{ Fatalf(string, ...any) }, out []float32) {
	const smallest = 1.18e-38 // normal float32
	for i, x := range out {
		a := math.Abs(float64(x))
		if !(a <= 1) || a != 0 && a < smallest {
			t.Fatalf("sample %d = %v", i, x)
		}
	}
}

func TestSilenceBecomesExact(t *testing.T) {
	oneGoroutine(t)
	s := newSynth(t, 48000)
	s.Send(0xC1, 89, 0)
	for _, key := range []byte{36, 60, 67} {
		s.Send(0x90, key, 100)
		s.Send(0x91, key, 100)
	}
	play(s, 2)
	for ch := range byte(2) {
		s.Send(0xB0|ch, 123, 0)
	}
	play(s, 25)
	for i, x := range play(s, 0.1) {
		if x != 0 {
			t.Fatalf("sample %d is %g long after the last note, want 0", i, x)
		}
	}
}

func TestEveryStartFadesIn(t *testing.T) {
	s := newSynth(t, 48000)
	s.Send(0x90, 60, 127)
	first := levelDB(play(s, 0.010))
	play(s, 0.1)
	full := levelDB(play(s, 0.010))
	if first > full-24 {
		t.Errorf("the first 10 ms are at %.1f dB, then %.1f: want at least 24 dB less", first, full)
	}
	s.FadeIn()
	for _, c := range []struct{ seconds, under float64 }{{0.001, 40}, {0.029, 9}, {0.020, 3}} {
		if level := levelDB(play(s, c.seconds)); level > full-c.under {
			t.Errorf("after FadeIn %.3f s are at %.1f dB, want at least %g under %.1f", c.seconds, level, c.under, full)
		}
	}
}

func TestNoDirectCurrent(t *testing.T) {
	oneGoroutine(t)
	s := busySynth(t)
	play(s, 1)
	sound := play(s, 4)
	sum := [2]float64{}
	for i, x := range sound {
		sum[i%2] += float64(x)
	}
	for side, total := range sum {
		mean := 20 * math.Log10(math.Abs(total)/float64(len(sound)/2)+1e-12)
		if level := levelDB(sound); mean > level-60 {
			t.Errorf("side %d: mean %.1f dB under sound at %.1f dB, want 60 dB less", side, mean, level)
		}
	}
}
