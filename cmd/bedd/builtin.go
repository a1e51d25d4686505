package main

import (
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
