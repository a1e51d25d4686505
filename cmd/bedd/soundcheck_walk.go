package main

import (
	"errors"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/linecheck"
	"bedd/internal/soundcheck"

	"github.com/spf13/cobra"
	"golang.org/x/term"
)

// walkFlags are the walk's, by which each step can be done alone.
type walkFlags struct {
	rig   string
	keep  string
	from  string
	step  string
	lines bool
	json  bool
	ports midiFlags
}

func (f *walkFlags) flags(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringVar(&f.rig, "rig", "my-rig.yaml", "the rig `file` to write; what else an existing one says stays")
	flags.StringVar(&f.keep, "keep", "", "keep what is found in this `file` (default the rig's name with .check.json)")
	flags.StringVar(&f.from, "from", "", "begin at this `step`: "+stepNames())
	flags.StringVar(&f.step, "step", "", "do this `step` alone")
	flags.BoolVar(&f.lines, "lines", false, "plain lines instead of big letters on all of the terminal")
	flags.BoolVar(&f.json, "json", false, "print what was found as JSON, and the prompts to standard error")
	flags.StringArrayVar(&f.ports.ins, "in", nil, "a MIDI input to check, by a part of its name; may be given several times (default every device's)")
	flags.StringArrayVar(&f.ports.outs, "out", nil, "a MIDI output to try; may be given several times (default every device's)")
	flags.StringVar(&f.ports.driver, "driver", "auto", "how to reach MIDI: alsa (the kernel's sequencer, on Linux), rtmidi (the portable library), auto (the best there is)")
	f.ports.thru = "auto"
}

func stepNames() string {
	var names []string
	for _, s := range linecheck.Steps {
		names = append(names, string(s))
	}
	return strings.Join(names, ", ")
}

// stepsOf gives the steps to do after what was found, and from where they go on.
func (f *walkFlags) stepsOf(found *linecheck.Found) (steps []linecheck.Step, goesOn bool, err error) {
	known := func(flag, name string) (linecheck.Step, error) {
		if s := linecheck.Step(name); slices.Contains(linecheck.Steps, s) {
			return s, nil
		}
		return "", badInput{fmt.Errorf("--%s %q is no step: use one of %s", flag, name, stepNames())}
	}
	switch {
	case f.from != "" && f.step != "":
		return nil, false, badInput{errors.New("--from and --step exclude each other")}
	case f.step != "":
		s, err := known("step", f.step)
		return []linecheck.Step{s}, false, err
	case f.from != "":
		s, err := known("from", f.from)
		if err != nil {
			return nil, false, err
		}
		return linecheck.From(s), false, nil
	}
	next := found.Next()
	if next == "" || next == linecheck.Steps[0] {
		*found = linecheck.Found{}
		return linecheck.Steps, false, nil
	}
	return linecheck.From(next), true, nil
}

func (f *walkFlags) run(cmd *cobra.Command) error {
	if f.keep == "" {
		f.keep = strings.TrimSuffix(f.rig, filepath.Ext(f.rig)) + ".check.json"
	}
	if slices.Contains(gathering.RigNames(), f.rig) {
		return badInput{fmt.Errorf("--rig %s is a built-in rig: name a file to write, as in my-rig.yaml", f.rig)}
	}
	if data, err := os.ReadFile(f.rig); err == nil {
		if _, err := gathering.ReadRig(f.rig, data); err != nil {
			return badInput{err}
		}
	}
	record, err := soundcheck.Load(f.keep)
	if err != nil {
		return badInput{err}
	}
	if err := checkOutputs("", output{"--rig", f.rig}, output{"--keep", f.keep}); err != nil {
		return err
	}
	found := linecheck.Found{}
	if record.Gear != nil {
		found = *record.Gear
	}
	steps, goesOn, err := f.stepsOf(&found)
	if err != nil {
		return err
	}
	wishes, err := f.ports.wishes()
	if err != nil {
		return err
	}
	system, choice, err := f.ports.choosePorts(wishes)
	if err != nil {
		return err
	}
	defer system.Close()
	talk := os.Stdout
	if f.json {
		talk = os.Stderr
	}
	if goesOn {
		fmt.Fprintf(talk, "goes on at the step %s; --from rest begins anew\n", steps[0])
	}
	w := walk{system: system, found: found, steps: steps, talk: talk,
		keep: func(found linecheck.Found) error { return f.keepFound(found) }}
	if err := w.open(choice, len(wishes.Outs) > 0); err != nil {
		return err
	}
	defer w.ports.Close()
	interactive := term.IsTerminal(int(os.Stdin.Fd())) && term.IsTerminal(int(talk.Fd()))
	var words <-chan string // lines that the player types; while a picture is shown, keys are
	whole := interactive && !f.lines
	if !whole {
		words = readLines(os.Stdin)
	}
	found, finished, err := w.walked(words)
	if err != nil {
		return err
	}
	if err := f.keepFound(found); err != nil {
		return err
	}
	if !finished {
		fmt.Fprintf(talk, "what was found is kept in %s; the same command goes on where you left\n", f.keep)
		return nil
	}
	if !interactive {
		return f.finish(cmd, talk, found, steps, nil)
	}
	if words == nil {
		words = readLines(os.Stdin)
	}
	return f.finish(cmd, talk, found, steps, words)
}

