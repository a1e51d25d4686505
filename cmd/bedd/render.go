package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"
	"time"

	"bedd/internal/bed"
	"bedd/internal/curve"
	"bedd/internal/glance"
	"bedd/internal/journal"
	"bedd/internal/listening"
	"bedd/internal/midiio"
	"bedd/internal/session"
	"bedd/internal/sound"
	"bedd/internal/wholefile"

	"github.com/spf13/cobra"
)

type renderFlags struct {
	material
	performance string
	voice       string
	journal     string
	midi        string
	wav         string
	rate        int
	bits        int
	choice      instrumentFlags
	reports     []string
	json        bool
}

func newRender() *cobra.Command {
	var f renderFlags
	cmd := &cobra.Command{
		Use:   "render [PLAN]",
		Short: "Run a recorded performance through the bed, offline",
		Long: `render runs a recorded performance, a standard MIDI file of a player's piano,
feet and pedal, through the same engine that plays live, and writes what comes
out: MIDI, sound, a report. PLAN is a gathering file or the name of a built-in one.

With --voice it listens to a recorded talk (WAV) meanwhile, as bedd play --listen does
to a microphone, and the report tells what was heard and what the bed made of it. Alone,
without a performance, the bed is brought in at once and holds until the talk is over.

With --journal it runs a session of bedd play again, message for message as it was
played; it says from where on this bedd would play otherwise, if it would.`,
		Example: `  bedd render --performance evening.mid --midi out.mid --wav out.wav
  bedd render winter-lights --moment collection --performance evening.mid --report -
  bedd render winter-lights --performance evening.mid --report evening.svg --report evening.txt
  bedd render winter-lights --voice talk.wav --report - --report talk.svg
  bedd render --journal session.jsonl --midi out.mid --wav out.wav`,
		Args: atMostOnePlan,
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(cmd, args) },
	}
	f.flags(cmd)
	flags := cmd.Flags()
	flags.StringVar(&f.performance, "performance", "", "the standard MIDI file to run")
	flags.StringVar(&f.voice, "voice", "", "listen to this recorded talk, a WAV `file`")
	flags.StringVar(&f.journal, "journal", "", "run a `SESSION` of bedd play again, by its name or its file")
	flags.StringVar(&f.midi, "midi", "", "write a standard MIDI file here")
	flags.StringVar(&f.wav, "wav", "", "write sound here, as WAV")
	flags.IntVar(&f.rate, "rate", 48000, "frames a second of the sound, 44100 or 48000")
	f.choice.flags(cmd)
	flags.IntVar(&f.bits, "bits", 16, "bits a sample of the sound, 16 or 24")
	flags.StringArrayVar(&f.reports, "report", nil, "write a report to this `file`, - for standard output (default, where nothing else is asked for); a name that ends in .svg gets the curve: intensity and its source, voices and levels over time. May be given again")
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
	switch {
	case f.performance == "" && f.journal == "" && f.voice == "":
		return badInput{errors.New("render needs a recorded performance: name one with --performance FILE.mid, a talk with --voice FILE.wav, or a session with --journal")}
	case f.journal != "" && f.voice != "":
		return badInput{errors.New("--voice goes without a journal: the journal has what was heard")}
	}
	recorded, err := f.open(cmd, args)
	if err != nil {
		return err
	}
	if recorded != nil {
		defer recorded.Close()
	}
	if f.rate != 44100 && f.rate != 48000 {
		return badInput{fmt.Errorf("--rate %d is not known: use 44100 or 48000", f.rate)}
	}
	if f.bits != 16 && f.bits != 24 {
		return badInput{fmt.Errorf("--bits %d is not known: use 16 or 24", f.bits)}
	}
	if err := f.choice.check(); err != nil {
		return err
	}
	f.reports = slices.DeleteFunc(f.reports, func(path string) bool { return path == "" })
	outputs := []output{{"--midi", f.midi}, {"--wav", f.wav}}
	for _, report := range f.reports {
		if report != "-" {
			outputs = append(outputs, output{"--report", report})
		}
	}
	if err := checkOutputs(f.source(), outputs...); err != nil {
		return err
	}
	seen, watch := curve.New(f.rig), session.Watcher(nil)
	if f.voice != "" || slices.ContainsFunc(f.reports, isDrawing) {
		watch = seen.See
	}
	run, performance, err := f.perform(recorded, watch, seen.Hear)
	if err != nil {
		return err
	}
	take, end := run.Take, run.End
	told := take.Report(run.Cues, end, run.Refused)
	if f.wav != "" {
		interrupted, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
		defer stop()
		meter, err := f.renderWAV(interrupted, take, progressOn(cmd.ErrOrStderr(), "rendering"))
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
	if f.voice != "" {
		told.Voice = seen.Voice()
	}
	text := func(w io.Writer) error { return f.textOrJSON(w, told, take, seen) }
	drawn := func(w io.Writer) error { return seen.Write(w, f.drawn(told, take, end)) }
	return errors.Join(f.writeReports(cmd.OutOrStdout(), text, drawn), f.exact(run))
}

