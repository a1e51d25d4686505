package sound

import (
	"math"
	"testing"
)

func newTone(t *testing.T, c ToneConfig) *Tone {
	t.Helper()
	tone, err := NewTone(c)
	if err != nil {
		t.Fatal(err)
	}
	return tone
}

// peaks gives the highest samples of both sides over some seconds, in dBFS.
func peaks(tone *Tone, seconds float64) (left, right float64) {
	out := make([]float32, 2*int(seconds*float64(tone.config.Rate)))
	tone.Render(out)
	for i := 0; i < len(out); i += 2 {
		left, right = max(left, math.Abs(float64(out[i]))), max(right, math.Abs(float64(out[i+1])))
	}
	return 20 * math.Log10(left), 20 * math.Log10(right)
}

// It begins so low that there is time to turn down, and never passes its level.
func TestToneStartsLowAndRisesSlowly(t *testing.T) {
	tone := newTone(t, ToneConfig{Rate: 48000, Hz: 1000, LevelDB: -18})
	for second := range 12 {
		_, right := peaks(tone, 1)
		want := min(-18, -60+6*float64(second+1))
		if math.Abs(right-want) > 0.1 || tone.Level() != int(math.Round(want)) {
			t.Errorf("second %d: %.2f dBFS, told %d, want %.0f", second+1, right, tone.Level(), want)
		}
	}
	tone.Restart()
	if _, right := peaks(tone, 1); right > -53.9 {
		t.Errorf("the first second after Restart reaches %.1f dBFS, want -54", right)
	}
}

func TestToneIsASineOfItsPitch(t *testing.T) {
	for _, hz := range []float64{100, 997, 10000} {
		tone := newTone(t, ToneConfig{Rate: 48000, Hz: hz, LevelDB: -40, Side: Right})
		tone.Render(make([]float32, 2*5*48000))
		out := make([]float32, 2*131072)
		tone.Render(out)
		s := spectrumOf(out, 48000)
		if got := s.peak(hz, 30); math.Abs(centsFrom(got, hz)) > 0.1 {
			t.Errorf("%g Hz sounds as %.4f", hz, got)
		}
		if rest := s.bandDB(20, hz-20) - s.bandDB(hz-20, hz+20); rest > -90 {
			t.Errorf("%g Hz: what is below it is at %.1f dB, want under -90", hz, rest)
		}
	}
}

func TestToneKeepsToItsSide(t *testing.T) {
	silent := math.Inf(-1)
	for side, want := range map[Side][2]bool{Both: {true, true}, Left: {true, false}, Right: {false, true}} {
		left, right := peaks(newTone(t, ToneConfig{Rate: 44100, Hz: 440, LevelDB: -30, Side: side}), 1)
		if got := [2]bool{left > silent, right > silent}; got != want {
			t.Errorf("side %d sounds %v, want %v", side, got, want)
		}
	}
}

// On both sides the left one pauses, so that a desk's meters tell them apart.
func TestToneOnBothSidesTellsThemApart(t *testing.T) {
	tone := newTone(t, ToneConfig{Rate: 48000, Hz: 1000, LevelDB: -60})
	peaks(tone, 3.1)
	if left, right := peaks(tone, 0.1); left > -100 || right < -61 {
		t.Errorf("in the pause: left %.1f dBFS, right %.1f, want the right alone", left, right)
	}
	peaks(tone, 0.3)
	if left, right := peaks(tone, 0.1); left != right {
		t.Errorf("after it: left %.1f dBFS, right %.1f, want the same", left, right)
	}
}

func TestToneStopsWithoutAClick(t *testing.T) {
	tone := newTone(t, ToneConfig{Rate: 48000, Hz: 1000, LevelDB: -30})
	out := make([]float32, 2*9600)
	tone.Render(make([]float32, 2*10*48000))
	tone.Render(out[:9600])
	tone.Stop()
	tone.Render(out[9600:])
	if got := clickDB(out); got > -80 {
		t.Errorf("stopping: %.1f dB above 6 kHz, want under -80", got)
	}
	if left, _ := peaks(tone, 0.1); !math.IsInf(left, -1) {
		t.Errorf("after Stop: %.1f dBFS, want silence", left)
	}
}

func TestToneRefusesWhatIsTooLoudOrNoTone(t *testing.T) {
	for _, c := range []struct {
		config ToneConfig
		want   string
	}{
		{ToneConfig{Rate: 48000, Hz: 1000, LevelDB: 0}, "tone at 0 dBFS: −60…−6 can be played"},
		{ToneConfig{Rate: 48000, Hz: 1000, LevelDB: math.NaN()}, "tone at NaN dBFS: −60…−6 can be played"},
		{ToneConfig{Rate: 48000, Hz: 10, LevelDB: -20}, "tone of 10 Hz: 20…20000 can be played"},
		{ToneConfig{Rate: 16000, Hz: 9000, LevelDB: -20}, "tone of 9000 Hz: 20…7999 can be played"},
		{ToneConfig{Rate: 10, Hz: 1000, LevelDB: -20}, "tone at 10 frames a second: 8000…192000 can be played"},
	} {
		if _, err := NewTone(c.config); err == nil || err.Error() != c.want {
			t.Errorf("NewTone(%+v) error = %v, want %q", c.config, err, c.want)
		}
	}
}

func TestToneDoesNotAllocate(t *testing.T) {
	tone, out := newTone(t, ToneConfig{Rate: 48000, Hz: 1000, LevelDB: -18}), make([]float32, 256)
	if n := testing.AllocsPerRun(100, func() { tone.Render(out) }); n != 0 {
		t.Errorf("Render allocates %v times, want 0", n)
	}
}
