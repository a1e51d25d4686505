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
	var f walkFlags
	cmd := &cobra.Command{
		Use:   "soundcheck",
		Short: "From cables to a rig, and the bed against voice and piano, before anybody comes",
		Long: `soundcheck walks you from cables to a rig that bedd play takes: in big letters, or in plain
lines where there is no terminal. Press and play what it asks for; you may go on playing
meanwhile. It says in plain words what is wrong, and what to do.

  rest     what moves by itself
  keys     which input your keyboard is, its channel, whether it is transposed
  left     the foot that steps       (press it twice)
  right    the foot that changes what the next step does
  more     other switches
  pedal    how much                  (heel, toe, heel)
  synth    which output sounds       (a soft note that rises slowly)
  thru     whether your keys sound by themselves
  layer    whether your sound has a pad in it
  silence  all notes off
  plug     a cable pulled out and put in again

Each step can be skipped, and repeated later: --step pedal does it alone, --from pedal all
from there. q or ctrl-c keeps what is done, and the same command goes on there. At the end
the rig file is written; what else an existing one says stays, and the old one is kept
beside it. Then there are steps that are commands of their own:

  words    how clear speech stays over the bed, and what keeps it so
  levels   the bed against the piano, by meter and by ear
  report   a page for the desk
  trip     latency and jitter of the MIDI path, through a cable from out to in
  cable    how busy a MIDI cable gets`,
		Example: `  bedd soundcheck
  bedd soundcheck --rig my-rig.yaml --step pedal
  bedd soundcheck words --voice talk.wav
  bedd soundcheck trip --out Module --in Stage
  bedd soundcheck report --rig my-rig.yaml --keep my-rig.check.json --html desk.html`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return badInput{fmt.Errorf("there is no step %q: see bedd soundcheck --help", args[0])}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(cmd) },
	}
	f.flags(cmd)
	cmd.AddCommand(newWords(), newLevels(), newDeskReport(), newTrip(), newCable())
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
