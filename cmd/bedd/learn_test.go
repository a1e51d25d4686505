package main

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"strings"
	"syscall"
	"testing"

	"bedd/internal/midiio"
	"bedd/internal/midiio/porttest"
)

// learning is a run of learn on a made-up machine.
type learning struct {
	t     *testing.T
	talk  *bufio.Scanner
	lines bytes.Buffer
	done  chan error
}

func newLearning(t *testing.T, system midiio.System, inputs ...midiio.PortInfo) *learning {
	choice, err := midiio.Choose(inputs, nil, midiio.Wishes{})
	if err != nil {
		t.Fatal(err)
	}
	from, to := io.Pipe()
	l := &learning{t: t, talk: bufio.NewScanner(from), done: make(chan error, 1)}
	go func() {
		err := learn(system, midiio.Chosen(choice.Ins), &l.lines, to)
		to.Close()
		l.done <- err
	}()
	return l
}

// says waits for the next lines that are told to the player.
func (l *learning) says(want ...string) {
	l.t.Helper()
	for _, w := range want {
		if !l.talk.Scan() || l.talk.Text() != w {
			l.t.Fatalf("it says %q, want %q", l.talk.Text(), w)
		}
	}
}

// end sends the signal and gives the lines.
func (l *learning) end(s syscall.Signal, last ...string) string {
	l.t.Helper()
	if err := syscall.Kill(syscall.Getpid(), s); err != nil {
		l.t.Fatal(err)
	}
	l.says(last...)
	if l.talk.Scan() {
		l.t.Errorf("it also says %q", l.talk.Text())
	}
	if err := <-l.done; err != nil {
		l.t.Error(err)
	}
	return l.lines.String()
}

// A switch is pressed and a pedal moved: what is said and printed is what the
// help shows, whichever signal ends it.
func TestLearnIsAsTheHelpShows(t *testing.T) {
	help := bedd(t, "ports", "--help").stdout
	for _, s := range []syscall.Signal{syscall.SIGINT, syscall.SIGTERM} {
		var machine porttest.System
		board := machine.Plug(midiio.PortInfo{Way: midiio.In, Name: "Foot Board"})
		l := newLearning(t, &machine, board)
		said := []string{
			"listens to Foot Board",
			"press each switch twice, briefly, with a second between",
			"move the pedal from heel down to toe down; ctrl-c ends",
			"controller 80 on channel 1",
			"controller 11 on channel 1",
		}
		l.says(said[:3]...)
		machine.Play(board, 0xB0, 80, 127, 0xB0, 80, 0, 0xF8)
		l.says(said[3])
		for v := range byte(128) {
			machine.Play(board, 0xB0, 11, v)
		}
		l.says(said[4])
		lines := l.end(s)

		want := "  $ bedd ports --learn > my-rig.yaml\n"
		for _, line := range said {
			want += "  " + line + "\n"
		}
		want += "  ^C\n  $ cat my-rig.yaml\n"
		for line := range strings.Lines(lines) {
			want += "  " + line
		}
		if !strings.Contains(help, want) {
			t.Errorf("%v: the help shows\n%s\nbut it is\n%s", s, help, want)
		}
	}
}

// A board that is pulled out and comes back is learned from again; nothing to
// learn from is no failure.
func TestLearnThroughALoss(t *testing.T) {
	var machine porttest.System
	board := machine.Plug(midiio.PortInfo{Way: midiio.In, Name: "Foot Board"})
	l := newLearning(t, &machine, board)
	l.says("listens to Foot Board", "press each switch twice, briefly, with a second between", "move the pedal from heel down to toe down; ctrl-c ends")
	machine.Unplug(board)
	l.says("input Foot Board: no longer there: check its cable and power")
	board = machine.Plug(board)
	l.says("input Foot Board is back")
	machine.Play(board, 0xE0, 0, 64)
	if lines := l.end(syscall.SIGINT, "nothing came that could be a switch or a pedal"); lines != "" {
		t.Errorf("it prints %q", lines)
	}
}

func TestLearnNeedsInputs(t *testing.T) {
	var machine porttest.System
	err := learn(&machine, nil, io.Discard, io.Discard)
	if want := "no MIDI input to learn from: plug in a device, or name an input with --in (bedd ports lists them)"; err == nil || err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
	board := machine.Plug(midiio.PortInfo{Way: midiio.In, Name: "Foot Board"})
	machine.Occupy(board, true)
	l := newLearning(t, &machine, board)
	if l.talk.Scan() {
		t.Errorf("it says %q", l.talk.Text())
	}
	if err := <-l.done; !errors.Is(err, midiio.ErrBusy) {
		t.Errorf("error %v, want busy", err)
	}
	if r := bedd(t, "ports", "--learn", "--json"); r.code != 2 || r.stderr != "bedd: --learn prints lines for a rig file: it goes without --json\n" {
		t.Errorf("exit %d, %q", r.code, r.stderr)
	}
}
