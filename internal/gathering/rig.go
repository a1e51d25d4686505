package gathering

import (
	"time"

	"bedd/configs"
	"bedd/internal/bed"
	"bedd/internal/listening"
	"bedd/internal/midiio"
)

// Rig is the channels, feet, pedal and sounds of one player.
type Rig struct {
	Name   string
	Ports  Ports
	Player Player
	Pedal  Pedal
	Feet   []Foot
	Hold   time.Duration    // how long a switch is down before it counts as held
	Keys   map[string]Order // by the names of computer keys, see KeyNames
	In     int              // semitones added to the player's notes before the bed hears them
	Out    int              // semitones added to every note on its way out
	Layers [bed.NumLayers]Layer

	Listening Listening

	Setup    bool // send the layers' banks, programs and volumes at the start
	Sensing  bool // send Active Sensing while something sounds
	Share    bool // for a synth with one sound: both layers play on the player's channel
	Separate bool // piano and pad of the built-in sound to left and right, for the desk

	Bed bed.Config // everything but Moments
}

// blank is a rig before its file is read: all that the default rig has but
// its switches and keys.
func blank() Rig {
	return Rig{
		Pedal: Pedal{On: true, Control: midiio.Control{Kind: midiio.Controller, Number: 11}},
		Hold:  700 * time.Millisecond,
		Layers: [bed.NumLayers]Layer{
			bed.Warm: {Channel: 1, Program: 89, Volume: 100},
			bed.Air:  {Channel: 2, Program: 94, Volume: 90},
		},
		Ports:   Ports{Thru: "auto"},
		Player:  Player{Route: "auto"},
		Setup:   true,
		Sensing: true,
		Bed:     bed.DefaultConfig(),

		Listening: Listening{Manner: listening.DefaultManner(), Clearance: listening.DefaultClearance()},
	}
}

// DefaultRig is the rig that needs no file: configs/rig-default.yaml, which is
// built in.
func DefaultRig() Rig {
	const name = "rig-default.yaml"
	data, err := configs.FS.ReadFile(name)
	if err != nil {
		panic(err)
	}
	rig, err := ReadRig(name, data)
	if err != nil {
		panic(err)
	}
	return rig
}
