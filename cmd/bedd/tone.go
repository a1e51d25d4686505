package main

import (
	"errors"
	"fmt"
	"os"
	"os/signal"
	"syscall"
	"time"

	"bedd/internal/sound"
	"bedd/internal/wholefile"

	"github.com/spf13/cobra"
)

type toneFlags struct {
	hz      float64
	level   float64
	side    string
	seconds float64
	frames  int
	wav     string
}

func newTone() *cobra.Command {
	var f toneFlags
	cmd := &cobra.Command{
		Use:   "tone",
		Short: "A steady tone to set levels by",
		Long: `tone plays a sine on the sound card, or into a file, to set the level of a desk or
an amplifier by. Turn the volume down first, and take headphones off: it begins at
-60 dBFS and rises by 6 dB a second to its level; ctrl-c ends it. -18 dBFS is the
usual alignment level in Europe (EBU R 68), -20 elsewhere. With both sides the left
one pauses for a moment every three seconds, so that meters tell them apart. With
separate: yes in a rig the piano is on the left and the bed on the right.`,
		Example: `  bedd tone
  bedd tone --level -20 --side right
  bedd tone --hz 440 --seconds 20 --wav tone.wav`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, args []string) error { return f.run() },
	}
	flags := cmd.Flags()
	flags.Float64Var(&f.hz, "hz", 1000, "the tone's frequency, 20…20000")
	flags.Float64Var(&f.level, "level", -18, "its level in dBFS, the peak of the sine, -60…-6")
	flags.StringVar(&f.side, "side", "both", "where it sounds: both, left or right")
	flags.Float64Var(&f.seconds, "seconds", 60, "how long it sounds, up to 3600")
	flags.IntVar(&f.frames, "frames", 256, "frames in a block of sound")
	flags.StringVar(&f.wav, "wav", "", "write the tone here, as WAV, instead of playing it")
	return cmd
}

func (f *toneFlags) run() error {
	side, known := map[string]sound.Side{"both": sound.Both, "left": sound.Left, "right": sound.Right}[f.side]
	if !known {
		return badInput{fmt.Errorf("--side %q is not known: use both, left or right", f.side)}
	}
	if !(f.seconds > 0 && f.seconds <= 3600) {
		return badInput{fmt.Errorf("--seconds %g is out of range: more than 0, up to 3600", f.seconds)}
	}
	if err := checkFrames(f.frames); err != nil {
		return err
	}
	tone, err := sound.NewTone(sound.ToneConfig{Rate: liveRate, Hz: f.hz, LevelDB: f.level, Side: side})
	if err != nil {
		return badInput{err}
	}
	if f.wav != "" {
		if err := checkOutputs("", output{"--wav", f.wav}); err != nil {
			return err
		}
		return f.write(tone)
	}
	return f.play(tone)
}

// toneEnd is how long a tone takes to go, with room to spare.
const toneEnd = 100 * time.Millisecond

// write leaves the tone in a file, ramped at both ends.
func (f *toneFlags) write(tone *sound.Tone) error {
	return wholefile.Write(f.wav, func(file *os.File) error {
		wav, err := sound.NewWAV(file, liveRate, 16)
		if err != nil {
			return err
		}
		block := make([]float32, 2*liveRate/100)
		ends := int(f.seconds * 100)
		for i := range ends + int(toneEnd/(10*time.Millisecond)) {
			if i == ends {
				tone.Stop()
			}
			tone.Render(block)
			if err := wav.Write(block); err != nil {
				return err
			}
		}
		return wav.Close()
	})
}

// play sounds the tone until its time is over or it is ended.
func (f *toneFlags) play(tone *sound.Tone) error {
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer signal.Stop(signals)
	screen := newScreen(os.Stdout, newMishaps())
	defer screen.close()
	screen.line("turn the volume down first, headphones off: the tone begins at -60 dBFS and rises by 6 dB a second")
	card, err := sound.OpenCard(sound.CardConfig{
		Rate: liveRate, Frames: f.frames, Fill: tone.Render, Restart: tone.Restart,
		Changed: func(name string) {
			if name == "" {
				screen.line("the sound card has gone: the tone begins again when it comes back")
				return
			}
			screen.line("on " + name)
		},
	})
	if err != nil {
		if errors.Is(err, sound.ErrNoDevice) {
			return errors.New("no sound card answers: plug one in, or write the tone to a file with --wav")
		}
		return err
	}
	defer card.Close()
	over := time.After(time.Duration(f.seconds * float64(time.Second)))
	told := time.NewTicker(statusEvery)
	defer told.Stop()
	for {
		select {
		case <-told.C:
			screen.status(fmt.Sprintf("%g Hz, %s, %d dBFS; ctrl-c ends it", f.hz, f.side, tone.Level()))
			continue
		case <-over:
		case <-signals:
		}
		tone.Stop()
		select {
		case <-time.After(toneEnd):
		case <-signals:
		}
		return nil
	}
}
