// Package soundcheck finds out what a rig sounds like before anybody comes: its bed
// against a voice, against the piano, and in the ears of those who stay all evening.
package soundcheck

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"

	"bedd/internal/clarity"
	"bedd/internal/sound"
)

// Heard is what was measured of a sound.
type Heard struct {
	Levels  clarity.Levels // spectrum levels, dB re full scale
	LUFS    float64        // by ITU-R BS.1770-4; −Inf for silence
	PeakDB  float64        // true peak, dBTP
	Seconds float64        // of sound that counted: pauses do not
}

// Ear measures a sound as it comes.
type Ear struct {
	spectrum *clarity.Spectrum
	loudness *sound.Loudness
}

// NewEar makes an ear for sound at rate Hz, clarity.LeastRate…192000.
func NewEar(rate int) (*Ear, error) {
	spectrum, err := clarity.NewSpectrum(rate)
	if err != nil {
		return nil, err
	}
	loudness, err := sound.NewLoudness(rate)
	return &Ear{spectrum, loudness}, err
}

// Add measures the next frames, left and right in turn, full scale ±1.
func (e *Ear) Add(interleaved []float32) {
	e.spectrum.Add(interleaved)
	e.loudness.Add(interleaved)
}

// Heard gives what was measured so far.
func (e *Ear) Heard() Heard {
	return Heard{e.spectrum.Levels(), e.loudness.Integrated(), e.loudness.PeakDB(), e.spectrum.Seconds()}
}

// How much of a sound must count for its spectrum to mean anything, and to be trusted.
// Common practice, no source: a spectrum of speech settles in some ten seconds.
const (
	leastSeconds = 3.0
	goodSeconds  = 10.0
)

// HearFile measures a WAV file.
func HearFile(path string) (Heard, error) {
	file, err := os.Open(path)
	if err != nil {
		return Heard{}, err
	}
	defer file.Close()
	h, err := hear(file)
	if err != nil {
		return Heard{}, fmt.Errorf("%s: %w", path, err)
	}
	return h, nil
}

func hear(r io.Reader) (Heard, error) {
	wav, err := sound.NewWAVReader(r)
	if err != nil {
		return Heard{}, err
	}
	ear, err := NewEar(wav.Rate())
	if err != nil {
		return Heard{}, fmt.Errorf("%w: record at 44100 or 48000", err)
	}
	for block := make([]float32, 2*8192); ; {
		n, err := wav.Read(block)
		ear.Add(block[:2*n])
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return Heard{}, err
		}
	}
	h := ear.Heard()
	return h, h.Check()
}

// Check says why a sound cannot be judged, if so.
func (h Heard) Check() error {
	switch {
	case math.IsInf(h.LUFS, -1):
		return errors.New("nothing is heard in it: is the right input recorded, and its level up?")
	case h.Seconds < leastSeconds:
		return fmt.Errorf("only %.1f s of it count, pauses left out: ten seconds or more are needed", h.Seconds)
	}
	return nil
}

// clipped is the true peak, in dBTP, from which a recording is taken to be clipped.
const clipped = -0.1

// notes says what is to be doubted of a recording.
func (h Heard) notes(what string) (notes []string) {
	if h.PeakDB > clipped {
		notes = append(notes, what+" is clipped, so its figures are wrong: record it again with less gain")
	}
	if h.Seconds < goodSeconds {
		notes = append(notes, fmt.Sprintf("%s has only %.1f s that count: ten or more tell better", what, h.Seconds))
	}
	return notes
}
