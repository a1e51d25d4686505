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
)

// midiRig is the open ports of a live run.
type midiRig struct {
	system  midiio.System
	ports   *midiio.Ports
	outs    []session.Destination // none: the built-in sound alone
	opened  []*midiio.Output      // the same outputs as ports
	guard   *guard.Post           // nil without one
	ins     []*midiio.Input
	roles   []midiio.Role // of the inputs
	routing *routing
	hears   []string // what it listens to, and why
	changes chan midiio.Change
	lost    map[lostPort]bool // those that are
	stop    context.CancelFunc
	stopped sync.WaitGroup
}

// lostPort is a port by its way and its place.
type lostPort struct {
	way   midiio.Way
	index int
}

// thruTo is what an input of some role hands each message to: it goes straight on
// to some of the outputs.
type thruTo func(outs midiio.Outputs, role midiio.Role) midiio.Thru

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
			return nil, badInput{errors.New("--no-midi excludes --in, --in-keys, --in-feet, --out, --out-piano, --out-bed and --virtual")}
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
	for _, name := range f.absent {
		screen.line("the rig's input " + name + " is not there: bedd goes without it; plug it in and start again")
	}
	return f.openOn(system, choice, wishes.Thru, rig, clock, screen, thru, broken)
}

// openOn is open on a system, of which a choice is to be taken.
func (f *midiFlags) openOn(system midiio.System, choice midiio.Choice, wish midiio.ThruWish, rig *gathering.Rig,
	clock func() time.Duration, screen *screen, thru thruTo, broken mishaps) (*midiRig, error) {
	bauds, err := f.bauds()
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithCancel(context.Background())
	r := &midiRig{system: system, routing: newRouting(system, f.route, rig, screen), changes: make(chan midiio.Change, 64), stop: cancel}
	tell := func(c midiio.Change) { // none may be lost; only this goroutine waits
		select {
		case r.changes <- c:
		case <-ctx.Done():
		}
	}
	r.ports = midiio.NewPorts(midiio.PortsConfig{
		System: system, Clock: clock, Baud: bauds, Lost: tell, Returned: tell, Mishap: broken.catch,
		Record: r.routing.keep, Carries: func(n midiio.Route) {
			select {
			case r.routing.news <- n:
			case <-ctx.Done():
			}
		},
		BedChannels: bedChannels(rig), Rewrites: rig.Share || rig.Out != 0 || len(rig.Player.Aside) > 0,
	})
	if err := r.openChosen(choice, f.virtual, wish, screen, thru); err != nil {
		r.end()
		return nil, err
	}
	for _, o := range r.opened { // a program that stops is told of by the system
		o.Sensing(rig.Sensing && !f.noSensing && o.Port().Hardware())
	}
	if len(r.ins) == 0 && len(r.outs) == 0 {
		screen.line("no MIDI device")
		r.end()
		return nil, nil
	}
	if len(r.outs) > 0 && !f.noGuard {
		r.startGuard(f.driver, screen)
	}
	for _, run := range []func(context.Context){r.ports.Run, r.ports.Sense} {
		r.stopped.Go(func() {
			defer broken.catch()
			run(ctx)
		})
	}
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
		in, err := r.ports.OpenIn(v.Port, thru(v.Outs|open, v.Role))
		if err != nil {
			return err
		}
		r.addIn(in, v.Role)
		for i, o := range midiio.Chosen(choice.Outs) {
			if !v.Outs.Has(i) {
				continue
			}
			if err := r.routing.add(r.ports, in, len(r.ins)-1, v.Role, i, o.Parts); err != nil {
				return err
			}
		}
		r.hears = append(r.hears, "listens to "+v.Port.Name+": "+v.Why)
	}
	if !virtual {
		return nil
	}
	in, err := r.ports.VirtualIn("bedd", thru(^midiio.Outputs(0), midiio.AnyRole))
	if err != nil {
		return err
	}
	r.addIn(in, midiio.AnyRole)
	r.hears = append(r.hears, "other programs can connect to the ports called bedd")
	return nil
}

func (r *midiRig) addIn(in *midiio.Input, role midiio.Role) {
	r.ins = append(r.ins, in)
	r.roles = append(r.roles, role)
}

// deafen ends the piano's connections and lets in nothing more.
func (r *midiRig) deafen() {
	r.routing.close(r.ports)
	r.ports.Listen(false)
}

// heard takes note of what has come from an input, for the guard.
func (r *midiRig) heard(input int, feet bool, msg []byte) {
	if r.guard != nil {
		r.guard.Board.Heard(input, feet, msg)
	}
}

// echo ends what goes past bedd, which cannot cut an echo there.
func (r *midiRig) echo() {
	if err := r.ports.Disconnect(); err != nil {
		r.routing.screen.line(err.Error())
	}
	if r.guard != nil {
		r.guard.Board.Echo()
	}
}

// listen lets in what arrives, and says so.
func (r *midiRig) listen(screen *screen) {
	r.ports.Listen(true)
	r.routing.takeOver(r.system, r.ports, r.ins)
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
		tell(in.Port(), in.Thinned(), "values were left out, since their control sent too many: newer ones passed")
		tell(in.Port(), in.Dropped(), "messages came faster than the bed could take")
		tell(in.Port(), in.TooLong(), "SysEx were too long and left out")
		tell(in.Port(), in.Broken(), "messages arrived in part and were left out")
	}
	for _, out := range r.opened {
		if l, paced := out.Load(); paced && l.Bytes > 0 {
			screen.line(out.Port().Name + ": " + busiest(l))
		}
		tell(out.Port(), out.Refused(), "messages were too long and left out")
		tell(out.Port(), out.Delayed(), "messages had to wait: it takes them too slowly")
		tell(out.Port(), out.LeftOut(), "messages were left out: it takes them too slowly")
		tell(out.Port(), out.Overruns(), "times messages were lost that came faster than it takes them")
	}
}

func (r *midiRig) end() {
	r.routing.close(r.ports)
	r.stop()
	r.stopped.Wait()
	r.ports.Close()
	r.system.Close()
}

// changed carries out the loss or the return of a port.
func (r *midiRig) changed(c midiio.Change, now time.Duration, s *session.Session, screen *screen) {
	if r.lost == nil {
		r.lost = map[lostPort]bool{}
	}
	r.lost[lostPort{c.Way, c.Index}] = c.Err != nil
	if c.Err != nil {
		screen.line(fmt.Sprintf("%v %s: %v", c.Way, c.Port.Name, c.Err))
		if c.Way == midiio.Out {
			s.Lost(c.Index)
		} else {
			role := r.roles[c.Index]
			r.ins[c.Index].LetGo(func(at time.Duration, msg []byte) { s.Observe(at, msg, role) })
		}
		return
	}
	screen.line(fmt.Sprintf("%v %s is back", c.Way, c.Port.Name))
	if c.Way == midiio.Out {
		s.Returned(now, c.Index)
	}
}
