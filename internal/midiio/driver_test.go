package midiio

import "testing"

func TestNoSuchDriver(t *testing.T) {
	const want = `there is no MIDI driver "oss": use auto, alsa or rtmidi`
	if s, err := OpenSystem("oss"); s != nil || err == nil || err.Error() != want {
		t.Errorf("got %v, %v, want %s", s, err, want)
	}
}
