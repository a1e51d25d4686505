//go:build cgo && (linux || darwin)

package sound

import (
	"errors"
	"testing"
)

func TestWithoutTheLibraryTheErrorSaysHowToGetIt(t *testing.T) {
	if _, err := openLibrary([]string{"libnosuchsynth.so.0"}); !errors.Is(err, ErrNoFluidSynth) {
		t.Errorf("error = %v, want %v", err, ErrNoFluidSynth)
	}
}