// walked walks with a player at this program's terminal, or at its lines.
func (w *walk) walked(words <-chan string) (found linecheck.Found, finished bool, err error) {
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer signal.Stop(signals)
	var view prompter
	if words != nil {
		view = newLines(words, w.talk)
	} else if view, err = newCards(os.Stdin); err != nil {
		return w.found, false, err
	}
	defer view.close()
	return w.run(view, signals)
}

// keepFound writes what was found beside what other steps have kept.
func (f *walkFlags) keepFound(found linecheck.Found) error {
	record, err := soundcheck.Load(f.keep)
	if err != nil {
		return err
	}
	record.When, record.Gear = time.Now().Truncate(time.Second), &found
	return record.Save(f.keep)
}

// writes gives the steps whose findings go into a rig that is there: of a walk from the
// beginning, or gone on with, all.
func (f *walkFlags) writes(steps []linecheck.Step) []linecheck.Step {
	if f.from == "" && f.step == "" {
		return linecheck.Steps
	}
	return steps
}

// finish writes the rig, says what is in it, and leads to the steps that measure sound.
func (f *walkFlags) finish(cmd *cobra.Command, talk *os.File, found linecheck.Found, steps []linecheck.Step, words <-chan string) error {
	rig, kept, err := soundcheck.WriteRig(f.rig, found, f.writes(steps)...)
	if err != nil {
		return err
	}
	cable, err := soundcheck.BusyCable(rig, soundcheck.Trial(), soundcheck.DINCable)
	if err != nil {
		return err
	}
	record, err := soundcheck.Load(f.keep)
	if err != nil {
		return err
	}
	record.Rig, record.Cable, record.MIDI = rig.Name, &cable, soundcheck.Devices(found)
	if err := record.Save(f.keep); err != nil {
		return err
	}
	tellFound(talk, found)
	fmt.Fprintln(talk, folded("", cableText(cable)))
	text := "wrote " + f.rig
	if kept != "" {
		text += "; what was there is " + kept
	}
	fmt.Fprintf(talk, "%s\n\n  bedd play --rig %s\n", text, f.rig)
	if f.json {
		return encodeJSON(cmd.OutOrStdout(), record)
	}
	return f.after(talk, words)
}

// tellFound lists the troubles, and what was found.
func tellFound(talk *os.File, found linecheck.Found) {
	for _, t := range found.Troubles {
		fmt.Fprintln(talk, folded("! ", t.Text+": "+t.Cure))
	}
	for _, line := range found.Lines() {
		fmt.Fprintln(talk, "  "+line)
	}
}

// cableText says how busy a MIDI cable gets.
func cableText(c soundcheck.Cable) string {
	return fmt.Sprintf("on a MIDI cable of %d bits a second, piano and bed at their busiest have %d bytes waiting, and a key waits %.1f ms for the bed at most (reckoned for this rig, not measured)", c.Baud, c.Bytes, c.ForBed)
}
