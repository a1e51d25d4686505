package main

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"bedd/internal/gathering"
	"bedd/internal/midiio"

	"github.com/spf13/cobra"
)

// midiFlags name MIDI ports.
type midiFlags struct {
	ins       []string
	insKeys   []string
	insFeet   []string
	outs      []string
	outsPiano []string
	outsBed   []string
	thru      string
	route     string
	driver    string
	baud      string
	virtual   bool
	noMIDI    bool
	noSetup   bool
	noGuard   bool
	noSensing bool

	rigIns, rigOuts bool     // the rig names them, no flag
	absent          []string // inputs of the rig's that are not there
}

// flags adds those that ports and play have in common.
func (f *midiFlags) flags(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringArrayVar(&f.ins, "in", nil, "a MIDI input, by a part of its name; may be given several times (default every device's)")
	flags.StringArrayVar(&f.insKeys, "in-keys", nil, "a MIDI input for the piano alone: what it sends is never a foot's")
	flags.StringArrayVar(&f.insFeet, "in-feet", nil, "a MIDI input for feet and pedal alone: nothing of it goes thru")
	flags.StringArrayVar(&f.outs, "out", nil, "a MIDI output for piano and bed, by a part of its name; may be given several times (default a device's, see bedd ports)")
	flags.StringArrayVar(&f.outsPiano, "out-piano", nil, "a MIDI output for the piano alone")
	flags.StringArrayVar(&f.outsBed, "out-bed", nil, "a MIDI output for the bed alone")
	flags.StringVar(&f.thru, "thru", "auto", "whether the piano goes on to the outputs: auto (but not back to its own device), on, off")
	flags.StringVar(&f.driver, "driver", "auto", "how to reach MIDI: alsa (the kernel's sequencer, on Linux), rtmidi (the portable library), auto (the best there is)")
}

// playFlags adds those that only play has.
func (f *midiFlags) playFlags(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringVar(&f.route, "route", "", "how the piano goes to the outputs: bedd (leaves out what is not for them), kernel (a connection that outlives bedd, with all that the keys send), auto (kernel where there is nothing to leave out); default the rig's")
	flags.StringVar(&f.baud, "baud", "auto", "the rate to keep to towards the outputs, in bits a second, so that no note of yours waits for the bed: auto (31250, a MIDI cable's, towards devices; none towards programs), off (none), or a number")
	flags.BoolVar(&f.virtual, "virtual", false, "make ports called bedd that other programs can connect to")
	flags.BoolVar(&f.noSetup, "no-setup", false, "send no programs and volumes at the start, whatever the rig says")
	flags.BoolVar(&f.noGuard, "no-guard", false, "start no second process that ends the notes and connects the piano if this one is killed")
	flags.BoolVar(&f.noSensing, "no-sensing", false, "send no Active Sensing, by which a synth falls silent when nothing comes any more")
	flags.BoolVar(&f.noMIDI, "no-midi", false, "leave MIDI ports alone")
}

// take takes a rig's ports where no flag names any in their direction.
func (f *midiFlags) take(p gathering.Ports, set func(flag string) bool) {
	if len(f.ins)+len(f.insKeys)+len(f.insFeet) == 0 {
		f.ins, f.insKeys, f.insFeet, f.rigIns = p.In, p.InKeys, p.InFeet, true
	}
	if len(f.outs)+len(f.outsPiano)+len(f.outsBed) == 0 {
		f.outs, f.outsPiano, f.outsBed, f.rigOuts = p.Out, p.OutPiano, p.OutBed, true
	}
	if !set("thru") {
		f.thru = p.Thru
	}
}

