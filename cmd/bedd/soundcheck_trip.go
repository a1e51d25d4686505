package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"sync"
	"syscall"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/midiio"
	"bedd/internal/soundcheck"

	"github.com/spf13/cobra"
)

type tripFlags struct {
	out, in string
	driver  string
	count   int
	kept    kept
	json    bool
}

func newTrip() *cobra.Command {
	var f tripFlags
	cmd := &cobra.Command{
		Use:   "trip",
		Short: "Latency and jitter of the MIDI path, there and back",
		Long: `trip sends messages to an output and times how long they take to come back on an input:
through a MIDI cable from the interface's OUT to its IN, or a virtual loop such as Linux's
Midi Through. It counts from handing a message to the system until bedd has it again; what
a keyboard and a synth take by themselves is not in it. The messages are an undefined
controller (3) on channel 16, 10 ms apart, which no synth listens to.`,
		Example: `  bedd soundcheck trip --out "Midi Through" --in "Midi Through"
  bedd soundcheck trip --out Interface --in Interface --count 1000 --json`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(cmd) },
	}
	flags := cmd.Flags()
	flags.StringVar(&f.out, "out", "", "the MIDI output, by a part of its name")
	flags.StringVar(&f.in, "in", "", "the MIDI input that it comes back on")
	flags.StringVar(&f.driver, "driver", "auto", "how to reach MIDI: alsa, rtmidi, auto")
	flags.IntVar(&f.count, "count", 500, "how many messages, 10…10000")
	f.kept.flags(cmd)
	flags.BoolVar(&f.json, "json", false, "print JSON")
	return cmd
}

// Between two messages; and how long the last may take.
const (
	tripEvery = 10 * time.Millisecond
	tripWaits = 500 * time.Millisecond
)

func (f *tripFlags) run(cmd *cobra.Command) error {
	switch {
	case f.out == "" || f.in == "":
		return badInput{errors.New("name the output and the input of the loop with --out and --in: bedd ports lists them")}
	case f.count < 10 || f.count > 10000:
		return badInput{fmt.Errorf("--count %d is out of range 10…10000", f.count)}
	}
	record, err := f.kept.check()
	if err != nil {
		return err
	}
	ports := midiFlags{driver: f.driver, thru: "auto"}
	if _, err := ports.wishes(); err != nil {
		return err
	}
	system, err := midiio.OpenSystem(midiio.Driver(f.driver))
	if err != nil {
		return err
	}
	defer system.Close()
	trip, err := timeTrip(system, f.out, f.in, f.count)
	if err != nil {
		return err
	}
	if f.kept.path != "" {
		record.When, record.Trip = time.Now().Truncate(time.Second), &trip
		if err := record.Save(f.kept.path); err != nil {
			return err
		}
	}
	if f.json {
		return encodeJSON(cmd.OutOrStdout(), trip)
	}
	return tripText(cmd.OutOrStdout(), trip)
}

// timeTrip sends messages around a loop and times them.
func timeTrip(system midiio.System, outName, inName string, count int) (soundcheck.Trip, error) {
	outs, err := system.Outs()
	if err != nil {
		return soundcheck.Trip{}, err
	}
	ins, err := system.Ins()
	if err != nil {
		return soundcheck.Trip{}, err
	}
	to, err := midiio.Match(midiio.Out, outs, outName)
	if err != nil {
		return soundcheck.Trip{}, err
	}
	from, err := midiio.Match(midiio.In, ins, inName)
	if err != nil {
		return soundcheck.Trip{}, err
	}
	var mu sync.Mutex
	var meter soundcheck.Tripmeter
	start := time.Now()
	in, err := system.OpenIn(from, func(_ time.Duration, bytes []byte) {
		at := time.Since(start) // waking up is part of the way
		mu.Lock()
		defer mu.Unlock()
		for len(bytes) >= 3 { // our own come whole
			meter.Returned(at, bytes[:3])
			bytes = bytes[3:]
		}
	})
	if err != nil {
		return soundcheck.Trip{}, err
	}
	defer in.Close()
	out, err := system.OpenOut(to)
	if err != nil {
		return soundcheck.Trip{}, err
	}
	defer out.Close()
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer signal.Stop(signals)
	tick := time.NewTicker(tripEvery)
	defer tick.Stop()
	for range count {
		select {
		case <-signals:
			return soundcheck.Trip{}, errors.New("interrupted, nothing is measured")
		case <-tick.C:
		}
		mu.Lock()
		msg := append([]byte(nil), meter.Message(time.Since(start))...)
		mu.Unlock()
		if _, err := out.Send(msg); err != nil {
			return soundcheck.Trip{}, fmt.Errorf("%s: %w", to.Name, err)
		}
	}
	wait := time.NewTimer(tripWaits)
	defer wait.Stop()
	<-wait.C
	mu.Lock()
	defer mu.Unlock()
	return meter.Trip(to.Name, from.Name)
}

func tripText(w io.Writer, t soundcheck.Trip) error {
	fmt.Fprintf(w, "from %s back to %s: %d of %d messages\n", t.Out, t.In, t.Back, t.Sent)
	fmt.Fprintf(w, "least %.2f ms, half within %.2f, 90 %% within %.2f, 99 %% within %.2f, most %.2f ms\n", t.Least, t.Median, t.P90, t.P99, t.Most)
	fmt.Fprintf(w, "jitter %.2f ms (from the median to the 99th percentile)\n", t.Jitter)
	if t.Swapped > 0 {
		fmt.Fprintf(w, "%d came out of their order\n", t.Swapped)
	}
	fmt.Fprintln(w, folded("", "Measured there and back: out of bedd, through the system and what carries the loop, and in again; a MIDI cable takes 0.96 ms of it for each message of three bytes. One way is about half. What the keyboard and the synth take is not in it."))
	if t.Back < t.Sent {
		return fmt.Errorf("%d messages were lost on the way", t.Sent-t.Back)
	}
	return nil
}

func newCable() *cobra.Command {
	var rigName string
	var asJSON bool
	var baud int
	cmd := &cobra.Command{
		Use:   "cable",
		Short: "How busy a MIDI cable gets with a rig's piano and bed",
		Long: `cable reckons how much waits on a MIDI cable at a rig's busiest: every chord of a short
progression at full intensity, ten fingers striking at each change.`,
		Example: `  bedd soundcheck cable --rig my-rig.yaml`,
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, args []string) error {
			if baud < minBaud || baud > maxBaud {
				return badInput{fmt.Errorf("--baud %d is out of range %d…%d", baud, minBaud, maxBaud)}
			}
			rig, err := gathering.OpenRig(rigName)
			if err != nil {
				return badInput{err}
			}
			c, err := soundcheck.BusyCable(rig, soundcheck.Trial(), baud)
			if err != nil {
				return err
			}
			if asJSON {
				return encodeJSON(cmd.OutOrStdout(), c)
			}
			_, err = fmt.Fprintln(cmd.OutOrStdout(), folded("", cableText(c)))
			return err
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&rigName, "rig", "default", "a rig file, or one of "+strings.Join(gathering.RigNames(), ", "))
	flags.IntVar(&baud, "baud", soundcheck.DINCable, "bits a second")
	flags.BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}