// open reads what is to be run: a journal, or the material of a performance.
func (f *renderFlags) open(cmd *cobra.Command, args []string) (*journal.Reader, error) {
	if f.journal == "" {
		return nil, f.load(cmd, args)
	}
	switch {
	case f.performance != "":
		return nil, badInput{errors.New("--journal and --performance go one at a time")}
	case len(args) > 0:
		return nil, badInput{fmt.Errorf("--journal goes without a plan: the session has its own; leave out %q", args[0])}
	case cmd.Flags().Changed("rig"):
		return nil, badInput{errors.New("--rig goes without a journal: the journal says it")}
	}
	dir, err := journal.DefaultDir()
	if err != nil { // a file is found all the same
		dir = "."
	}
	if f.journal, err = journal.Find(dir, f.journal); err != nil {
		return nil, badInput{fmt.Errorf("--journal: %w", err)}
	}
	r, err := journal.Open(f.journal)
	if err != nil {
		return nil, badInput{err}
	}
	if err := f.fromJournal(cmd, r.Header()); err != nil {
		r.Close()
		return nil, err
	}
	return r, nil
}

// source is what is run.
func (f *renderFlags) source() string { return cmp.Or(f.performance, f.journal, f.voice) }

// perform runs a journal, or else the performance, which it gives too.
func (f *renderFlags) perform(recorded *journal.Reader, watch session.Watcher, heard func(listening.Heard)) (run session.Replayed, performance *midiio.File, err error) {
	if recorded != nil {
		var from *bed.State
		if r := recorded.Header().Resume; r != nil {
			from = r.State
		}
		run, err := session.Replay(f.rig, f.moments, from, recorded, watch)
		if err != nil {
			return run, nil, badInput{fmt.Errorf("%s: %w", f.journal, err)}
		}
		return run, nil, nil
	}
	performance = &midiio.File{Format: 1, Division: 480}
	begin := bed.BringIn
	if f.performance != "" {
		if performance, err = readPerformance(f.performance); err != nil {
			return session.Replayed{}, nil, err
		}
		begin = bed.NoCommand
	}
	var voice session.Listened
	if f.voice != "" {
		file, err := openVoice(f.voice, f.rig)
		if err != nil {
			return session.Replayed{}, nil, err
		}
		defer file.close()
		file.see = heard
		voice = file
		defer func() { err = errors.Join(err, file.failed) }()
	}
	take, refused, end, err := session.PerformTo(f.rig, f.moments, performance, begin, voice, watch)
	if err != nil {
		return session.Replayed{}, nil, badInput{err}
	}
	return session.Replayed{Take: take, Cues: session.Cues(performance), Refused: refused, End: end}, performance, nil
}

// exact fails where this bedd would not have played what a journal has.
func (f *renderFlags) exact(run session.Replayed) error {
	switch o := run.Otherwise; {
	case o == nil:
		return nil
	case o.Gap:
		return fmt.Errorf("%s: from %s on records are missing: what is written is what was recorded", f.journal, strings.TrimSpace(glance.Clock(o.At)))
	default:
		return fmt.Errorf("%s:%d: at %s this bedd would play otherwise; what is written is what was played", f.journal, o.Line, strings.TrimSpace(glance.Clock(o.At)))
	}
}

// wavTail is how long the last echoes may ring.
const wavTail = 3 * time.Second

// maxWAV is the longest sound that a WAV file holds, in bytes: its sizes have 32
// bits.
const maxWAV = 1<<32 - 1<<10

// renderWAV renders a take with the built-in sound, until it is interrupted.
func (f *renderFlags) renderWAV(interrupted context.Context, take *session.Take, progress func(done, total int64)) (*sound.Loudness, error) {
	path, rate, bits, rig := f.wav, f.rate, f.bits, f.rig
	if sent := take.Sent(); len(sent) > 0 {
		length := (sent[len(sent)-1].At + wavTail).Seconds()
		if size := length * float64(rate) * 2 * float64(bits/8); size > maxWAV {
			return nil, badInput{fmt.Errorf("%s would be %.1f hours long, %.1f GiB: a WAV file holds 4 GiB; ask for 16 bits, or render a part", path, length/3600, size/(1<<30))}
		}
	}
	synth, release, err := f.choice.open(rig, rate)
	if err != nil {
		return nil, err
	}
	defer release()
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
