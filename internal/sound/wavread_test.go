package sound

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// readAll reads a whole file in blocks of some frames.
func readAll(t *testing.T, data []byte, block int) (rate int, samples []float32) {
	t.Helper()
	w, err := NewWAVReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	for out := make([]float32, 2*block); ; {
		n, err := w.Read(out)
		samples = append(samples, out[:2*n]...)
		if errors.Is(err, io.EOF) {
			return w.Rate(), samples
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// What bedd writes is read as it was, whatever the blocks.
func TestWAVRoundTrip(t *testing.T) {
	in := make([]float32, 2*1000)
	for i := range in {
		in[i] = float32(math.Round(math.Sin(float64(i)/7)*4000) / (1 << 13))
	}
	m := new(memory)
	w, _ := NewWAV(m, 44100, 24)
	if err := errors.Join(w.Write(in), w.Close()); err != nil {
		t.Fatal(err)
	}
	for _, block := range []int{1, 7, 333, 5000} {
		rate, out := readAll(t, m.bytes, block)
		if rate != 44100 || len(out) != len(in) {
			t.Fatalf("%d samples at %d Hz", len(out), rate)
		}
		for i := range in {
			if out[i] != in[i] {
				t.Fatalf("sample %d is %v, was %v", i, out[i], in[i])
			}
		}
	}
}

// A sound of ours that sox, an independent program, has put into every kind of WAV
// file is still the same sound.
func TestWAVKindsOfAnotherProgram(t *testing.T) {
	sox, err := exec.LookPath("sox")
	if err != nil {
		t.Skip("needs sox")
	}
	dir := t.TempDir()
	ours := make([]float32, 2*3000)
	for i := range ours {
		ours[i] = float32(0.5 * math.Sin(float64(i)/9))
	}
	m := new(memory)
	w, _ := NewWAV(m, 22050, 24)
	path := filepath.Join(dir, "ours.wav")
	if err := errors.Join(w.Write(ours), w.Close(), os.WriteFile(path, m.bytes, 0o600)); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		kind, args string
		after      string  // what else sox does
		step       float64 // of the samples
	}{
		{"8 bits", "-b 8 -e unsigned-integer", "", 1.0 / (1 << 7)},
		{"16 bits", "-b 16", "", 1.0 / (1 << 15)},
		{"24 bits, extensible", "-b 24", "", 1.0 / (1 << 23)},
		{"32 bits", "-b 32", "", 1.0 / (1 << 23)},
		{"floats", "-b 32 -e floating-point", "", 1.0 / (1 << 23)},
		{"long floats", "-b 64 -e floating-point", "", 1.0 / (1 << 23)},
		{"one channel", "-b 24", "remix 1", 1.0 / (1 << 23)},
		{"four channels", "-b 24", "remix 1 2 0 2", 1.0 / (1 << 23)},
	} {
		out := filepath.Join(dir, c.kind+".wav")
		args := append([]string{"-D", path}, strings.Fields(c.args)...)
		if said, err := exec.Command(sox, append(append(args, out), strings.Fields(c.after)...)...).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, said)
		}
		data, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		rate, got := readAll(t, data, 512)
		if rate != 22050 || len(got) != len(ours) {
			t.Errorf("%s: %d samples at %d Hz", c.kind, len(got), rate)
			continue
		}
		for i := range got {
			want := ours[i]
			if c.kind == "one channel" {
				want = ours[i/2*2]
			}
			if math.Abs(float64(got[i]-want)) > 1.01*c.step {
				t.Errorf("%s: sample %d is %v, want %v", c.kind, i, got[i], want)
				break
			}
		}
	}
}

// head16 is a file of 16 bits by hand: its description may be changed, its samples
// are as given.
func head16(change func(format []byte), samples ...byte) []byte {
	le := binary.LittleEndian
	f := make([]byte, 16)
	le.PutUint16(f, 1)
	le.PutUint16(f[2:], 1)
	le.PutUint32(f[4:], 48000)
	le.PutUint32(f[8:], 96000)
	le.PutUint16(f[12:], 2)
	le.PutUint16(f[14:], 16)
	if change != nil {
		change(f)
	}
	b := append([]byte("RIFF\x00\x00\x00\x00WAVELIST\x03\x00\x00\x00abc\x00fmt \x10\x00\x00\x00"), f...)
	b = le.AppendUint32(append(b, "data"...), uint32(len(samples)))
	return append(b, samples...)
}

func TestWAVErrorsSayWhatIsWrong(t *testing.T) {
	put := func(at int, v uint16) func([]byte) {
		return func(f []byte) { binary.LittleEndian.PutUint16(f[at:], v) }
	}
	for want, data := range map[string][]byte{
		"not a WAV file: record or convert to WAV, uncompressed":                          []byte("ID3 an MP3 file"),
		"WAV file with coding 85: uncompressed samples are read, so save it as PCM":       head16(put(0, 85)),
		"WAV file of 0 channels: 1…64 are read":                                           head16(put(2, 0)),
		"WAV file of 12 bits a sample: 8, 16, 24 and 32 are read, or floats of 32 and 64": head16(put(14, 12)),
		"WAV file whose frames have 4 bytes: 1 samples of 16 bits have 2":                 head16(put(12, 4)),
		"WAV file of 0 frames a second":                                                   head16(func(f []byte) { clear(f[4:8]) }),
		"WAV file without samples: it was cut short, or its recorder did not finish it":   head16(nil)[:40],
		"WAV file that does not say what its samples are before they come":                []byte("RIFF\x00\x00\x00\x00WAVEdata\x02\x00\x00\x00\x00\x00"),
		"WAV file whose description has 4 bytes: 16 or more are needed":                   []byte("RIFF\x00\x00\x00\x00WAVEfmt \x04\x00\x00\x00\x00\x00\x00\x00"),
	} {
		if _, err := NewWAVReader(bytes.NewReader(data)); err == nil || err.Error() != want {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

// A file that was cut short gives what is there; one whose sizes were never written
// too.
func TestWAVCutShort(t *testing.T) {
	data := head16(nil, 0, 0x40, 0, 0x20, 0, 0x10)
	if _, got := readAll(t, data[:len(data)-1], 10); len(got) != 4 || got[0] != 0.5 || got[2] != 0.25 {
		t.Errorf("cut in a sample: %v", got)
	}
	binary.LittleEndian.PutUint32(data[len(data)-10:], 0)
	if _, got := readAll(t, data, 2); len(got) != 6 || got[4] != 0.125 {
		t.Errorf("without sizes: %v", got)
	}
}

func FuzzWAVReader(f *testing.F) {
	f.Add(head16(nil, 0, 0x40, 0, 0x20))
	f.Add(head16(func(b []byte) { b[0], b[14], b[12] = 3, 32, 4 }, 0, 0, 0xC0, 0x7F))
	f.Add([]byte("RIFF\x00\x00\x00\x00WAVEfmt \xFF\xFF\xFF\xFF"))
	f.Fuzz(func(t *testing.T, data []byte) {
		w, err := NewWAVReader(bytes.NewReader(data))
		if err != nil {
			return
		}
		frames := 0
		for out := make([]float32, 64); ; {
			n, err := w.Read(out)
			frames += n
			for _, x := range out[:2*n] {
				if x != x || math.IsInf(float64(x), 0) {
					t.Fatalf("a sample of %v", x)
				}
			}
			if err != nil {
				break
			}
		}
		if frames > len(data) {
			t.Fatalf("%d frames of %d bytes", frames, len(data))
		}
	})
}
