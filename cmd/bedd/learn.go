package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"sync"
	"syscall"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/midiio"
)

// learn listens to inputs until the player ends it, and prints what their
// switches and pedal send as lines of a rig file. What it tells the player goes
// to talk.
func learn(system midiio.System, inputs []midiio.Verdict, lines, talk io.Writer) error {
	if len(inputs) == 0 {
		return errors.New("no MIDI input to learn from: plug in a device, or name an input with --in (bedd ports lists them)")
	}
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer signal.Stop(signals)

	start := time.Now()
	changes := make(chan midiio.Change, 64)
	tell := func(c midiio.Change) {
		select {
		case changes <- c:
		default: // it is only told
		}
	}
	ports := midiio.NewPorts(midiio.PortsConfig{
		System: system, Clock: func() time.Duration { return time.Since(start) }, Lost: tell, Returned: tell,
	})
	defer ports.Close()
	for _, v := range inputs {
		if _, err := ports.OpenIn(v.Port, nil); err != nil {
			return err
		}
		fmt.Fprintln(talk, "listens to "+v.Port.Name)
	}
	ctx, cancel := context.WithCancel(context.Background())
	var watched sync.WaitGroup
	watched.Go(func() { ports.Run(ctx) })
	defer watched.Wait()
	defer cancel()

	ports.Listen(true)
	fmt.Fprintln(talk, "press each switch twice, briefly, with a second between")
	fmt.Fprintln(talk, "move the pedal from heel down to toe down; ctrl-c ends")
	var learner gathering.Learner
	hear := func() {
		for m, _, ok := ports.Take(); ok; m, _, ok = ports.Take() {
			if name := learner.Hear(m.At, m.Bytes()); name != "" {
				fmt.Fprintln(talk, name)
			}
		}
	}
	for {
		select {
		case <-ports.Wake():
			hear()
		case c := <-changes:
			if c.Err != nil {
				fmt.Fprintf(talk, "%v %s: %v\n", c.Way, c.Port.Name, c.Err)
			} else {
				fmt.Fprintf(talk, "%v %s is back\n", c.Way, c.Port.Name)
			}
		case <-signals:
			ports.Listen(false)
			hear()
			learned := learner.Lines()
			if learned == "" {
				fmt.Fprintln(talk, "nothing came that could be a switch or a pedal")
			}
			_, err := io.WriteString(lines, learned)
			return err
		}
	}
}
