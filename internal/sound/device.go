package sound

import (
	"errors"
	"fmt"
)

var (
	// ErrNoDevice says that this machine has no sound card that answers.
	ErrNoDevice = errors.New("no sound card: bedd goes on without sound of its own")

	// ErrNoInput says that this machine has no sound input that answers.
	ErrNoInput = errors.New("no sound input: plug in an interface or a microphone, or record into a WAV file elsewhere")

	// ErrBuild says that this program cannot use sound cards at all.
	ErrBuild = errors.New("this bedd was built without cgo: no audio devices; build it with CGO_ENABLED=1 and a C compiler")

	// ErrFontBuild says that this program cannot load FluidSynth's library.
	ErrFontBuild = errors.New("this bedd plays no SoundFonts: that needs Linux or macOS and a build with cgo (CGO_ENABLED=1 and a C compiler)")
)

// checkDevice refuses settings that no device takes.
func checkDevice(rate, frames int, fill func([]float32)) error {
	switch {
	case rate < 8000 || rate > 192000:
		return fmt.Errorf("audio device at %d Hz: 8000…192000 can be asked for", rate)
	case frames < 16 || frames > 8192:
		return fmt.Errorf("audio device with blocks of %d frames: 16…8192 can be asked for", frames)
	case fill == nil:
		return errors.New("audio device without a function to fill its blocks")
	}
	return nil
}
