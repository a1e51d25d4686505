package sound

import (
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// fakePlayer gives a steady number and notes what it is sent.
type fakePlayer struct {
	value  float32
	sent   [][3]byte
	frames int
	closed bool
}

func (p *fakePlayer) send(status, data1, data2 byte) {
	p.sent = append(p.sent, [3]byte{status, data1, data2})
}

func (p *fakePlayer) write(left, right []float32) {
	for k := range left {
		left[k], right[k] = p.value, -p.value
	}
	p.frames += len(left)
}

func (p *fakePlayer) close() { p.closed = true }

// What a library gives goes through the limiter and rises from nothing.
func TestFontKeepsTheCeilingAndFadesIn(t *testing.T) {
	for _, value := range []float32{0.1, 20, float32(math.NaN()), float32(math.Inf(1))} {
		f := newFont(&fakePlayer{value: value}, 48000, -6)
		out := make([]float32, 2*48000)
		f.Render(out)
		if early := levelDB(out[:2*480]); early > levelDB(out[48000:])-20 && !math.IsInf(early, -1) {
			t.Errorf("%v: the first 10 ms are at %.1f dB, then %.1f", value, early, levelDB(out[48000:]))
		}
		checkNumbers(t, out)
		for i, x := range out {
			if math.Abs(float64(x)) > math.Pow(10, -6.0/20) {
				t.Fatalf("%v: sample %d is %v, over the ceiling", value, i, x)
			}
		}
		want := float64(min(value, float32(math.Pow(10, -6.3/20))))
		if got := float64(out[len(out)-2]); value < 100 && math.Abs(got-want) > 1e-6 {
			t.Errorf("%v comes out as %v, want %v", value, got, want)
		}
	}
}

func TestFontTakesChannelMessagesInOrder(t *testing.T) {
	p := new(fakePlayer)
	f := newFont(p, 48000, -1)
	frames := 0
	var told int64
	err := f.RenderTo([]Event{{0, 0xC1, 89, 0}, {5000, 0x91, 60, 200}, {5000, 0xF8, 0, 0}, {9000, 0x3C, 0, 0}}, 100,
		func(block []float32) error { frames += len(block) / 2; return nil },
		func(done, total int64) { told = done })
	if err != nil || frames != 9100 || p.frames != 9100 || told != 9100 {
		t.Errorf("RenderTo = %v, %d frames, %d asked for, %d told, want 9100", err, frames, p.frames, told)
	}
	if len(p.sent) != 2 || p.sent[0] != [3]byte{0xC1, 89, 0} || p.sent[1] != [3]byte{0x91, 60, 72} {
		t.Errorf("sent % X, want the channel messages with 7-bit data", p.sent)
	}
	if err := f.RenderTo(nil, 10000, func([]float32) error { return errFull }, nil); !errors.Is(err, errFull) {
		t.Errorf("error of the sink: %v", err)
	}
	if f.Close(); !p.closed {
		t.Error("Close leaves the library's synth")
	}
}

func TestFontErrors(t *testing.T) {
	dir := t.TempDir()
	song := filepath.Join(dir, "song.sf2")
	if err := os.WriteFile(song, []byte("a song, really"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := NewFont(song, 48000, 0); err == nil || err.Error() != song+" is no SoundFont: one begins with RIFF and sfbk" {
		t.Errorf("error = %v", err)
	}
	if _, err := NewFont(filepath.Join(dir, "none.sf2"), 48000, 0); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("error = %v, want that the file is not there", err)
	}
	if _, err := NewFont(song, 22050, 0); err == nil || err.Error() != "synth at 22050 Hz: 44100 and 48000 are played" {
		t.Errorf("error = %v", err)
	}
	empty := filepath.Join(dir, "empty.sf2")
	if err := os.WriteFile(empty, []byte("RIFF\x04\x00\x00\x00sfbk"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := NewFont(empty, 48000, 0)
	if errors.Is(err, ErrNoFluidSynth) || errors.Is(err, ErrFontBuild) {
		t.Skip(err)
	}
	if err == nil || err.Error() != empty+": FluidSynth cannot read it as a SoundFont" {
		t.Errorf("error = %v", err)
	}
}

// The library itself, with Debian's small General MIDI SoundFont: a warm pad's
// chord has its lines, and nothing a semitone beside them.
func TestFontPlaysAChord(t *testing.T) {
	const path = "/usr/share/sounds/sf2/TimGM6mb.sf2"
	if _, err := os.Stat(path); err != nil {
		t.Skip("needs Debian's timgm6mb-soundfont")
	}
	f, err := NewFont(path, 48000, 0)
	if errors.Is(err, ErrNoFluidSynth) || errors.Is(err, ErrFontBuild) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	f.Send(0xC1, 89, 0)
	for _, key := range []byte{63, 67, 70} {
		f.Send(0x91, key, 90)
	}
	out := make([]float32, 2*3*48000)
	f.Render(out)
	s := spectrumOf(out[2*48000:], 48000)
	line := func(hz float64) float64 { return s.bandDB(hz*0.985, hz*1.015) }
	for _, key := range []byte{63, 67, 70} {
		if got, beside := line(keyHz(key)), max(line(keyHz(66)), line(keyHz(69))); got < beside+15 {
			t.Errorf("key %d: %.1f dB, beside it %.1f: want 15 dB more", key, got, beside)
		}
	}
	f.Send(0xB1, 120, 0)
	f.Send(0xB1, 123, 0)
	f.Render(out)
	if got := levelDB(out[len(out)/2:]); got > -60 {
		t.Errorf("after all sound off: %.1f dB", got)
	}
}
