package soundcheck

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"

	"bedd/internal/clarity"
	"bedd/internal/sound"
)

// Steady sound that BS.1770 and the bands measure alike is as loud by the one as by the
// other: noise of the standard's shape is hard to make, a sine in a band is not.
func TestLoudnessOfBandsIsThatOfBS1770(t *testing.T) {
	for _, hz := range []float64{251.19, 1000, 3981.07} {
		ear, err := NewEar(48000)
		if err != nil {
			t.Fatal(err)
		}
		for i := range 5 * 48000 {
			x := float32(0.1 * math.Sin(2*math.Pi*hz*float64(i)/48000))
			ear.Add([]float32{x, x})
		}
		h := ear.Heard()
		if got := loudnessOf(h.Levels); math.Abs(got-h.LUFS) > 0.1 {
			t.Errorf("%v Hz: by bands %.2f, by the meter %.2f LUFS", hz, got, h.LUFS)
		}
	}
	if v := StandardVoice(clarity.Normal, 62); math.Abs(loudnessOf(v.Levels.Plus(-v.FullSPL))-v.LUFS) > 1e-9 || math.Abs(v.Levels.Overall()-62) > 1e-9 {
		t.Errorf("the standard's voice: %+v", v)
	}
}

// A recording's gain, and its level, make no difference to the index.
func TestRecordingsAreRelative(t *testing.T) {
	h := Heard{Levels: clarity.StandardSpeech(clarity.Normal).Plus(-90), LUFS: -23}
	a, b := RecordedVoice("", h, 62), h
	b.Levels, b.LUFS = h.Levels.Plus(12), h.LUFS+12
	c := RecordedVoice("", b, 62)
	for i := range a.Levels {
		if math.Abs(a.Levels[i]-c.Levels[i]) > 1e-9 {
			t.Errorf("band %d: %v and %v", i, a.Levels[i], c.Levels[i])
		}
	}
}

func TestRecordingsThatCannotBeJudged(t *testing.T) {
	file := func(rate, seconds int, at func(i int) float64) []byte {
		m := new(seekable)
		w, err := sound.NewWAV(m, rate, 24)
		if err != nil {
			t.Fatal(err)
		}
		block := make([]float32, 2*rate*seconds)
		for i := range block {
			block[i] = float32(at(i / 2))
		}
		if err := errors.Join(w.Write(block), w.Close()); err != nil {
			t.Fatal(err)
		}
		return m.bytes
	}
	tone := func(i int) float64 { return 0.1 * math.Sin(float64(i)/9) }
	for want, data := range map[string][]byte{
		"nothing is heard in it: is the right input recorded, and its level up?":                      file(48000, 5, func(int) float64 { return 0 }),
		"only 1.8 s of it count, pauses left out: ten seconds or more are needed":                     file(48000, 2, tone),
		"a spectrum of speech needs 18000…192000 frames a second, not 8000: record at 44100 or 48000": file(8000, 5, tone),
		"not a WAV file: record or convert to WAV, uncompressed":                                      []byte("OggS"),
	} {
		if _, err := hear(bytes.NewReader(data)); err == nil || err.Error() != want {
			t.Errorf("%v, want %q", err, want)
		}
	}
	if _, err := HearFile("testdata/none.wav"); err == nil || !strings.Contains(err.Error(), "none.wav") {
		t.Errorf("a file that is not there: %v", err)
	}
}

// seekable is a file in memory.
type seekable struct {
	bytes []byte
	at    int
}

func (m *seekable) Write(p []byte) (int, error) {
	if need := m.at + len(p); need > len(m.bytes) {
		m.bytes = append(m.bytes, make([]byte, need-len(m.bytes))...)
	}
	copy(m.bytes[m.at:], p)
	m.at += len(p)
	return len(p), nil
}

func (m *seekable) Seek(offset int64, whence int) (int64, error) {
	if m.at = int(offset); whence == 2 {
		m.at = len(m.bytes)
	}
	return int64(m.at), nil
}
