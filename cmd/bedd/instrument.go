package main

import (
	"errors"
	"fmt"

	"bedd/internal/gathering"
	"bedd/internal/sound"

	"github.com/spf13/cobra"
)

// instrumentFlags choose what sounds where bedd sounds by itself.
type instrumentFlags struct {
	soundFont string
	ceiling   float64
}

func (f *instrumentFlags) flags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.soundFont, "soundfont", "", "sound with this SoundFont instead of the built-in piano and pad (needs FluidSynth's library)")
	cmd.Flags().Float64Var(&f.ceiling, "ceiling", sound.DefaultCeilingDB, "the highest true peak of bedd's own sound, dBTP, -24…-0.5")
}

func (f *instrumentFlags) check() error {
	if !(f.ceiling >= -24 && f.ceiling <= -0.5) {
		return badInput{fmt.Errorf("--ceiling %g is out of range -24…-0.5", f.ceiling)}
	}
	return nil
}

// open makes the built-in sound of a rig: in stereo, or the bed to the right and
// all else to the left; or a SoundFont in its place, where one is named. release
// is to be called in the end.
func (f *instrumentFlags) open(rig gathering.Rig, rate int) (i sound.Instrument, release func(), err error) {
	if f.soundFont != "" {
		if rig.Separate {
			return nil, nil, badInput{errors.New("--soundfont plays in stereo: it goes without separate: yes in the rig")}
		}
		font, err := sound.NewFont(f.soundFont, rate, f.ceiling)
		if err != nil {
			return nil, nil, fontError(err)
		}
		return font, font.Close, nil
	}
	config := sound.Config{Rate: rate, Seed: 1, CeilingDB: f.ceiling}
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
