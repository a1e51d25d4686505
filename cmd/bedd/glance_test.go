//go:build unix

package main

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"bedd/internal/midiio/readback"

	"github.com/charmbracelet/x/ansi"
	"github.com/charmbracelet/x/vt"
	"github.com/creack/pty"
	"golang.org/x/term"
)

// played is bedd play in a terminal.
type played struct {
	t      *testing.T
	cmd    *exec.Cmd
	keys   *os.File
	modes  *os.File // the terminal's other side
	before *term.State
	screen *vt.SafeEmulator
	raw    *sent
	ended  chan error
}

// sent is all that a terminal has been sent.
type sent struct {
	mu   sync.Mutex
	data []byte
}

func (s *sent) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.data = append(s.data, p...)
	return len(p), nil
}

func (s *sent) text() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return string(s.data)
}

func (s *sent) has(words string) bool { return strings.Contains(s.text(), words) }

// inTerminal plays in a terminal of 80 by 24.
func inTerminal(t *testing.T, args ...string) *played {
	t.Helper()
	return inTerminalOf(t, "xterm-256color", args...)
}

// inTerminalOf plays in one of some kind.
func inTerminalOf(t *testing.T, kind string, args ...string) *played {
	t.Helper()
	own, tty, err := pty.Open()
	if err != nil {
		t.Skip("no pseudo-terminal:", err)
	}
	p := &played{t: t, keys: own, modes: tty, screen: vt.NewSafeEmulator(80, 24), raw: new(sent), ended: make(chan error, 1)}
	p.resize(80, 24)
	if p.before, err = term.GetState(int(tty.Fd())); err != nil {
		t.Fatal(err)
	}
	p.cmd = exec.Command(binary, append([]string{"play", "--no-midi", "--no-sound"}, args...)...)
	p.cmd.Env = append(os.Environ(), "TERM="+kind)
	p.cmd.Stdin, p.cmd.Stdout, p.cmd.Stderr = tty, tty, tty
	p.cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go io.Copy(io.MultiWriter(p.raw, p.screen), own)
	go io.Copy(own, p.screen) // what the terminal answers
	go func() { p.ended <- p.cmd.Wait() }()
	t.Cleanup(func() { p.cmd.Process.Kill(); own.Close(); tty.Close() })
	return p
}

func (p *played) resize(width, height int) {
	p.t.Helper()
	p.screen.Resize(width, height)
	if err := pty.Setsize(p.keys, &pty.Winsize{Cols: uint16(width), Rows: uint16(height)}); err != nil {
		p.t.Fatal(err)
	}
}

func (p *played) press(keys string) {
	p.t.Helper()
	if _, err := p.keys.WriteString(keys); err != nil {
		p.t.Fatal(err)
	}
}

