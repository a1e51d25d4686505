package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/glance"
	"bedd/internal/midiio"
	"bedd/internal/session"
	"bedd/internal/sound"

	"github.com/spf13/cobra"
)

type renderFlags struct {
	material
	performance string
	midi        string
	wav         string
	rate        int
	bits        int
	report      string
	json        bool
}

func newRender() *cobra.Command {
	var f renderFlags
	cmd := &cobra.Command{
		Use:   "render [PLAN]",
		Short: "Run a recorded performance through the bed, offline",
		Long: `render runs a recorded performance, a standard MIDI file of a player's piano,
feet and pedal, through the same engine that plays live, and writes what comes
out: MIDI, sound, a report. PLAN is a gathering file or the name of a built-in one.`,
		Example: `  bedd render --performance evening.mid --midi out.mid --wav out.wav
  bedd render winter-lights --moment collection --performance evening.mid --report -`,
		Args: atMostOnePlan,
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(cmd, args) },
	}
	f.flags(cmd)
	flags := cmd.Flags()
	flags.StringVar(&f.performance, "performance", "", "the standard MIDI file to run")
	flags.StringVar(&f.midi, "midi", "", "write a standard MIDI file here")
	flags.StringVar(&f.wav, "wav", "", "write sound here, as WAV")
	flags.IntVar(&f.rate, "rate", 48000, "frames a second of the sound, 44100 or 48000")
	flags.IntVar(&f.bits, "bits", 16, "bits a sample of the sound, 16 or 24")
	flags.StringVar(&f.report, "report", "", "write a report here, - for standard output (default, where nothing else is asked for)")
	flags.BoolVar(&f.json, "json", false, "the report as JSON")
	return cmd
}

func atMostOnePlan(cmd *cobra.Command, args []string) error {
	if len(args) > 1 {
		return badInput{fmt.Errorf("%s takes one plan at most, not %d", cmd.CommandPath(), len(args))}
	}
	return nil
}

func (f *renderFlags) run(cmd *cobra.Command, args []string) error {
	if f.performance == "" {
		return badInput{errors.New("render needs a recorded performance: name one with --performance FILE.mid")}
	}
	if err := f.load(cmd, args); err != nil {
		return err
	}
	if f.rate != 44100 && f.rate != 48000 {
		return badInput{fmt.Errorf("--rate %d is not known: use 44100 or 48000", f.rate)}
	}
	if f.bits != 16 && f.bits != 24 {
		return badInput{fmt.Errorf("--bits %d is not known: use 16 or 24", f.bits)}
	}
	performance, err := midiio.ReadFile(f.performance)
	if err != nil {
		return badInput{err}
	}
	take, refused, end, err := session.Perform(f.rig, f.moments, performance)
	if err != nil {
		return badInput{err}
	}
	report := take.Report(performance, end, refused)
	if f.wav != "" {
		meter, err := renderWAV(f.wav, f.rate, f.bits, f.rig, take, progressBar(cmd.ErrOrStderr()))
		if err != nil {
			return err
		}
		report.Loudness(meter.Integrated(), meter.PeakDB())
	}
	if f.midi != "" {
		if err := midiio.WriteFile(f.midi, take.File(session.ClockOf(performance), f.moments[f.rig.Bed.First].Key)); err != nil {
			return err
		}
	}
	if f.report == "" && (f.midi != "" || f.wav != "") {
		return nil
	}
	return f.writeReport(cmd.OutOrStdout(), report, take)
}

func (f *renderFlags) writeReport(stdout io.Writer, r session.Report, take *session.Take) error {
	write := func(w io.Writer) error {
		if f.json {
			e := json.NewEncoder(w)
			e.SetIndent("", "  ")
			return e.Encode(r)
		}
		return textReport(w, r, take)
	}
	if f.report == "" || f.report == "-" {
		return write(stdout)
	}
	return replaceFile(f.report, func(file *os.File) error { return write(file) })
}

