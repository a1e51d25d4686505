package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/sound"
	"bedd/internal/soundcheck"
	"bedd/internal/wholefile"

	"github.com/charmbracelet/x/ansi"
	"github.com/spf13/cobra"
)

func newSoundcheck() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "soundcheck",
		Short: "Before anybody comes: the bed against voice and piano, and a page for the desk",
		Long: `soundcheck finds out how loud the bed may be, before anybody comes. Each step is a
command of its own; --keep FILE collects what they find, for the page that stays at
the mixing desk.

  words   how clear speech stays over the bed, and what keeps it so
  levels  the bed against the piano, by meter and by ear
  report  a page for the desk`,
		Example: `  bedd soundcheck words --voice talk.wav
  bedd soundcheck levels --play
  bedd soundcheck report --keep check.json --html desk.html`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return badInput{fmt.Errorf("there is no step %q: see bedd soundcheck --help", args[0])}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newWords(), newLevels(), newDeskReport())
	return cmd
}

// renderer sounds messages with what a rig has sound by itself. What is measured is in
// stereo, also of a rig that sends piano and bed to a side each.
func (f *instrumentFlags) renderer(rig gathering.Rig) soundcheck.Renderer {
	rig.Separate = false
	return func(events []sound.Event, tail int64, sink func([]float32) error) error {
		synth, release, err := f.open(rig, liveRate)
		if err != nil {
			return err
		}
		defer release()
		for _, m := range builtIn(rig) {
			synth.Send(m.Status, m.Data1, m.Data2)
		}
		return synth.RenderTo(events, tail, sink, nil)
	}
}

// kept is the file that collects what the steps find.
type kept struct{ path string }

func (k *kept) flags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&k.path, "keep", "", "collect what is found in this `file`, for the page at the desk")
}

// check finds out now whether the file can be read and written.
func (k *kept) check() (soundcheck.Record, error) {
	if k.path == "" {
		return soundcheck.Record{}, nil
	}
	record, err := soundcheck.Load(k.path)
	if err != nil {
		return record, badInput{err}
	}
	return record, checkOutputs("", output{"--keep", k.path})
}

// save adds what a step found to the file.
func (k *kept) save(rig gathering.Rig, add func(*soundcheck.Record)) error {
	if k.path == "" {
		return nil
	}
	record, err := soundcheck.Load(k.path)
	if err != nil {
		return badInput{err}
	}
	record.When, record.Rig = time.Now().Truncate(time.Second), rig.Name
	add(&record)
	return record.Save(k.path)
}

// writeRig writes a rig with some settings changed, to a file that may be its own, and
// says so; what was there is kept.
func writeRig(talk io.Writer, rig, path string, settings []gathering.Setting) error {
	if len(settings) == 0 {
		fmt.Fprintln(talk, path+" is not written: the rig needs no change")
		return nil
	}
	name, data, err := gathering.RigFile(rig)
	if err != nil {
		return badInput{err}
	}
	if data, err = gathering.EditRig(name, data, settings...); err != nil {
		return err
	}
	kept, err := wholefile.Keep(path)
	if err != nil {
		return err
	}
	if err := wholefile.Write(path, func(file *os.File) error { _, err := file.Write(data); return err }); err != nil {
		return err
	}
	if kept != "" {
		kept = "; what was there is " + kept
	}
	fmt.Fprintln(talk, "wrote "+path+kept)
	return nil
}

// cautions writes what to take care of, where sound is made or asked for.
func cautions(w io.Writer) {
	fmt.Fprintln(w, "\ntake care")
	for _, c := range soundcheck.Cautions {
		fmt.Fprintln(w, folded("  - ", c))
	}
}

// folded sets a text to lines of 84 characters behind a mark.
func folded(mark, text string) string {
	indent := strings.Repeat(" ", len([]rune(mark)))
	return mark + strings.ReplaceAll(ansi.Wordwrap(text, 84-len(indent), ""), "\n", "\n"+indent)
}
