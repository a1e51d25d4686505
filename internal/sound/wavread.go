package sound

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// ErrNotWAV says that a file is no WAV file.
var ErrNotWAV = errors.New("not a WAV file: record or convert to WAV, uncompressed")

var errCutShort = errors.New("WAV file without samples: it was cut short, or its recorder did not finish it")

// How a WAV file's samples are coded (IBM and Microsoft, Multimedia Programming
// Interface and Data Specifications 1.0, 1991, and Microsoft, Multiple Channel Audio
// Data and WAVE Files, 2001).
const (
	codedPCM        = 1
	codedFloat      = 3
	codedExtensible = 0xFFFE // says by the first two bytes of an identifier which it is

	mostChannels = 64
)

// WAVReader reads a WAV file of whole numbers of 8, 16, 24 or 32 bits, or of floats
// of 32 or 64, as interleaved stereo: one channel sounds on both sides, and of more
// than two the first two do.
type WAVReader struct {
	r        io.Reader
	rate     int
	channels int
	size     int // bytes of a sample
	float    bool
	left     int64 // bytes of the samples to come
	bytes    []byte
}

// NewWAVReader reads the head of a file, up to the samples. It returns ErrNotWAV, or
// says what kind of WAV file it does not read.
func NewWAVReader(r io.Reader) (*WAVReader, error) {
	var head [12]byte
	if _, err := io.ReadFull(r, head[:]); err != nil || string(head[:4]) != "RIFF" || string(head[8:]) != "WAVE" {
		return nil, ErrNotWAV
	}
	w := &WAVReader{r: r}
	for {
		var chunk [8]byte
		if _, err := io.ReadFull(r, chunk[:]); err != nil {
			return nil, errCutShort
		}
		size := int64(binary.LittleEndian.Uint32(chunk[4:]))
		switch string(chunk[:4]) {
		case "fmt ":
			if err := w.format(size); err != nil {
				return nil, err
			}
		case "data":
			if w.size == 0 {
				return nil, errors.New("WAV file that does not say what its samples are before they come")
			}
			w.left = size
			if size == 0 || size == math.MaxUint32 { // a recorder that never came to write the size
				w.left = math.MaxInt64
			}
			return w, nil
		default:
			if err := skip(r, size+size%2); err != nil {
				return nil, err
			}
		}
	}
}

func skip(r io.Reader, n int64) error {
	if got, _ := io.CopyN(io.Discard, r, n); got < n {
		return errCutShort
	}
	return nil
}

// format reads what describes the samples.
func (w *WAVReader) format(size int64) error {
	var f [40]byte
	n := min(size, int64(len(f)))
	if n < 16 {
		return fmt.Errorf("WAV file whose description has %d bytes: 16 or more are needed", n)
	}
	if _, err := io.ReadFull(w.r, f[:n]); err != nil {
		return errCutShort
	}
	if err := skip(w.r, size-n+size%2); err != nil {
		return err
	}
	le := binary.LittleEndian
	coding, channels, rate, frame, bits := le.Uint16(f[0:]), int(le.Uint16(f[2:])), le.Uint32(f[4:]), int(le.Uint16(f[12:])), int(le.Uint16(f[14:]))
	if coding == codedExtensible && n >= 26 {
		coding = le.Uint16(f[24:])
	}
	w.float = coding == codedFloat
	switch {
	case channels < 1 || channels > mostChannels:
		return fmt.Errorf("WAV file of %d channels: 1…%d are read", channels, mostChannels)
	case rate < 1 || rate > math.MaxInt32:
		return fmt.Errorf("WAV file of %d frames a second", rate)
	case coding != codedPCM && coding != codedFloat:
		return fmt.Errorf("WAV file with coding %d: uncompressed samples are read, so save it as PCM", coding)
	case w.float && bits != 32 && bits != 64 || !w.float && (bits < 8 || bits > 32 || bits%8 != 0):
		return fmt.Errorf("WAV file of %d bits a sample: 8, 16, 24 and 32 are read, or floats of 32 and 64", bits)
	case frame != channels*bits/8:
		return fmt.Errorf("WAV file whose frames have %d bytes: %d samples of %d bits have %d", frame, channels, bits, channels*bits/8)
	}
	w.channels, w.rate, w.size = channels, int(rate), bits/8
	return nil
}

// Rate gives the frames a second.
func (w *WAVReader) Rate() int { return w.rate }

// Read fills out with interleaved stereo, as many frames as there are and have room,
// and gives their number. After the last it gives io.EOF; a file that ends in the
// middle of a frame ends before it. Floats that are no numbers are silence.
func (w *WAVReader) Read(out []float32) (frames int, err error) {
	size := w.size * w.channels
	want := min(int64(len(out)/2)*int64(size), w.left-w.left%int64(size))
	if want == 0 {
		return 0, io.EOF
	}
	if int64(len(w.bytes)) < want {
		w.bytes = make([]byte, want)
	}
	n, err := io.ReadFull(w.r, w.bytes[:want])
	w.left -= int64(n)
	frames = n / size
	for i := range frames {
		at := w.bytes[i*size:]
		out[2*i] = w.sample(at)
		out[2*i+1] = out[2*i]
		if w.channels > 1 {
			out[2*i+1] = w.sample(at[w.size:])
		}
	}
	switch {
	case frames > 0: // what follows them is told by the next call
		if int64(n) < want {
			w.left = 0
		}
		return frames, nil
	case err == nil || errors.Is(err, io.ErrUnexpectedEOF):
		return 0, io.EOF
	}
	return 0, err
}

func (w *WAVReader) sample(b []byte) float32 {
	le := binary.LittleEndian
	switch {
	case w.float && w.size == 4:
		return number(float64(math.Float32frombits(le.Uint32(b))))
	case w.float:
		return number(math.Float64frombits(le.Uint64(b)))
	case w.size == 1: // without a sign
		return float32(int(b[0])-128) / (1 << 7)
	case w.size == 2:
		return float32(int16(le.Uint16(b))) / (1 << 15)
	case w.size == 3:
		return float32(int32(uint32(b[0])<<8|uint32(b[1])<<16|uint32(b[2])<<24)) / (1 << 31)
	}
	return float32(float64(int32(le.Uint32(b))) / (1 << 31))
}

func number(x float64) float32 {
	if math.IsNaN(x) || math.IsInf(x, 0) || math.Abs(x) > math.MaxFloat32 {
		return 0
	}
	return float32(x)
}
