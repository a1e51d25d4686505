package sound

import (
	"encoding/binary"
	"errors"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// memory is a file in memory whose writes fail after some bytes, if asked.
type memory struct {
	bytes []byte
	at    int
	room  int // 0: no limit
}

var errFull = errors.New("disk full")

func (m *memory) Write(p []byte) (int, error) {
	if m.room > 0 && m.at+len(p) > m.room {
		return 0, errFull
	}
	if need := m.at + len(p); need > len(m.bytes) {
		m.bytes = append(m.bytes, make([]byte, need-len(m.bytes))...)
	}
	copy(m.bytes[m.at:], p)
	m.at += len(p)
	return len(p), nil
}

func (m *memory) Seek(offset int64, whence int) (int64, error) {
	m.at = int(offset)
	if whence == io.SeekEnd {
		m.at += len(m.bytes)
	}
	return int64(m.at), nil
}

// The head, field by field (IBM and Microsoft, Multimedia Programming
// Interface and Data Specifications 1.0, 1991).
func TestWAVHead(t *testing.T) {
	for _, bits := range []int{16, 24} {
		m := new(memory)
		w, err := NewWAV(m, 44100, bits)
		if err != nil {
			t.Fatal(err)
		}
		for range 3 {
			if err := w.Write(make([]float32, 2*100)); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		data := 300 * 2 * bits / 8
		u32 := func(at int) int { return int(binary.LittleEndian.Uint32(m.bytes[at:])) }
		u16 := func(at int) int { return int(binary.LittleEndian.Uint16(m.bytes[at:])) }
		for _, c := range []struct {
			name      string
			got, want any
		}{
			{"length", len(m.bytes), 44 + data},
			{"RIFF", string(m.bytes[0:4]), "RIFF"},
			{"RIFF size", u32(4), 36 + data},
			{"form", string(m.bytes[8:16]), "WAVEfmt "},
			{"fmt size", u32(16), 16},
			{"coding", u16(20), 1},
			{"channels", u16(22), 2},
			{"rate", u32(24), 44100},
			{"bytes a second", u32(28), 44100 * 2 * bits / 8},
			{"bytes a frame", u16(32), 2 * bits / 8},
			{"bits", u16(34), bits},
			{"data", string(m.bytes[36:40]), "data"},
			{"data size", u32(40), data},
		} {
			if c.got != c.want {
				t.Errorf("%d bits: %s = %v, want %v", bits, c.name, c.got, c.want)
			}
		}
	}
}

func TestWAV24Samples(t *testing.T) {
	in := []float32{0, 0.5, -0.5, 1, -1, 2, -2, float32(math.NaN()), 1.0 / (1 << 23), -1.0 / (1 << 23)}
	want := []int32{0, 1 << 22, -1 << 22, 1<<23 - 1, -1 << 23, 1<<23 - 1, -1 << 23, 0, 1, -1}
	m := new(memory)
	w, err := NewWAV(m, 48000, 24)
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write(in); err != nil {
		t.Fatal(err)
	}
	for i := range want {
		b := m.bytes[44+3*i:]
		if got := int32(uint32(b[0])<<8|uint32(b[1])<<16|uint32(b[2])<<24) >> 8; got != want[i] {
			t.Errorf("%v is written as %d, want %d", in[i], got, want[i])
		}
	}
}

// Triangular dither of ±1 step: the error of any level has mean 0 and the
// variance of the dither, 1/6, and of the rounding, 1/12, together.
func TestWAV16DitherIsTriangular(t *testing.T) {
	const n = 200000
	for _, steps := range []float64{0, 0.25, 0.5, 100.4} {
		m := new(memory)
		w, err := NewWAV(m, 48000, 16)
		if err != nil {
			t.Fatal(err)
		}
		in := make([]float32, n)
		for i := range in {
			in[i] = float32(steps / (1 << 15))
		}
		if err := w.Write(in); err != nil {
			t.Fatal(err)
		}
		mean, square := 0.0, 0.0
		for i := range n {
			e := float64(int16(binary.LittleEndian.Uint16(m.bytes[44+2*i:]))) - steps
			mean += e / n
			square += e * e / n
			if math.Abs(e) > 1.5 {
				t.Fatalf("level %g: error of %g steps, want at most 1.5", steps, e)
			}
		}
		if math.Abs(mean) > 0.01 || math.Abs(square-0.25) > 0.01 {
			t.Errorf("level %g: error mean %.4f, variance %.4f, want 0 and 0.25", steps, mean, square)
		}
	}
}

func TestWAVIsTheSameEachTime(t *testing.T) {
	file := func() string {
		m := new(memory)
		w, err := NewWAV(m, 48000, 16)
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Write(sine(1000, 440, 0.3, 48000)); err != nil {
			t.Fatal(err)
		}
		return string(m.bytes)
	}
	first := file()
	if again := file(); again != first {
		t.Error("the same sound gives two different files")
	}
}

func TestWAVErrors(t *testing.T) {
	expect := func(err error, want string) {
		t.Helper()
		if err == nil || err.Error() != want {
			t.Errorf("error = %v, want %q", err, want)
		}
	}
	_, err := NewWAV(new(memory), 48000, 32)
	expect(err, "WAV of 32 bits: 16 and 24 are written")
	_, err = NewWAV(new(memory), 0, 16)
	expect(err, "WAV at 0 Hz: the rate must be positive")
	_, err = NewWAV(&memory{room: 10}, 48000, 16)
	expect(err, "WAV head: disk full")

	m := &memory{room: 44 + 400}
	w, err := NewWAV(m, 48000, 16)
	if err != nil {
		t.Fatal(err)
	}
	expect(w.Write(make([]float32, 3)), "WAV block of 3 samples: stereo needs an even number")
	if err := w.Write(make([]float32, 200)); err != nil {
		t.Fatal(err)
	}
	err = w.Write(make([]float32, 2))
	expect(err, "WAV samples: disk full")
	if !errors.Is(err, errFull) {
		t.Error("the disk's own error is lost")
	}
	expect(w.Write(make([]float32, 2)), "WAV samples: disk full")
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if got := binary.LittleEndian.Uint32(m.bytes[40:]); got != 400 {
		t.Errorf("after a failure the file says %d bytes of sound, want 400", got)
	}
}

func TestWAVStopsAtTheFormatsLimit(t *testing.T) {
	if wavMaxData+wavHeader-8 > math.MaxUint32 {
		t.Errorf("%d bytes of sound do not fit the 32-bit size", int64(wavMaxData))
	}
	m := new(memory)
	w, err := NewWAV(m, 48000, 24)
	if err != nil {
		t.Fatal(err)
	}
	w.limit = 600 // 4 GiB in small
	if err := w.Write(make([]float32, 200)); err != nil {
		t.Fatal(err)
	}
	err = w.Write(make([]float32, 2))
	if !errors.Is(err, ErrTooLong) || err.Error() != "WAV file would pass 4 GiB: record in several files" {
		t.Errorf("error = %v, want ErrTooLong", err)
	}
	if err := w.Close(); err != nil || len(m.bytes) != 44+600 {
		t.Errorf("Close = %v with %d bytes, want nil and %d", err, len(m.bytes), 44+600)
	}
}

// Python's wave module is an independent reader.
func TestWAVIsReadByPython(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		t.Skip("no python3 here")
	}
	path := filepath.Join(t.TempDir(), "sound.wav")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	w, err := NewWAV(f, 48000, 24)
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write(sine(4801, 440, 0.5, 48000)); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(python, "-c", `
import sys, wave
w = wave.open(sys.argv[1])
print(w.getnchannels(), w.getsampwidth(), w.getframerate(), w.getnframes(), len(w.readframes(99999)))
`, path).CombinedOutput()
	if want := "2 3 48000 4801 28806\n"; err != nil || string(out) != want {
		t.Errorf("python reads %q (%v), want %q", out, err, want)
	}
}
