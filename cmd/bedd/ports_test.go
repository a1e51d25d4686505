package main

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"bedd/internal/midiio"
)

// Sound inputs are listed where there is no MIDI too, and the trouble is told; it fails
// where it leaves nothing to list, or where something was wished for that is not there.
func TestPortsWithoutMIDI(t *testing.T) {
	desk := []string{"Desk USB", "Camera"}
	const listed = "sound input for --listen: Desk USB  the system's own choice\nsound input for --listen: Camera\n"
	for name, c := range map[string]struct {
		found     found
		json      bool
		out, talk string
		fails     error
	}{
		"no sequencer": {found{noMIDI: midiio.ErrNoSequencer, sounds: desk}, false,
			listed, "no MIDI ports: " + midiio.ErrNoSequencer.Error() + "\n", nil},
		"no permission, as JSON": {found{noMIDI: fmt.Errorf("opening: %w", midiio.ErrPermission), sounds: desk}, true,
			`{"inputs":[],"outputs":[],"sound_inputs":["Desk USB","Camera"]}` + "\n",
			"no MIDI ports: opening: " + midiio.ErrPermission.Error() + "\n", nil},
		"nothing at all":          {found{noMIDI: midiio.ErrNoSequencer}, false, "", "", midiio.ErrNoSequencer},
		"nothing at all, as JSON": {found{noMIDI: midiio.ErrNoSequencer}, true, "", "", midiio.ErrNoSequencer},
		"a port that is not there": {found{noMIDI: fmt.Errorf("--in: %w", midiio.ErrNoPort), sounds: desk}, false,
			"", "", midiio.ErrNoPort},
		"MIDI without devices": {found{sounds: desk}, false, "no MIDI ports: plug in a device\n" + listed, "", nil},
		"MIDI alone, as JSON":  {found{}, true, `{"inputs":[],"outputs":[],"sound_inputs":[]}` + "\n", "", nil},
	} {
		var out, talk strings.Builder
		err := c.found.list(&out, &talk, c.json)
		if !errors.Is(err, c.fails) || out.String() != c.out || talk.String() != c.talk {
			t.Errorf("%s: %v\n%q\n%q\nwant %v\n%q\n%q", name, err, out.String(), talk.String(), c.fails, c.out, c.talk)
		}
	}
}
