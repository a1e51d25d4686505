package main

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"bedd/internal/midiio"
	"bedd/internal/session"

	"github.com/spf13/cobra"
)

// midiFlags name MIDI ports.
type midiFlags struct {
	ins     []string
	out     string
	virtual bool
	noMIDI  bool
	noSetup bool
}

func (f *midiFlags) flags(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringArrayVar(&f.ins, "in", nil, "a MIDI input, by a part of its name; may be given several times (default every device's)")
	flags.StringVar(&f.out, "out", "", "the MIDI output, by a part of its name (default a device's, see bedd ports)")
	flags.BoolVar(&f.virtual, "virtual", false, "make ports called bedd that other programs can connect to")
	flags.BoolVar(&f.noSetup, "no-setup", false, "send no programs and volumes at the start, whatever the rig says")
	flags.BoolVar(&f.noMIDI, "no-midi", false, "leave MIDI ports alone")
}

// midiRig is the open ports of a live run.
type midiRig struct {
	ports   *midiio.Ports
	out     *midiio.Output // nil: the built-in sound alone
	ins     []*midiio.Input
	changes chan midiio.Change
	stop    context.CancelFunc
	stopped sync.WaitGroup
}

// wants reports whether a flag asks for ports by name.
func (f *midiFlags) wants() bool { return len(f.ins) > 0 || f.out != "" || f.virtual }

// open opens the ports that the flags name, or those that bedd takes by itself.
// thru is handed each message on its input's own thread. Without ports, and
// where none were asked for, it says so on the screen and gives nil.
func (f *midiFlags) open(clock func() time.Duration, screen *screen, thru func(at time.Duration, msg []byte)) (*midiRig, error) {
	if f.noMIDI {
		if f.wants() {
			return nil, badInput{errors.New("--no-midi excludes --in, --out and --virtual")}
		}
		return nil, nil
	}
	system, choice, err := choosePorts(f.ins, f.out)
	if err != nil {
		if f.wants() {
			return nil, err
		}
		screen.line("no MIDI: " + err.Error())
		return nil, nil
	}
	ctx, cancel := context.WithCancel(context.Background())
	r := &midiRig{changes: make(chan midiio.Change, 64), stop: cancel}
	tell := func(c midiio.Change) { // none may be lost; only this goroutine waits
		select {
		case r.changes <- c:
		case <-ctx.Done():
		}
	}
	r.ports = midiio.NewPorts(midiio.PortsConfig{
		System: system, Clock: clock, Lost: tell, Returned: tell,
	})
	if err := r.openChosen(choice, f.virtual, screen, thru); err != nil {
		cancel()
		r.ports.Close()
		return nil, err
	}
	if len(r.ins) == 0 && r.out == nil {
		screen.line("no MIDI device")
		cancel()
		r.ports.Close()
		return nil, nil
	}
	r.stopped.Add(1)
	go func() {
		defer r.stopped.Done()
		r.ports.Run(ctx)
	}()
	return r, nil
}

func (r *midiRig) openChosen(choice midiio.Choice, virtual bool, screen *screen, thru func(time.Duration, []byte)) error {
	for _, v := range midiio.Chosen(choice.Outs) {
		out, err := r.ports.OpenOut(v.Port)
		if err != nil {
			return err
		}
		r.out = out
		screen.line("sends to " + v.Port.Name + ": " + v.Why)
	}
	for _, v := range midiio.Chosen(choice.Ins) {
		through := thru
		if !v.Thru {
			through = nil
		}
		in, err := r.ports.OpenIn(v.Port, through)
		if err != nil {
			return err
		}
		r.ins = append(r.ins, in)
		screen.line("listens to " + v.Port.Name + ": " + v.Why)
	}
	if !virtual {
		return nil
	}
	in, err := r.ports.VirtualIn("bedd", thru)
	if err != nil {
		return err
	}
	r.ins = append(r.ins, in)
	if r.out == nil {
		out, err := r.ports.VirtualOut("bedd")
		if err != nil {
			return err
		}
		r.out = out
	}
	screen.line("other programs can connect to the ports called bedd")
	return nil
}

// close ends the ports; everything that sounded must have been ended before. It
// tells what was missed.
func (r *midiRig) close(screen *screen) {
	for _, in := range r.ins {
		for _, miss := range []struct {
			n    uint64
			what string
		}{{in.Dropped(), "messages came faster than the bed could take"}, {in.TooLong(), "SysEx were too long and left out"}, {in.Broken(), "messages arrived in part and were left out"}} {
			if miss.n > 0 {
				screen.line(fmt.Sprintf("%s: %d %s", in.Port().Name, miss.n, miss.what))
			}
		}
	}
	r.stop()
	r.stopped.Wait()
	r.ports.Close()
}

// choosePorts lists the machine's ports and decides which to take.
func choosePorts(ins []string, out string) (midiio.System, midiio.Choice, error) {
	system, err := midiio.OpenSystem()
	if err != nil {
		return nil, midiio.Choice{}, err
	}
	inputs, err := system.Ins()
	if err != nil {
		return nil, midiio.Choice{}, err
	}
	outputs, err := system.Outs()
	if err != nil {
		return nil, midiio.Choice{}, err
	}
	var outs []string
	if out != "" {
		outs = []string{out}
	}
	choice, err := midiio.Choose(inputs, outputs, ins, outs)
	return system, choice, err
}

// changed carries out the loss or the return of a port.
func (r *midiRig) changed(c midiio.Change, now time.Duration, s *session.Session, screen *screen) {
	if c.Err != nil {
		screen.line(fmt.Sprintf("%v %s: %v", c.Way, c.Port.Name, c.Err))
		if c.Way == midiio.Out {
			s.Lost()
		} else {
			s.PlayerGone(now)
		}
		return
	}
	screen.line(fmt.Sprintf("%v %s is back", c.Way, c.Port.Name))
	if c.Way == midiio.Out {
		s.Lost() // whatever the device missed is owed
		s.Returned(now)
	}
}