// textReport writes what happened as lines in order of time, and the sums.
func textReport(w io.Writer, r session.Report, take *session.Take) error {
	cue, entered := 0, 0
	cues := func(until time.Duration) {
		for ; cue < len(r.Cues) && seconds(r.Cues[cue].At) <= until; cue++ {
			fmt.Fprintf(w, "%s  \"%s\"\n", glance.Clock(seconds(r.Cues[cue].At)), r.Cues[cue].Text)
		}
	}
	for _, a := range take.Marks {
		cues(a.At)
		if a.Kind == bed.EnterChord {
			fmt.Fprintln(w, glance.Chord(a.At, take.Entered[entered].View))
			entered++
		} else if line := glance.Action(a); line != "" {
			fmt.Fprintln(w, line)
		}
	}
	cues(time.Duration(1<<63 - 1))
	fmt.Fprintf(w, "\n%d chords in %.1f s; the bed sounded %.1f s; at changes %d notes were held, %d struck\n",
		len(r.Chords), r.Length, r.Sounded, r.Held, r.Struck)
	fmt.Fprintf(w, "messages: %d through, %d for the bed; %d refused on the bed's channels\n",
		r.Sent[session.Thru.String()], r.Sent[session.Warm.String()]+r.Sent[session.Air.String()], r.Refused)
	if r.LUFS != nil {
		fmt.Fprintf(w, "loudness %.1f LUFS", *r.LUFS)
		if r.PeakDB != nil {
			fmt.Fprintf(w, ", true peak %.1f dBTP", *r.PeakDB)
		}
		fmt.Fprintln(w)
	}
	return nil
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// replaceFile writes a file beside path and then puts it in its place, so that
// nothing is ever half-written.
func replaceFile(path string, write func(*os.File) error) (err error) {
	file, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	defer func() {
		if err != nil {
			file.Close()
			os.Remove(file.Name())
		}
	}()
	if err = write(file); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if err = file.Chmod(0o644); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if err = file.Close(); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return os.Rename(file.Name(), path)
}

// progressBar gives a function that shows how far a rendering is on a terminal,
// and nil elsewhere.
func progressBar(w io.Writer) func(done, total int64) {
	if !isTerminal(w) {
		return nil
	}
	shown := int64(-1)
	return func(done, total int64) {
		percent := int64(100)
		if total > 0 {
			percent = 100 * done / total
		}
		if percent != shown {
			shown = percent
			fmt.Fprintf(w, "\rrendering %3d %%", percent)
			if percent == 100 {
				fmt.Fprint(w, "\r\033[K")
			}
		}
	}
}

// wavTail is how long the last echoes may ring.
const wavTail = 3 * time.Second

// renderWAV renders a take with the built-in sound.
func renderWAV(path string, rate, bits int, rig gathering.Rig, take *session.Take, progress func(done, total int64)) (*sound.Loudness, error) {
	synth, err := sound.New(sound.Config{Rate: rate, Seed: 1})
	if err != nil {
		return nil, err
	}
	meter, err := sound.NewLoudness(rate)
	if err != nil {
		return nil, err
	}
	for _, m := range builtIn(rig) {
		synth.Send(m.Status, m.Data1, m.Data2)
	}
	var events []sound.Event
	for _, s := range take.Sent {
		if m, ok := channelMessage(s.Data); ok {
			frame := int64(s.At.Seconds()*float64(rate) + 0.5)
			events = append(events, sound.Event{Frame: frame, Status: m.Status, Data1: m.Data1, Data2: m.Data2})
		}
	}
	return meter, replaceFile(path, func(file *os.File) error {
		wav, err := sound.NewWAV(file, rate, bits)
		if err != nil {
			return err
		}
		sink := func(block []float32) error {
			meter.Add(block)
			return wav.Write(block)
		}
		if err := synth.RenderTo(events, int64(wavTail.Seconds()*float64(rate)), sink, progress); err != nil {
			return err
		}
		return wav.Close()
	})
}