// wishes puts the flags into midiio's words.
func (f *midiFlags) wishes() (midiio.Wishes, error) {
	var w midiio.Wishes
	for _, group := range []struct {
		patterns []string
		role     midiio.Role
	}{{f.ins, midiio.AnyRole}, {f.insKeys, midiio.KeysRole}, {f.insFeet, midiio.FeetRole}} {
		for _, p := range group.patterns {
			w.Ins = append(w.Ins, midiio.InWish{Pattern: p, Role: group.role})
		}
	}
	for _, group := range []struct {
		patterns []string
		parts    midiio.Part
	}{{f.outs, midiio.AllParts}, {f.outsPiano, midiio.PianoPart}, {f.outsBed, midiio.BedPart}} {
		for _, p := range group.patterns {
			w.Outs = append(w.Outs, midiio.OutWish{Pattern: p, Parts: group.parts})
		}
	}
	switch f.thru {
	case "auto":
	case "on":
		w.Thru = midiio.ThruOn
	case "off":
		w.Thru = midiio.ThruOff
	default:
		return w, badInput{fmt.Errorf("--thru %q is not known: use auto, on or off", f.thru)}
	}
	if f.route != "" && !slices.Contains(gathering.Routes, f.route) {
		return w, badInput{fmt.Errorf("--route %q is not known: use %s", f.route, strings.Join(gathering.Routes, ", "))}
	}
	switch midiio.Driver(f.driver) {
	case midiio.DriverAuto, midiio.DriverALSA, midiio.DriverRtMidi:
	default:
		return w, badInput{fmt.Errorf("--driver %q is not known: use auto, alsa or rtmidi", f.driver)}
	}
	return w, nil
}

// The rates that --baud takes: from an old telephone line to ten times what serial
// ports are used for.
const minBaud, maxBaud = 1200, 10_000_000

// bauds gives what --baud says of an output, for [midiio.PortsConfig].
func (f *midiFlags) bauds() (func(midiio.PortInfo) int, error) {
	switch f.baud {
	case "auto":
		return func(p midiio.PortInfo) int {
			if p.Hardware() {
				return midiio.DINBaud
			}
			return 0
		}, nil
	case "off":
		return nil, nil
	}
	n, err := strconv.Atoi(f.baud)
	if err != nil || n < minBaud || n > maxBaud {
		return nil, badInput{fmt.Errorf("--baud %q is not known: use a number of bits a second in %d…%d, off or auto", f.baud, minBaud, maxBaud)}
	}
	return func(midiio.PortInfo) int { return n }, nil
}

// wants reports whether a flag asks for ports by name.
func (f *midiFlags) wants() bool {
	return len(f.ins)+len(f.insKeys)+len(f.insFeet)+len(f.outs)+len(f.outsPiano)+len(f.outsBed) > 0 || f.virtual
}

// choosePorts lists the machine's ports and decides which to take. The system is
// to be closed.
func (f *midiFlags) choosePorts(wishes midiio.Wishes) (midiio.System, midiio.Choice, error) {
	system, err := midiio.OpenSystem(midiio.Driver(f.driver))
	if err != nil {
		return nil, midiio.Choice{}, err
	}
	if f.rigIns {
		wishes.Ins = f.present(system, wishes.Ins)
	}
	choice, err := choose(system, wishes)
	if err != nil {
		system.Close()
		if f.rigOuts && errors.Is(err, midiio.ErrNoPort) {
			err = fmt.Errorf("the rig's ports: %w, or leave MIDI alone with --no-midi", err)
		}
		return nil, midiio.Choice{}, err
	}
	return system, choice, nil
}

// present leaves out the rig's inputs that are not there: whoever has no pedal tonight
// plays without it.
func (f *midiFlags) present(system midiio.System, wishes []midiio.InWish) (list []midiio.InWish) {
	ins, err := system.Ins()
	for _, w := range wishes {
		if _, missing := midiio.Match(midiio.In, ins, w.Pattern); err == nil && errors.Is(missing, midiio.ErrNoPort) {
			f.absent = append(f.absent, w.Pattern)
			continue
		}
		list = append(list, w)
	}
	return list
}

func choose(system midiio.System, wishes midiio.Wishes) (midiio.Choice, error) {
	inputs, err := system.Ins()
	if err != nil {
		return midiio.Choice{}, err
	}
	outputs, err := system.Outs()
	if err != nil {
		return midiio.Choice{}, err
	}
	return midiio.Choose(inputs, outputs, wishes)
}
