package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"text/tabwriter"

	"bedd/internal/midiio"
	"bedd/internal/sound"

	"github.com/spf13/cobra"
)

func newPorts() *cobra.Command {
	var asJSON, learning bool
	var f midiFlags
	cmd := &cobra.Command{
		Use:   "ports",
		Short: "List MIDI inputs and outputs, and which of them play would take",
		Long: `ports lists the machine's MIDI inputs and outputs, which of them play would take
by itself or with the same flags, and why; and the sound inputs that play --listen takes,
also where the machine has no MIDI.

With --learn it finds out what your gear sends, to write a rig with. Press each
switch twice, briefly, with a second between; put the pedal's heel down and move
it to the toe; leave the keys alone. Each control is shown as it arrives, and
ctrl-c prints lines for a rig file: fill in what each press: is for (bedd play
--rig takes the file, configs/rig-default.yaml shows what else it may say). The
lines go to standard output, all else to standard error:

  $ bedd ports --learn > my-rig.yaml
  listens to Foot Board
  press each switch twice, briefly, with a second between
  move the pedal from heel down to toe down; ctrl-c ends
  controller 80 on channel 1
  controller 11 on channel 1
  ^C
  $ cat my-rig.yaml
  pedal:
    controller: 11
    channel: 1
    heel: 0
    toe: 127 # swap the two if it works backwards
  switches:
    - control: controller 80
      channel: 1
      latching: no # momentary
      press: # a command, as in step`,
		Example: `  bedd ports
  bedd ports --json
  bedd ports --learn --in "Foot Board" > my-rig.yaml`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, args []string) error {
			if learning && asJSON {
				return badInput{errors.New("--learn prints lines for a rig file: it goes without --json")}
			}
			wishes, err := f.wishes()
			if err != nil {
				return err
			}
			system, choice, err := f.choosePorts(wishes)
			if err == nil {
				defer system.Close()
			}
			if learning {
				if err != nil {
					return err
				}
				return learn(system, midiio.Chosen(choice.Ins), cmd.OutOrStdout(), cmd.ErrOrStderr())
			}
			sounds, _ := sound.Inputs() // none is no failure
			found := found{choice: choice, noMIDI: err, sounds: sounds}
			return found.list(cmd.OutOrStdout(), cmd.ErrOrStderr(), asJSON)
		},
	}
	flags := cmd.Flags()
	f.flags(cmd)
	flags.BoolVar(&asJSON, "json", false, "print JSON")
	flags.BoolVar(&learning, "learn", false, "find out what switches and a pedal send, until ctrl-c, and print it as lines for a rig file")
	return cmd
}

// found is what the machine has to play with.
type found struct {
	choice midiio.Choice
	noMIDI error // why there is no choice, if there is none
	sounds []string
}

// list writes what there is. That MIDI cannot be used fails only what wished for
// something of it, and where there is nothing else to list.
func (f found) list(w, talk io.Writer, asJSON bool) error {
	if f.noMIDI != nil {
		if len(f.sounds) == 0 || !noSystem(f.noMIDI) {
			return f.noMIDI
		}
		fmt.Fprintf(talk, "no MIDI ports: %v\n", f.noMIDI)
	}
	if asJSON {
		return portsJSON(w, f.choice, f.sounds)
	}
	if f.noMIDI == nil {
		if err := portsText(w, f.choice); err != nil {
			return err
		}
	}
	for i, name := range f.sounds {
		mark := ""
		if i == 0 {
			mark = "  the system's own choice"
		}
		if _, err := fmt.Fprintf(w, "sound input for --listen: %s%s\n", name, mark); err != nil {
			return err
		}
	}
	return nil
}

// noSystem reports whether it is the machine that has no MIDI for us, and not that what
// was asked of it does not fit.
func noSystem(err error) bool {
	for _, why := range []error{midiio.ErrNoSequencer, midiio.ErrPermission, midiio.ErrFull, midiio.ErrBuild, midiio.ErrNotLinux} {
		if errors.Is(err, why) {
			return true
		}
	}
	return false
}

type portJSON struct {
	Name    string   `json:"name"`
	Address string   `json:"address"`
	Chosen  bool     `json:"chosen"`
	Thru    *bool    `json:"thru,omitempty"`    // inputs only
	ThruTo  []string `json:"thru_to,omitempty"` // and the outputs that it goes to
	Piano   *bool    `json:"piano,omitempty"`   // outputs only: whether it carries the piano
	Bed     *bool    `json:"bed,omitempty"`     // and the bed
	Why     string   `json:"why"`
}

func portsJSON(w io.Writer, c midiio.Choice, sounds []string) error {
	list := func(verdicts []midiio.Verdict, in bool) []portJSON {
		out := []portJSON{}
		for _, v := range verdicts {
			p := portJSON{Name: v.Port.Name, Address: v.Port.Address, Chosen: v.Chosen, Why: v.Why}
			if piano, bed := v.Parts&midiio.PianoPart != 0, v.Parts&midiio.BedPart != 0; in {
				p.Thru = &v.Thru
				for i, o := range midiio.Chosen(c.Outs) {
					if v.Outs.Has(i) {
						p.ThruTo = append(p.ThruTo, o.Port.Name)
					}
				}
			} else {
				p.Piano, p.Bed = &piano, &bed
			}
			out = append(out, p)
		}
		return out
	}
	if sounds == nil {
		sounds = []string{}
	}
	return json.NewEncoder(w).Encode(struct {
		Inputs  []portJSON `json:"inputs"`
		Outputs []portJSON `json:"outputs"`
		Sounds  []string   `json:"sound_inputs"` // for --listen
	}{list(c.Ins, true), list(c.Outs, false), sounds})
}

func portsText(w io.Writer, c midiio.Choice) error {
	if len(c.Ins)+len(c.Outs) == 0 {
		_, err := fmt.Fprintln(w, "no MIDI ports: plug in a device")
		return err
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, group := range []struct {
		way      midiio.Way
		verdicts []midiio.Verdict
	}{{midiio.In, c.Ins}, {midiio.Out, c.Outs}} {
		for _, v := range group.verdicts {
			taken := "-"
			if v.Chosen {
				taken = "takes"
			}
			fmt.Fprintf(t, "%v\t%s\t%s\t%s\t%s\n", group.way, taken, v.Port.Name, v.Port.Address, v.Why)
		}
	}
	return t.Flush()
}