// sees waits until the screen has each of some patterns.
func (p *played) sees(patterns ...string) {
	p.t.Helper()
	text := ""
	for range 2000 {
		text = ansi.Strip(p.screen.Render())
		all := true
		for _, pattern := range patterns {
			all = all && regexp.MustCompile(pattern).MatchString(text)
		}
		if all {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	p.t.Fatalf("no %q on the screen:\n%s", patterns, text)
}

// leaves waits for the end, and checks that the terminal is as it was.
func (p *played) leaves() {
	p.t.Helper()
	select {
	case err := <-p.ended:
		if err != nil {
			p.t.Error(err)
		}
	case <-time.After(20 * time.Second):
		p.t.Fatal("it does not end")
	}
	after, err := term.GetState(int(p.modes.Fd()))
	if err != nil {
		p.t.Fatal(err)
	}
	if *after != *p.before {
		p.t.Errorf("the terminal's modes are %+v, were %+v", after, p.before)
	}
	p.sees("leaving; what was recorded is being kept")
	p.isPlain()
}

// isPlain waits until the terminal shows its own screen and its cursor.
func (p *played) isPlain() {
	p.t.Helper()
	for range 2000 {
		if !p.screen.IsAltScreen() && !p.screen.CursorHidden() {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	p.t.Error("the terminal still shows the picture's screen, or hides its cursor")
}

// A player at a computer: the chord, the foot's next step, the list of keys, a
// terminal that changes its size, and the end.
func TestPlayInATerminal(t *testing.T) {
	p := inTerminal(t, "--key", "Eb")
	p.sees("in Eb", "left foot: bring in", "silent", "no MIDI port")
	p.press(" ")
	p.sees("left foot: next ▸ Ab", "holding", "last: to Eb")
	p.press(" ")
	p.sees("left foot: next ▸ Eb", "last: to Ab", "◆Ab")
	p.press("?")
	p.sees("space step", "closes this list")
	p.press("?s")
	p.sees("STAY", "last: stay on")
	p.press(" ")
	p.sees("! stay is on")
	p.press("\x1a")
	p.sees("stop it first")
	p.resize(44, 12)
	p.sees(`left foot: next ▸ Eb +.*\n.*holding`)
	p.resize(132, 45)
	p.sees("C8")
	p.press("\x03")
	p.leaves()
}

// However it is ended, the terminal is sane.
func TestTerminalIsSaneAfterEveryEnding(t *testing.T) {
	for _, s := range []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGQUIT} {
		t.Run(fmt.Sprint(s), func(t *testing.T) {
			p := inTerminal(t)
			p.press(" ")
			p.sees("holding")
			p.cmd.Process.Signal(s)
			p.leaves()
		})
	}
}

// Where no shell looks after bedd nothing can stop it, and the picture comes back at
// once. With one it is suspended and resumed in TestPlayInTmux.
func TestSuspendWithoutAShell(t *testing.T) {
	p := inTerminal(t)
	p.sees("silent")
	for range 2 {
		p.press("\x1a")
		p.isPlain()
		for i := 0; !p.screen.IsAltScreen(); i++ {
			if i == 2000 {
				t.Fatal("the picture does not come back")
			}
			time.Sleep(10 * time.Millisecond)
		}
		p.sees("silent")
	}
	p.press(" ")
	p.sees("holding")
	p.press("\x1a")
	p.sees("stop it first")
	p.press("\x03")
	p.leaves()
}

// A terminal that is closed under the picture ends the run, and the recording is kept.
func TestClosedTerminalKeepsTheRecording(t *testing.T) {
	file := filepath.Join(t.TempDir(), "kept.mid")
	p := inTerminal(t, "--midi", file)
	p.press(" ")
	p.sees("holding")
	p.keys.Close()
	select {
	case err := <-p.ended:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(20 * time.Second):
		t.Fatal("it does not end")
	}
	if notes := readback.Read(t, file); len(notes.Tracks) < 4 {
		t.Errorf("the recording has %d tracks", len(notes.Tracks))
	}
}

// Plain lines on a terminal, for whoever reads them aloud.
func TestPlainLinesOnATerminal(t *testing.T) {
	p := inTerminal(t, "--lines")
	p.press(" ")
	p.sees(`\d:\d\d\.\d  bring-in`, `> F`)
	if p.screen.IsAltScreen() {
		t.Error("it is a picture")
	}
	p.press("\x03")
	p.leaves()
}

// A dumb terminal gets lines, and nothing that it could not do; its keys are feet as
// anywhere.
func TestADumbTerminalGetsLines(t *testing.T) {
	for _, kind := range []string{"dumb", ""} {
		p := inTerminalOf(t, kind)
		p.sees("keys: ")
		p.press(" ")
		p.sees(`\d:\d\d\.\d  bring-in`)
		p.press("\x03")
		p.leaves()
		if p.raw.has("\x1b") {
			t.Errorf("TERM=%q: it gets escape sequences: %q", kind, p.raw.text())
		}
	}
}
