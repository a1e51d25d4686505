package sound

import (
	"errors"
	"fmt"
	"io"
	"os"
)

// ErrNoFluidSynth says that FluidSynth's library is not installed.
var ErrNoFluidSynth = errors.New("FluidSynth's library is not installed: it is what plays SoundFonts (Debian: apt install libfluidsynth3; macOS: brew install fluid-synth)")

// fontGain is FluidSynth's synth.gain, at which a General MIDI SoundFont is about
// as loud as the built-in sound; by the loudness of the demo with TimGM6mb.
const fontGain = 0.8

// player is what a Font needs of a library that plays SoundFonts.
type player interface {
	// send applies a channel message.
	send(status, data1, data2 byte)
	// write fills both sides.
	write(left, right []float32)
	close()
}

// Font plays a SoundFont of the player's own through FluidSynth's library, which
// is looked for when it is asked for. Its sound goes through the limiter and
// rises from nothing as a Synth's does. It belongs to one goroutine at a time.
type Font struct {
	player      player
	rate        int
	limiter     limiter
	start       fade
	raw         [2][tick]float32
	left, right [tick]float64
}

// NewFont loads the SoundFont at path, to be played at rate Hz under a ceiling
// in dBTP (0 means DefaultCeilingDB). It returns ErrNoFluidSynth without the
// library and ErrFontBuild where bedd cannot load one. Close it in the end.
func NewFont(path string, rate int, ceilingDB float64) (*Font, error) {
	ceilingDB, err := checkSound(rate, ceilingDB)
	if err != nil {
		return nil, err
	}
	if err := checkFont(path); err != nil {
		return nil, err
	}
	p, err := openPlayer(path, rate)
	if err != nil {
		return nil, err
	}
	return newFont(p, rate, ceilingDB), nil
}

func newFont(p player, rate int, ceilingDB float64) *Font {
	f := &Font{player: p, rate: rate, start: newFade(rate)}
	f.limiter.init(float64(rate), ceilingDB)
	return f
}

// checkFont looks whether a file can be a SoundFont: RIFF, and sfbk or, as
// FluidSynth reads it too, sfpk (SoundFont Technical Specification 2.04, 4.1).
func checkFont(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	defer file.Close()
	var head [12]byte
	if _, err := io.ReadFull(file, head[:]); err != nil || string(head[:4]) != "RIFF" || string(head[8:]) != "sfbk" {
		return fmt.Errorf("%s is no SoundFont: one begins with RIFF and sfbk", path)
	}
	return nil
}

// Rate gives the frames a second.
func (f *Font) Rate() int { return f.rate }

// FadeIn makes the sound rise from silence again, as at the start.
func (f *Font) FadeIn() { f.start.again() }

// Send applies one channel message now. What is no channel message does nothing.
func (f *Font) Send(status, data1, data2 byte) {
	if status >= 0x80 && status < 0xF0 {
		f.player.send(status, data1&0x7F, data2&0x7F)
	}
}

// Render fills out with interleaved stereo, full scale ±1.
func (f *Font) Render(out []float32) {
	clear(out)
	for len(out) >= 2 {
		n := min(tick, len(out)/2)
		f.player.write(f.raw[0][:n], f.raw[1][:n])
		left, right := f.left[:n], f.right[:n]
		for k := range left {
			left[k], right[k] = float64(f.raw[0][k]), float64(f.raw[1][k])
		}
		f.limiter.render(left, right)
		for k := range left {
			out[2*k], out[2*k+1] = float32(left[k]), float32(right[k])
		}
		f.start.in(out[:2*n])
		out = out[2*n:]
	}
}

// RenderTo renders events, ordered by Frame, and tail frames after the last one;
// see Synth.RenderTo. It takes one core.
func (f *Font) RenderTo(events []Event, tail int64, sink func([]float32) error, progress func(done, total int64)) error {
	var failed error
	tell, done := telling(progress, length(events, tail)), int64(0)
	block := make([]float32, 2*batch)
	disorder := walk(f, events, tail, func(frames int) bool {
		f.Render(block[:2*frames])
		if failed = sink(block[:2*frames]); failed != nil {
			return false
		}
		done += int64(frames)
		tell(done)
		return true
	})
	return errors.Join(failed, disorder)
}

// Close lets the library go.
func (f *Font) Close() { f.player.close() }
