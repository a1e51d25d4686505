package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/sound"

	"golang.org/x/term"
)

// General MIDI programs of the built-in sound (GM 1, printed numbers are one
// higher): 89 pad 2, warm; 94 pad 7, halo, which it plays as air.
const (
	warmProgram = 89
	airProgram  = 94
)

// soundFontHelp is what --soundfont does.
const soundFontHelp = "sound with this SoundFont instead of the built-in piano and pad (needs FluidSynth's library)"

// builtIn gives the messages that prepare the built-in sound for a rig, whether
// or not the rig sends any to a synth.
func builtIn(rig gathering.Rig) []sound.Message {
	var out []sound.Message
	programs := [bed.NumLayers]uint8{warmProgram, airProgram}
	for l, layer := range rig.Layers {
		out = append(out, sound.Message{Status: 0xC0 | layer.Channel, Data1: programs[l]},
			sound.Message{Status: 0xB0 | layer.Channel, Data1: 11, Data2: 0})
	}
	return out
}

// newInstrument makes the built-in sound of a rig: in stereo, or the bed to the
// right and all else to the left; or a SoundFont in its place, where one is named.
// release is to be called in the end.
func newInstrument(rig gathering.Rig, rate int, soundFont string) (i sound.Instrument, release func(), err error) {
	if soundFont != "" {
		if rig.Separate {
			return nil, nil, badInput{errors.New("--soundfont plays in stereo: it goes without separate: yes in the rig")}
		}
		font, err := sound.NewFont(soundFont, rate, 0)
		if err != nil {
			return nil, nil, fontError(err)
		}
		return font, font.Close, nil
	}
	config := sound.Config{Rate: rate, Seed: 1}
	if rig.Separate {
		for _, layer := range rig.Layers {
			config.Apart |= 1 << layer.Channel
		}
	}
	synth, err := sound.New(config)
	return synth, func() {}, err
}

// fontError says what is wrong with --soundfont; a file is the user's fault, what
// is not installed is not.
func fontError(err error) error {
	err = fmt.Errorf("--soundfont: %w", err)
	if errors.Is(err, sound.ErrNoFluidSynth) || errors.Is(err, sound.ErrFontBuild) {
		return err
	}
	return badInput{err}
}

// channelMessage gives the built-in sound's form of a message it can play.
func channelMessage(msg []byte) (m sound.Message, ok bool) {
	if len(msg) < 2 || len(msg) > 3 || msg[0] < 0x80 || msg[0] >= 0xF0 {
		return m, false
	}
	m = sound.Message{Status: msg[0], Data1: msg[1]}
	if len(msg) == 3 {
		m.Data2 = msg[2]
	}
	return m, true
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}
