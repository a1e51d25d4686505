package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"bedd/internal/clarity"
	"bedd/internal/gathering"
	"bedd/internal/soundcheck"
	"bedd/internal/wholefile"

	"github.com/spf13/cobra"
)

type wordsFlags struct {
	material
	choice  instrumentFlags
	voice   string
	bed     string
	room    string
	seconds float64
	effort  string
	spl     float64
	wish    soundcheck.Wish
	below   float64
	svg     string
	write   string
	kept    kept
	json    bool
}

func newWords() *cobra.Command {
	var f wordsFlags
	cmd := &cobra.Command{
		Use:   "words [PLAN]",
		Short: "How clear speech stays over the bed, and what keeps it so",
		Long: `words tells how clear speech stays over the bed, by the Speech Intelligibility Index of
ANSI S3.5-1997 (third octaves), and how far under the voice the bed should be: at each
density, in each register, for the chord that masks most. PLAN is a gathering file or the
name of a built-in one; all its moments are sounded.

The voice is a recording (--voice talk.wav), or what the input hears that the rig listens to
(--voice mic), or else the standard speech spectrum. The bed is what bedd sounds by itself,
or a recording of your synth (--bed bed.wav) with the pedal at the toe. Record both at the
desk, at the same gain, ten seconds or more of each, the other silent; then bedd knows how
the fader stands. Or read it off the desk and say it: --below 12 means that the fullest bed
is now 12 LU (dB on a loudness meter) under the voice.

Two rules decide, whichever asks for less of the bed: the index stays at the target or
above, and the bed stays --under LU under the voice, whatever the index would allow. Where
the bed is too loud as the fader stands, --write puts a ceiling into the rig, and where that
helps the words a darker sound or a register that does not rise; all else in the file stays,
and what was there is kept beside it. If the voice came by mic, --write also tells the rig
how loud it was there (listening: {voice: -24.0LUFS}), so that play --listen eases the bed
down for whoever speaks softer; the level of a file says nothing of that input's. (The index
needs full bandwidth: 18000 frames a second or more.)`,
		Example: `  bedd soundcheck words
  bedd soundcheck words winter-lights --rig saltmere --below 12
  bedd soundcheck words --voice talk.wav --bed bed.wav --rig my-rig.yaml --write my-rig.yaml
  bedd soundcheck words --voice mic --seconds 20 --keep check.json --svg words.svg`,
		Args: atMostOnePlan,
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(cmd, args) },
	}
	f.flags(cmd)
	flags := cmd.Flags()
	flags.StringVar(&f.voice, "voice", "", "a recording of the voice, WAV, or mic for the input that the rig listens to (default the standard speech spectrum)")
	flags.StringVar(&f.bed, "bed", "", "a recording of the bed at its fullest, WAV, or mic (default what bedd sounds by itself)")
	flags.StringVar(&f.room, "room", "", "a recording of the silent room at the same gain, WAV, or mic (default silence)")
	flags.Float64Var(&f.seconds, "seconds", 15, "how long mic listens, 5…300")
	flags.StringVar(&f.effort, "effort", "normal", "how loud somebody speaks: normal, raised or loud")
	flags.Float64Var(&f.spl, "spl", 0, "how loud the voice arrives at a listener, dB SPL, 40…100 (default as the effort has it at a metre: 62, 68 or 75)")
	flags.Float64Var(&f.wish.Target, "target", clarity.Good, "the index that speech is to keep, up to 1; above 0.75 counts as good, below 0.45 as poor")
	flags.Float64Var(&f.wish.Under, "under", clarity.LeastUnder, "how far the bed is to stay under the voice at least, LU, 0…60; WCAG 2 asks for 20")
	flags.Float64Var(&f.below, "below", 0, "how far the fullest bed is under the voice now, at the desk, LU")
	f.choice.flags(cmd)
	flags.StringVar(&f.svg, "svg", "", "draw both spectra into this `file`")
	flags.StringVar(&f.write, "write", "", "write the rig, changed as recommended, to this `file`, which may be the rig's own; what was there is kept")
	f.kept.flags(cmd)
	flags.BoolVar(&f.json, "json", false, "print JSON")
	return cmd
}

