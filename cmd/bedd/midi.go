package main

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/guard"
	"bedd/internal/midiio"
	"bedd/internal/session"

	"github.com/spf13/cobra"
)

// midiFlags name MIDI ports.
type midiFlags struct {
	ins       []string
	outs      []string
	outsPiano []string
	outsBed   []string
	thru      string
	driver    string
	virtual   bool
	noMIDI    bool
	noSetup   bool
	noGuard   bool
}

// flags adds those that ports and play have in common.
func (f *midiFlags) flags(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringArrayVar(&f.ins, "in", nil, "a MIDI input, by a part of its name; may be given several times (default every device's)")
	flags.StringArrayVar(&f.outs, "out", nil, "a MIDI output for piano and bed, by a part of its name; may be given several times (default a device's, see bedd ports)")
	flags.StringArrayVar(&f.outsPiano, "out-piano", nil, "a MIDI output for the piano alone")
	flags.StringArrayVar(&f.outsBed, "out-bed", nil, "a MIDI output for the bed alone")
	flags.StringVar(&f.thru, "thru", "auto", "whether the piano goes on to the outputs: auto (but not back to its own device), on, off")
	flags.StringVar(&f.driver, "driver", "auto", "how to reach MIDI: alsa (the kernel's sequencer, on Linux), rtmidi (the portable library), auto (the best there is)")
}

// playFlags adds those that only play has.
func (f *midiFlags) playFlags(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.BoolVar(&f.virtual, "virtual", false, "make ports called bedd that other programs can connect to")
	flags.BoolVar(&f.noSetup, "no-setup", false, "send no programs and volumes at the start, whatever the rig says")
	flags.BoolVar(&f.noGuard, "no-guard", false, "start no second process that ends the notes if this one is killed")
	flags.BoolVar(&f.noMIDI, "no-midi", false, "leave MIDI ports alone")
}

// wishes puts the flags into midiio's words.
func (f *midiFlags) wishes() (midiio.Wishes, error) {
	w := midiio.Wishes{Ins: f.ins}
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
	switch midiio.Driver(f.driver) {
	case midiio.DriverAuto, midiio.DriverALSA, midiio.DriverRtMidi:
	default:
		return w, badInput{fmt.Errorf("--driver %q is not known: use auto, alsa or rtmidi", f.driver)}
	}
	return w, nil
}

// midiRig is the open ports of a live run.
type midiRig struct {
	system  midiio.System
	ports   *midiio.Ports
	outs    []session.Destination // none: the built-in sound alone
	opened  []*midiio.Output      // the same outputs as ports
	guard   *guard.Post           // nil without one
	ins     []*midiio.Input
	hears   []string // what it listens to, and why
	changes chan midiio.Change
	stop    context.CancelFunc
	stopped sync.WaitGroup
}

// wants reports whether a flag asks for ports by name.
func (f *midiFlags) wants() bool {
	return len(f.ins)+len(f.outs)+len(f.outsPiano)+len(f.outsBed) > 0 || f.virtual
}

// thruTo is what an input hands each message to, on its own thread: it goes
// straight on to some of the outputs.
type thruTo func(outs midiio.Outputs) func(at time.Duration, msg []byte)

// open opens the ports that the flags name, or those that bedd takes by itself.
// thru is handed each message on its input's own thread. Without ports, and
// where none were asked for, it says so on the screen and gives nil.
func (f *midiFlags) open(rig *gathering.Rig, clock func() time.Duration, screen *screen, thru thruTo, broken mishaps) (*midiRig, error) {
	wishes, err := f.wishes()
	if err != nil {
		return nil, err
	}
	if f.noMIDI {
		if f.wants() {
			return nil, badInput{errors.New("--no-midi excludes --in, --out, --out-piano, --out-bed and --virtual")}
		}
		return nil, nil
	}
	waitForGuards(screen)
	system, choice, err := f.choosePorts(wishes)
	if err != nil {
		if f.wants() {
			return nil, err
		}
		screen.line("no MIDI: " + err.Error())
		return nil, nil
	}
	r, err := f.connect(system, choice, wishes.Thru, rig, clock, screen, thru, broken)
	if err != nil || r != nil {
		return r, err
	}
	screen.line("no MIDI device")
	return nil, nil
}

// connect opens the chosen ports and looks after them from then on; where none is
// chosen nor made it gives nil. The system is closed with the rig.
func (f *midiFlags) connect(system midiio.System, choice midiio.Choice, wish midiio.ThruWish, rig *gathering.Rig, clock func() time.Duration, screen *screen, thru thruTo, broken mishaps) (*midiRig, error) {
	ctx, cancel := context.WithCancel(context.Background())
	r := &midiRig{system: system, changes: make(chan midiio.Change, 64), stop: cancel}
	tell := func(c midiio.Change) { // none may be lost; only this goroutine waits
		select {
		case r.changes <- c:
		case <-ctx.Done():
		}
	}
	r.ports = midiio.NewPorts(midiio.PortsConfig{
		System: system, Clock: clock, Lost: tell, Returned: tell, Mishap: broken.catch,
		BedChannels: bedChannels(rig), Rewrites: rig.Share || rig.Out != 0 || len(rig.Player.Aside) > 0,
	})
	if err := r.openChosen(choice, f.virtual, wish, screen, thru); err != nil {
		r.end()
		return nil, err
	}
	if len(r.ins) == 0 && len(r.outs) == 0 {
		r.end()
		return nil, nil
	}
	if len(r.outs) > 0 && !f.noGuard {
		r.startGuard(f.driver, screen)
	}
	r.stopped.Add(1)
	go func() {
		defer r.stopped.Done()
		defer broken.catch()
		r.ports.Run(ctx)
	}()
	return r, nil
}

