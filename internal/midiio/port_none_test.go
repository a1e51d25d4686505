//go:build !cgo

package midiio

import "testing"

func TestRtMidiSaysWhatIsMissing(t *testing.T) {
	const want = "this bedd was built without cgo, which the rtmidi driver needs: build it with CGO_ENABLED=1, a C++ compiler and, on Linux, ALSA's headers"
	if s, err := OpenSystem(DriverRtMidi); s != nil || err != ErrBuild || err.Error() != want {
		t.Errorf("got %v, %v, want %s", s, err, want)
	}
}
