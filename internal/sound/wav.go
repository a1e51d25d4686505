package sound

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
)

// ErrTooLong says that a WAV file has reached the 4 GiB its 32-bit sizes can
// tell.
var ErrTooLong = errors.New("WAV file would pass 4 GiB: record in several files")

const (
	wavHeader  = 44 // bytes before the first sample: RIFF, fmt and data heads
	wavMaxData = math.MaxUint32 - (wavHeader - 8) - 1

	// ditherSeed makes two renderings of the same sound the same bytes.
	ditherSeed = 0x6265646462656464
)

// WAV writes interleaved stereo as a PCM WAV file, block by block.
//
// 16-bit samples get triangular dither of ±1 step, so that a fade ends in
// even noise instead of distortion. 24-bit samples are rounded.
type WAV struct {
	w      io.WriteSeeker
	rate   int
	bits   int
	limit  int64
	data   int64 // bytes of samples written
	bytes  []byte
	dither uint64
	err    error // the first failure; the file is then not carried on
}

// NewWAV writes the head of a file to w, which must stand at its start.
// rate is in Hz, bits is 16 or 24.
func NewWAV(w io.WriteSeeker, rate, bits int) (*WAV, error) {
	if bits != 16 && bits != 24 {
		return nil, fmt.Errorf("WAV of %d bits: 16 and 24 are written", bits)
	}
	if rate < 1 || rate > math.MaxUint32/8 {
		return nil, fmt.Errorf("WAV at %d Hz: the rate must be positive", rate)
	}
	f := &WAV{
		w: w, rate: rate, bits: bits, limit: wavMaxData,
		dither: ditherSeed,
	}
	if _, err := w.Write(f.head()); err != nil {
		return nil, fmt.Errorf("WAV head: %w", err)
	}
	return f, nil
}

// Write appends samples, full scale ±1; louder ones are clipped, NaN is
// written as silence. It returns ErrTooLong, and writes nothing, when the
// block does not fit the format.
func (f *WAV) Write(interleaved []float32) error {
	if f.err != nil {
		return f.err
	}
	if len(interleaved)%2 != 0 {
		return fmt.Errorf("WAV block of %d samples: stereo needs an even number", len(interleaved))
	}
	size := int64(len(interleaved)) * int64(f.bits/8)
	if f.data+size > f.limit {
		f.err = ErrTooLong
		return f.err
	}
	if f.bits == 16 {
		f.append16(interleaved)
	} else {
		f.append24(interleaved)
	}
	n, err := f.w.Write(f.bytes)
	f.data += int64(n)
	if err != nil {
		f.err = fmt.Errorf("WAV samples: %w", err)
	}
	return f.err
}

func (f *WAV) append16(interleaved []float32) {
	f.bytes = slices.Grow(f.bytes[:0], 2*len(interleaved))[:2*len(interleaved)]
	noise := f.dither
	for i, x := range interleaved {
		// Marsaglia's xorshift64 (2003): its upper and lower halves are the two
		// throws whose difference is triangular.
		noise ^= noise << 13
		noise ^= noise >> 7
		noise ^= noise << 17
		step := float64(int64(noise>>32)-int64(noise&math.MaxUint32)) * (1.0 / (1 << 32))
		binary.LittleEndian.PutUint16(f.bytes[2*i:], uint16(int16(quantise(x, 1<<15, step))))
	}
	f.dither = noise
}

func (f *WAV) append24(interleaved []float32) {
	f.bytes = f.bytes[:0]
	for _, x := range interleaved {
		v := uint32(int32(quantise(x, 1<<23, 0)))
		f.bytes = append(f.bytes, byte(v), byte(v>>8), byte(v>>16))
	}
}

// quantise scales x to a whole number of steps in -full…full-1.
func quantise(x float32, full, dither float64) float64 {
	v := math.Floor(float64(x)*full + dither + 0.5)
	if v != v {
		return 0
	}
	return max(-full, min(full-1, v))
}

// Close writes the final sizes into the head. It does not close the file
// underneath. After a failed Write the samples before it can still be
// played.
func (f *WAV) Close() error {
	if f.data%2 != 0 { // a chunk of odd length is padded; 24-bit stereo is even, a torn write may not be
		if _, err := f.w.Write([]byte{0}); err != nil {
			return fmt.Errorf("WAV end: %w", err)
		}
	}
	if _, err := f.w.Seek(0, io.SeekStart); err != nil {
		return fmt.Errorf("WAV sizes: %w", err)
	}
	if _, err := f.w.Write(f.head()); err != nil {
		return fmt.Errorf("WAV sizes: %w", err)
	}
	if _, err := f.w.Seek(0, io.SeekEnd); err != nil {
		return fmt.Errorf("WAV sizes: %w", err)
	}
	return nil
}

// head gives the 44 bytes in front of the samples (IBM and Microsoft,
// Multimedia Programming Interface and Data Specifications 1.0, 1991).
func (f *WAV) head() []byte {
	const channels = 2
	frame := channels * f.bits / 8
	le := binary.LittleEndian
	b := make([]byte, 0, wavHeader)
	b = append(b, "RIFF"...)
	b = le.AppendUint32(b, uint32(wavHeader-8+f.data+f.data%2))
	b = append(b, "WAVEfmt "...)
	b = le.AppendUint32(b, 16) // length of what describes the samples
	b = le.AppendUint16(b, 1)  // PCM
	b = le.AppendUint16(b, channels)
	b = le.AppendUint32(b, uint32(f.rate))
	b = le.AppendUint32(b, uint32(f.rate*frame))
	b = le.AppendUint16(b, uint16(frame))
	b = le.AppendUint16(b, uint16(f.bits))
	b = append(b, "data"...)
	return le.AppendUint32(b, uint32(f.data))
}