func (f *wordsFlags) run(cmd *cobra.Command, args []string) error {
	if err := f.load(cmd, args); err != nil {
		return err
	}
	if err := f.check(cmd); err != nil {
		return err
	}
	v, room, bedding, err := f.listen(cmd.ErrOrStderr())
	if err != nil {
		return err
	}
	w, err := soundcheck.Judge(v, room, bedding, f.wish)
	if err != nil {
		if errors.Is(err, clarity.ErrUnclear) {
			return fmt.Errorf("the index of the voice is %.2f, and the target %.2f: %w", w.Alone, f.wish.Target, err)
		}
		return err
	}
	switch {
	case cmd.Flags().Changed("below"):
		w.Below(f.below)
	case f.bed != "" && f.voice != "":
		w.AsRecorded()
	}
	var mended *soundcheck.Remedy
	var noCeiling error
	if w.Fader != nil {
		m, err := soundcheck.Mend(w, f.rig, func(rig gathering.Rig) (soundcheck.Words, error) {
			rows, err := soundcheck.Beds(rig, f.moments, f.choice.renderer(rig), progressOn(cmd.ErrOrStderr(), "sounding the bed"))
			if err != nil {
				return soundcheck.Words{}, err
			}
			return soundcheck.Judge(v, room, soundcheck.Bedding{Rows: rows, Config: rig.Bed, Law: true}, f.wish)
		})
		switch {
		case errors.Is(err, soundcheck.ErrNoCeiling):
			noCeiling = err
		case err != nil:
			return err
		default:
			mended = &m
		}
	}
	record, err := w.Record(mended)
	if err != nil {
		return err
	}
	if f.svg != "" {
		write := func(file *os.File) error { return record.Picture("Words over the bed of " + f.rig.Name).WriteSVG(file) }
		if err := wholefile.Write(f.svg, write); err != nil {
			return err
		}
	}
	if err := f.kept.save(f.rig, func(r *soundcheck.Record) { r.Words = record }); err != nil {
		return err
	}
	if f.json {
		e := json.NewEncoder(cmd.OutOrStdout())
		e.SetIndent("", "  ")
		err = e.Encode(record)
	} else {
		err = wordsText(cmd.OutOrStdout(), record, noCeiling)
	}
	if err != nil || f.write == "" {
		return err
	}
	if noCeiling != nil {
		return fmt.Errorf("%s is not written: %w", f.write, noCeiling)
	}
	return writeRig(cmd.ErrOrStderr(), f.rigName, f.write, record.Lines())
}

// mic is the name of the sound card's input among recordings.
const mic = "mic"

func (f *wordsFlags) check(cmd *cobra.Command) error {
	effort, known := map[string]clarity.Effort{"normal": clarity.Normal, "raised": clarity.Raised, "loud": clarity.Loud}[f.effort]
	set := cmd.Flags().Changed
	switch {
	case !known:
		return badInput{fmt.Errorf("--effort %q is not known: use normal, raised or loud", f.effort)}
	case !set("spl"):
		f.spl = soundcheck.UsualSPL(effort)
	case !(f.spl >= 40 && f.spl <= 100):
		return badInput{fmt.Errorf("--spl %g is out of range 40…100", f.spl)}
	}
	switch {
	case !(f.seconds >= 5 && f.seconds <= 300):
		return badInput{fmt.Errorf("--seconds %g is out of range 5…300", f.seconds)}
	case set("below") && !(f.below >= -40 && f.below <= 80):
		return badInput{fmt.Errorf("--below %g is out of range -40…80", f.below)}
	case set("below") && f.bed != "" && f.voice != "":
		return badInput{errors.New("--below goes without recordings of both voice and bed, which tell it: leave one of them out")}
	case f.room != "" && f.voice == "":
		return badInput{errors.New("--room is heard beside a voice recorded at the same gain: name it with --voice")}
	case f.write != "" && !set("below") && (f.bed == "" || f.voice == ""):
		return badInput{errors.New("--write needs to know how loud the bed is now: record voice and bed (--voice, --bed), or read it off the desk (--below)")}
	}
	if err := f.wish.Check(); err != nil {
		return badInput{err}
	}
	if err := f.choice.check(); err != nil {
		return err
	}
	if _, err := f.kept.check(); err != nil {
		return err
	}
	return checkOutputs("", output{"--svg", f.svg}, output{"--write", f.write}, output{"--keep", f.kept.path})
}

// listen measures voice, room and bed.
func (f *wordsFlags) listen(talk io.Writer) (v soundcheck.Voice, room clarity.Levels, b soundcheck.Bedding, err error) {
	effort := map[string]clarity.Effort{"normal": clarity.Normal, "raised": clarity.Raised, "loud": clarity.Loud}[f.effort]
	v, room = soundcheck.StandardVoice(effort, f.spl), clarity.Silence()
	if f.voice != "" {
		h, err := f.heard(talk, f.voice, "speak, at the microphone, as in the evening; the bed is silent")
		if err != nil {
			return v, room, b, err
		}
		v = soundcheck.RecordedVoice(called(f.voice), h, f.spl)
		v.Input = f.voice == mic
	}
	if f.room != "" {
		h, err := f.heard(talk, f.room, "the room alone: nobody speaks, nothing plays")
		if err != nil {
			return v, room, b, err
		}
		room = h.Levels.Plus(v.FullSPL)
	}
	b.Config = f.rig.Bed
	if f.bed != "" {
		h, err := f.heard(talk, f.bed, "the bed alone, its fader up slowly from nothing, the pedal at the toe; nobody speaks")
		if err != nil {
			return v, room, b, err
		}
		b.Rows = []soundcheck.Row{soundcheck.RecordedBed(called(f.bed), h)}
		return v, room, b, nil
	}
	b.Law = true
	b.Rows, err = soundcheck.Beds(f.rig, f.moments, f.choice.renderer(f.rig), progressOn(talk, "sounding the bed"))
	if errors.Is(err, soundcheck.ErrShared) {
		err = badInput{fmt.Errorf("%w, and name the file with --bed", err)}
	}
	return v, room, b, err
}

func called(path string) string {
	if path == mic {
		return "the sound card's input"
	}
	return filepath.Base(path)
}

// heard measures a recording, or what the sound card hears after a word of what is
// wanted.
func (f *wordsFlags) heard(talk io.Writer, path, wanted string) (soundcheck.Heard, error) {
	if path == mic {
		return hearInput(talk, f.rig.Listening.Input, f.seconds, wanted)
	}
	h, err := soundcheck.HearFile(path)
	if err != nil {
		return h, badInput{err}
	}
	return h, nil
}