// bedChannels are the channels on which nobody but the bed plays.
func bedChannels(rig *gathering.Rig) (list []uint8) {
	if !rig.Share {
		for _, l := range rig.Layers {
			list = append(list, l.Channel)
		}
	}
	return list
}

func (r *midiRig) openChosen(choice midiio.Choice, virtual bool, wish midiio.ThruWish, screen *screen, thru thruTo) error {
	for _, v := range midiio.Chosen(choice.Outs) {
		out, err := r.ports.OpenOut(v.Port)
		if err != nil {
			return err
		}
		r.addOut(out, v.Parts)
		screen.line("sends " + carried(v.Parts) + " to " + v.Port.Name + ": " + v.Why)
	}
	var open midiio.Outputs // what the virtual output adds for every input
	if virtual {
		out, err := r.ports.VirtualOut("bedd")
		if err != nil {
			return err
		}
		parts := midiio.AllParts
		if wish == midiio.ThruOff {
			parts = midiio.BedPart
		}
		open = 1 << len(r.outs)
		r.addOut(out, parts)
	}
	for _, v := range midiio.Chosen(choice.Ins) {
		in, err := r.ports.OpenIn(v.Port, thru(v.Outs|open))
		if err != nil {
			return err
		}
		r.ins = append(r.ins, in)
		r.hears = append(r.hears, "listens to "+v.Port.Name+": "+v.Why)
	}
	if !virtual {
		return nil
	}
	in, err := r.ports.VirtualIn("bedd", thru(^midiio.Outputs(0)))
	if err != nil {
		return err
	}
	r.ins = append(r.ins, in)
	r.hears = append(r.hears, "other programs can connect to the ports called bedd")
	return nil
}

// listen lets in what arrives, and says so.
func (r *midiRig) listen(screen *screen) {
	r.ports.Listen(true)
	for _, line := range r.hears {
		screen.line(line)
	}
}

func (r *midiRig) addOut(out *midiio.Output, parts midiio.Part) {
	r.outs = append(r.outs, session.Destination{Port: out, Parts: parts})
	r.opened = append(r.opened, out)
}

// carried says what an output carries.
func carried(p midiio.Part) string {
	switch p {
	case midiio.PianoPart:
		return "the piano"
	case midiio.BedPart:
		return "the bed"
	}
	return "piano and bed"
}

// close ends the ports; everything that sounded must have been ended before. It
// tells what was missed.
func (r *midiRig) close(screen *screen) {
	r.end()
	if r.guard != nil {
		if err := r.guard.Dismiss(); err != nil {
			screen.line("the guard did not hear that all is well: " + err.Error())
		}
	}
	tell := func(port midiio.PortInfo, n uint64, what string) {
		if n > 0 {
			screen.line(fmt.Sprintf("%s: %d %s", port.Name, n, what))
		}
	}
	for _, in := range r.ins {
		tell(in.Port(), in.Dropped(), "messages came faster than the bed could take")
		tell(in.Port(), in.TooLong(), "SysEx were too long and left out")
		tell(in.Port(), in.Broken(), "messages arrived in part and were left out")
	}
	for _, out := range r.opened {
		tell(out.Port(), out.Refused(), "messages were too long and left out")
		tell(out.Port(), out.Delayed(), "messages had to wait: it takes them too slowly")
		tell(out.Port(), out.LeftOut(), "messages were left out: it takes them too slowly")
		tell(out.Port(), out.Overruns(), "times messages were lost that came faster than it takes them")
	}
}

func (r *midiRig) end() {
	r.stop()
	r.stopped.Wait()
	r.ports.Close()
	r.system.Close()
}

// choosePorts lists the machine's ports and decides which to take. The system is
// to be closed.
func (f *midiFlags) choosePorts(wishes midiio.Wishes) (midiio.System, midiio.Choice, error) {
	system, err := midiio.OpenSystem(midiio.Driver(f.driver))
	if err != nil {
		return nil, midiio.Choice{}, err
	}
	choice, err := choose(system, wishes)
	if err != nil {
		system.Close()
		return nil, midiio.Choice{}, err
	}
	return system, choice, nil
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

// changed carries out the loss or the return of a port.
func (r *midiRig) changed(c midiio.Change, now time.Duration, s *session.Session, screen *screen) {
	if c.Err != nil {
		screen.line(fmt.Sprintf("%v %s: %v", c.Way, c.Port.Name, c.Err))
		if c.Way == midiio.Out {
			s.Lost(c.Index)
		} else {
			r.ins[c.Index].LetGo(s.Observe)
		}
		return
	}
	screen.line(fmt.Sprintf("%v %s is back", c.Way, c.Port.Name))
	if c.Way == midiio.Out {
		s.Returned(now, c.Index)
	}
}
