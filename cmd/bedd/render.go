package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/glance"
	"bedd/internal/midiio"
	"bedd/internal/session"
	"bedd/internal/sound"
	"bedd/internal/wholefile"

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
	report := f.report
	if report == "-" {
		report = ""
	}
	if err := checkOutputs(f.performance, output{"--midi", f.midi}, output{"--wav", f.wav}, output{"--report", report}); err != nil {
		return err
	}
	performance, err := readPerformance(f.performance)
	if err != nil {
		return err
	}
	take, refused, end, err := session.Perform(f.rig, f.moments, performance)
	if err != nil {
		return badInput{err}
	}
	told := take.Report(performance, end, refused)
	if f.wav != "" {
		interrupted, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
		defer stop()
		meter, err := renderWAV(interrupted, f.wav, f.rate, f.bits, f.rig, take, progressBar(cmd.ErrOrStderr()))
		if err != nil {
			return err
		}
		told.Loudness(meter.Integrated(), meter.PeakDB())
	}
	if f.midi != "" {
		if err := midiio.WriteFile(f.midi, take.File(session.ClockOf(performance), f.moments[f.rig.Bed.First].Key)); err != nil {
			return err
		}
	}
	if f.report == "" && !f.json && (f.midi != "" || f.wav != "") {
		return nil
	}
	return f.writeReport(cmd.OutOrStdout(), told, take)
}

func (f *renderFlags) writeReport(stdout io.Writer, r session.Report, take *session.Take) error {
	write := func(w io.Writer) error {
		if f.json {
			e := json.NewEncoder(w)
			e.SetIndent("", "  ")
			return e.Encode(r)
		}
		return textReport(w, r, take, switches(f.rig))
	}
	if f.report == "" || f.report == "-" {
		return write(stdout)
	}
	return wholefile.Write(f.report, func(file *os.File) error { return write(file) })
}

// textReport writes what happened as lines in order of time, and the sums.
func textReport(to io.Writer, r session.Report, take *session.Take, listened string) error {
	w := bufio.NewWriter(to)
	cue, entered := 0, 0
	cues := func(until time.Duration) {
		for ; cue < len(r.Cues) && seconds(r.Cues[cue].At) <= until; cue++ {
			fmt.Fprintf(w, "%s  \"%s\"\n", glance.Clock(seconds(r.Cues[cue].At)), r.Cues[cue].Text)
		}
	}
	for _, a := range take.Marks {
		cues(a.At)
		if a.Kind == bed.EnterChord {
			fmt.Fprintln(w, glance.Chord(a.At, take.Entered[entered].View, 0))
			entered++
		} else if line := glance.Action(a); line != "" {
			fmt.Fprintln(w, line)
		}
	}
	cues(time.Duration(1<<63 - 1))
	if len(take.Marks)+len(r.Cues) > 0 {
		fmt.Fprintln(w)
	}
	fmt.Fprintf(w, "%s in %.1f s; the bed sounded %.1f s; at changes %s held, %d struck\n",
		counted(len(r.Chords), "chord"), r.Length, r.Sounded, counted(r.Held, "note"), r.Struck)
	fmt.Fprintf(w, "messages: %d through, %d for the bed; %d refused on the bed's channels\n",
		r.Sent[session.Thru.String()], r.Sent[session.Warm.String()]+r.Sent[session.Air.String()], r.Refused)
	if r.LUFS != nil {
		fmt.Fprintf(w, "loudness %.1f LUFS", *r.LUFS)
		if r.PeakDB != nil {
			fmt.Fprintf(w, ", true peak %.1f dBTP", *r.PeakDB)
		}
		fmt.Fprintln(w)
	}
	if len(r.Chords) == 0 {
		fmt.Fprintf(w, "no foot brought the bed in: this rig listens to %s\n", listened)
	}
	return w.Flush()
}

// counted writes a number of things.
func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// switches names what a rig listens to, for a player who pressed something else.
func switches(rig gathering.Rig) string {
	var out []string
	for _, f := range rig.Feet {
		out = append(out, f.Switch.Control.String())
	}
	if len(out) == 0 {
		return "no switch"
	}
	return strings.Join(out, ", ")
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

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

// maxWAV is the longest sound that a WAV file holds, in bytes: its sizes have 32
// bits.
const maxWAV = 1<<32 - 1<<10

// renderWAV renders a take with the built-in sound, until it is interrupted.
func renderWAV(interrupted context.Context, path string, rate, bits int, rig gathering.Rig, take *session.Take, progress func(done, total int64)) (*sound.Loudness, error) {
	if sent := take.Sent(); len(sent) > 0 {
		length := (sent[len(sent)-1].At + wavTail).Seconds()
		if size := length * float64(rate) * 2 * float64(bits/8); size > maxWAV {
			return nil, badInput{fmt.Errorf("%s would be %.1f hours long, %.1f GiB: a WAV file holds 4 GiB; ask for 16 bits, or render a part", path, length/3600, size/(1<<30))}
		}
	}
	synth, err := newSynth(rig, rate)
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
	for _, s := range take.Sent() {
		if m, ok := channelMessage(s.Data); ok {
			frame := int64(s.At.Seconds()*float64(rate) + 0.5)
			events = append(events, sound.Event{Frame: frame, Status: m.Status, Data1: m.Data1, Data2: m.Data2})
		}
	}
	return meter, wholefile.Write(path, func(file *os.File) error {
		wav, err := sound.NewWAV(file, rate, bits)
		if err != nil {
			return err
		}
		sink := func(block []float32) error {
			if interrupted.Err() != nil {
				return errors.New("interrupted, nothing is written")
			}
			meter.Add(block)
			return wav.Write(block)
		}
		if err := synth.RenderTo(events, int64(wavTail.Seconds()*float64(rate)), sink, progress); err != nil {
			return err
		}
		return wav.Close()
	})
}
