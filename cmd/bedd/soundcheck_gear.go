package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	"bedd/internal/linecheck"
	"bedd/internal/midiio"
)

// walk drives a line check by the clock, with ports and a player.
type walk struct {
	system midiio.System
	found  linecheck.Found
	steps  []linecheck.Step
	talk   io.Writer
	keep   func(linecheck.Found) error

	ports   *midiio.Ports
	outs    []*midiio.Output
	gear    linecheck.Gear
	check   *linecheck.Check
	changes chan midiio.Change
	passer  passer
	start   time.Time
}

// passer passes the keys on to an output, and ends what they hold when it stops.
type passer struct {
	mu   sync.Mutex
	out  *midiio.Output // nil: it passes on nothing
	in   int
	held [16][128]bool
	down [16]bool // dampers
}

func (p *passer) pass(in int, msg []byte) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.out == nil || in != p.in || len(msg) == 0 {
		return
	}
	if len(msg) == 3 {
		switch ch := msg[0] & 15; {
		case msg[0]&0xF0 == 0x90:
			p.held[ch][msg[1]] = msg[2] > 0
		case msg[0]&0xF0 == 0x80:
			p.held[ch][msg[1]] = false
		case msg[0]&0xF0 == 0xB0 && msg[1] == 64:
			p.down[ch] = msg[2] > 0
		}
	}
	p.out.Send(midiio.Player, msg)
}

func (p *passer) begin(in int, out *midiio.Output) {
	p.end()
	p.mu.Lock()
	defer p.mu.Unlock()
	p.in, p.out = in, out
}

func (p *passer) end() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.out == nil {
		return
	}
	for ch := range byte(16) {
		for n := range byte(128) {
			if p.held[ch][n] {
				p.out.Send(midiio.Ledger, []byte{0x80 | ch, n, 64})
			}
		}
		if p.down[ch] {
			p.out.Send(midiio.Ledger, []byte{0xB0 | ch, 64, 0})
		}
	}
	p.out, p.held, p.down = nil, [16][128]bool{}, [16]bool{}
}

// open opens every input that was chosen, and every device's output, or those that were
// named. What is in use by another program is told of and left out.
func (w *walk) open(choice midiio.Choice, named bool) error {
	w.start = time.Now()
	w.changes = make(chan midiio.Change, 64)
	tell := func(c midiio.Change) {
		select {
		case w.changes <- c:
		default:
		}
	}
	w.ports = midiio.NewPorts(midiio.PortsConfig{
		System: w.system, Clock: func() time.Duration { return time.Since(w.start) }, Lost: tell, Returned: tell,
	})
	fail := func(err error) error { w.ports.Close(); return err }
	for _, v := range midiio.Chosen(choice.Ins) {
		index := len(w.gear.Ins)
		_, err := w.ports.OpenIn(v.Port, func(_ time.Duration, msg []byte, _ midiio.Carried) { w.passer.pass(index, msg) })
		if errors.Is(err, midiio.ErrBusy) {
			fmt.Fprintln(w.talk, err)
			continue
		}
		if err != nil {
			return fail(err)
		}
		w.gear.Ins = append(w.gear.Ins, unique(v.Port, choice.Ins))
	}
	for _, v := range choice.Outs {
		if named && !v.Chosen || !named && !v.Port.Hardware() {
			continue
		}
		out, err := w.ports.OpenOut(v.Port)
		if errors.Is(err, midiio.ErrBusy) {
			fmt.Fprintln(w.talk, err)
			continue
		}
		if err != nil {
			return fail(err)
		}
		w.outs = append(w.outs, out)
		out.Sensing(v.Port.Hardware()) // if bedd dies in a tone, the synth ends it
		w.gear.Outs = append(w.gear.Outs, unique(v.Port, choice.Outs))
	}
	if len(w.gear.Ins) == 0 {
		return fail(errors.New("no MIDI input to check: plug in your keyboard and switches, or name an input with --in (bedd ports lists them)"))
	}
	w.check = linecheck.New(w.gear, w.found, w.steps...)
	return nil
}

// unique is a port's name, with its address where another has the same.
func unique(p midiio.PortInfo, others []midiio.Verdict) string {
	for _, o := range others {
		if o.Port.Name == p.Name && o.Port != p {
			return p.String()
		}
	}
	return p.Name
}

// run walks until all steps are done or the player ends it. It reports which.
func (w *walk) run(view prompter, signals <-chan os.Signal) (found linecheck.Found, finished bool, err error) {
	ctx, cancel := context.WithCancel(context.Background())
	var watched sync.WaitGroup
	watched.Go(func() { w.ports.Run(ctx) })
	watched.Go(func() { w.ports.Sense(ctx) })
	defer watched.Wait()
	defer cancel()

	w.ports.Listen(true)
	defer w.stop()
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	settled := -1
	for !w.check.Over() {
		view.show(w.check.Prompt())
		select {
		case <-tick.C:
			w.check.Advance(w.now())
		case <-w.ports.Wake():
			for m, input, ok := w.ports.Take(); ok; m, input, ok = w.ports.Take() {
				w.check.Hear(m.At, input, m.Bytes())
			}
		case c := <-w.changes:
			w.check.Moved(w.now(), c.Way == midiio.In, c.Index, c.Err != nil)
		case a, open := <-view.answers():
			if !open {
				return w.check.Found(), false, nil
			}
			w.check.Answer(w.now(), a)
		case <-signals:
			return w.check.Found(), false, nil
		}
		w.act()
		if found := w.check.Found(); len(found.Done)+len(found.Skipped) != settled {
			settled = len(found.Done) + len(found.Skipped)
			if err := w.keep(found); err != nil {
				return found, false, err
			}
		}
	}
	return w.check.Found(), true, nil
}

func (w *walk) now() time.Duration { return time.Since(w.start) }

// act does what the check wants done.
func (w *walk) act() {
	for _, a := range w.check.Acts() {
		switch a.Kind {
		case linecheck.Send:
			w.outs[a.Out].Send(midiio.Bed, a.Msg)
		case linecheck.ThruBegin:
			w.passer.begin(w.keys(), w.outs[a.Out])
		case linecheck.ThruEnd:
			w.passer.end()
		}
	}
}

// keys is the index of the keyboard's input.
func (w *walk) keys() int {
	if k := w.check.Found().Keys; k != nil {
		for i, name := range w.gear.Ins {
			if name == k.Input {
				return i
			}
		}
	}
	return -1
}

// stop ends what sounds.
func (w *walk) stop() {
	w.check.Stop()
	w.act()
	w.ports.Listen(false)
	w.passer.end()
}
