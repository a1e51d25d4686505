//go:build unix

package glance

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	tea "charm.land/bubbletea/v2"
	"charm.land/lipgloss/v2"
	"github.com/creack/pty"
	"golang.org/x/sys/unix"
	"golang.org/x/term"
)

// pseudo is a terminal of 80 by 24 with somebody who reads it.
type pseudo struct {
	t        testing.TB
	own, tty *os.File // the side of the reader, and of the program
	mu       sync.Mutex
	sent     []byte
	changed  chan struct{}
}

func newPseudo(t testing.TB) *pseudo {
	t.Helper()
	os.Setenv("TERM", "xterm-256color")
	own, tty, err := pty.Open()
	if err != nil {
		t.Skip("no pseudo-terminal:", err)
	}
	if err := pty.Setsize(own, &pty.Winsize{Cols: 80, Rows: 24}); err != nil {
		t.Fatal(err)
	}
	p := &pseudo{t: t, own: own, tty: tty, changed: make(chan struct{}, 1)}
	t.Cleanup(func() { tty.Close(); own.Close() })
	return p
}

// read takes all that is written to the terminal.
func (p *pseudo) read() *pseudo {
	go func() {
		buf := make([]byte, 4096)
		for {
			n, err := p.own.Read(buf)
			if err != nil {
				return
			}
			p.mu.Lock()
			p.sent = append(p.sent, buf[:n]...)
			p.mu.Unlock()
			select {
			case p.changed <- struct{}{}:
			default:
			}
		}
	}()
	return p
}

// await waits until all of some words have been written.
func (p *pseudo) await(words ...string) {
	p.t.Helper()
	deadline := time.After(20 * time.Second)
	for {
		p.mu.Lock()
		there := true
		for _, w := range words {
			there = there && bytes.Contains(p.sent, []byte(w))
		}
		sent := string(p.sent)
		p.mu.Unlock()
		if there {
			return
		}
		select {
		case <-p.changed:
		case <-deadline:
			p.t.Fatalf("%q is not on the terminal: %q", words, sent)
		}
	}
}

func (p *pseudo) press(keys string) {
	p.t.Helper()
	if _, err := p.own.WriteString(keys); err != nil {
		p.t.Fatal(err)
	}
}

func (p *pseudo) open(out *os.File) *Terminal {
	p.t.Helper()
	term, err := OpenTerminal(p.tty, out, []string{"space step"}, func() {})
	if err != nil {
		p.t.Fatal(err)
	}
	return term
}

// The bytes are those of xterm (ECMA-48 control sequences) and the names those of
// rigs.
func TestTerminalNamesKeys(t *testing.T) {
	for sent, want := range map[string][]string{
		"a é":                       {"a", "space", "é"},
		"\r\t\x7f":                  {"enter", "tab", "backspace"},
		"\x1b[A\x1b[6~\x1bOP\x1b[H": {"up", "pagedown", "f1", "home"},
		"\x1b[15~x":                 {"f5", "x"},
		"\x1b[5~+":                  {"pageup", "+"},
		"\x1b[1;5Cx":                {"x"}, // control and right: not ours
		"\x03\x04":                  {Interrupt, Interrupt},
		"O":                         {"O"},
		"\x1b":                      {"esc"},
	} {
		p := newPseudo(t).read()
		term := p.open(p.tty)
		p.await("\x1b[?1049h") // it listens once it has the screen
		p.press(sent)
		var got []string
		for range want {
			select {
			case key := <-term.Keys():
				got = append(got, key.Name)
			case <-time.After(10 * time.Second):
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("%q gives %q, want %q", sent, got, want)
		}
		if err := term.Close(); err != nil {
			t.Error(err)
		}
	}
}

// TestHeldKeysAreTold by a terminal that tells repeats from presses (the kitty
// keyboard protocol, event types 1 and 2; from memory).
func TestHeldKeysAreTold(t *testing.T) {
	p := newPseudo(t).read()
	term := p.open(p.tty)
	defer term.Close()
	p.await("\x1b[?1049h")
	p.press("\x1b[97;1:1u\x1b[97;1:2u")
	for _, want := range []Key{{"a", false}, {"a", true}} {
		select {
		case got := <-term.Keys():
			if got != want {
				t.Errorf("got %v, want %v", got, want)
			}
		case <-time.After(10 * time.Second):
			t.Fatalf("%v does not come", want)
		}
	}
}

// TestTerminalIsLeftSane: the picture is on the alternate screen, the list of keys
// comes and goes, and in the end modes and screen are as before.
func TestTerminalIsLeftSane(t *testing.T) {
	p := newPseudo(t).read()
	before, err := term.GetState(int(p.tty.Fd()))
	if err != nil {
		t.Fatal(err)
	}
	terminal := p.open(p.tty)
	m := sample()
	terminal.Show(m)
	p.await("\x1b[?1049h", "left foot:", "Board LOST")
	p.press("?")
	p.await("closes this list")
	if err := terminal.Close(); err != nil {
		t.Error(err)
	}
	p.await("\x1b[?1049l", "\x1b[?25h")
	after, err := term.GetState(int(p.tty.Fd()))
	if err != nil {
		t.Fatal(err)
	}
	if *before != *after {
		t.Errorf("modes %+v, before %+v", after, before)
	}
	if err := terminal.Close(); err != nil {
		t.Errorf("closed twice: %v", err)
	}
}

// TestTerminalThatStopsHoldsUpNobody: nobody reads the terminal's other side. Show
// returns all the same, and Close after a while.
func TestTerminalThatStopsHoldsUpNobody(t *testing.T) {
	p := newPseudo(t)
	terminal := p.open(p.tty)
	m := sample()
	for i := range 10_000 {
		m.Title = strings.Repeat("x", i%70)
		terminal.Show(m)
	}
	if err := terminal.Close(); err != nil && !strings.Contains(err.Error(), "does not read") {
		t.Error(err)
	}
}

// TestTerminalHonoursNoColour: no colour where NO_COLOR is set (no-color.org).
func TestTerminalHonoursNoColour(t *testing.T) {
	for _, c := range []struct {
		value  string
		colour bool
	}{{"", true}, {"1", false}} {
		p := newPseudo(t)
		t.Setenv("NO_COLOR", c.value)
		p.read()
		terminal := p.open(p.tty)
		terminal.Show(sample())
		p.await("left foot:", "Board LOST")
		terminal.Close()
		p.mu.Lock()
		if got := bytes.Contains(p.sent, []byte("\x1b[38;")) || bytes.Contains(p.sent, []byte(";38;")); got != c.colour {
			t.Errorf("NO_COLOR=%q: colour %v", c.value, got)
		}
		p.mu.Unlock()
	}
}

// TestTerminalAsksForItsGround and takes dark ink on a light one (OSC 11 of xterm's
// control sequences); one that does not answer is taken for dark.
func TestTerminalAsksForItsGround(t *testing.T) {
	strong := func(p Palette) string { // SGR 38;2, ISO 8613-6
		r, g, b, _ := lipgloss.Color(p.Strong).RGBA()
		return fmt.Sprintf("38;2;%d;%d;%d", r>>8, g>>8, b>>8)
	}
	for answer, want := range map[string]Palette{"": Dark, "\x1b]11;rgb:0000/0000/0000\x07": Dark, "\x1b]11;rgb:ffff/fdfd/f0f0\x1b\\": Light} {
		p := newPseudo(t)
		t.Setenv("COLORTERM", "truecolor")
		t.Setenv("NO_COLOR", "")
		p.read()
		terminal := p.open(p.tty)
		p.await("\x1b]11;?")
		p.press(answer)
		terminal.Show(sample())
		p.await("left foot:", strong(want))
		terminal.Close()
	}
}

// TestTerminalWithoutScreen: where lines go elsewhere, it gives its keys and draws
// nothing.
func TestTerminalWithoutScreen(t *testing.T) {
	p := newPseudo(t).read()
	terminal := p.open(nil)
	terminal.Show(sample())
	for pressed := false; !pressed; { // nothing says when it listens
		p.press("?")
		select {
		case key := <-terminal.Keys():
			pressed = true
			if key.Name != "?" {
				t.Errorf("? is %q", key.Name)
			}
		case <-time.After(50 * time.Millisecond):
		}
	}
	terminal.Close()
	p.mu.Lock()
	defer p.mu.Unlock()
	if bytes.Contains(p.sent, []byte("left foot")) {
		t.Errorf("it draws: %q", p.sent)
	}
}

// TestTerminalSurvivesItsOwnMishap: a panic among the library's goroutines ends the
// picture and nothing else, and the terminal is sane.
func TestTerminalSurvivesItsOwnMishap(t *testing.T) {
	p := newPseudo(t).read()
	terminal := p.open(p.tty)
	p.await("\x1b[?1049h")
	terminal.program.Send(tea.BatchMsg{func() tea.Msg { panic("a mishap of the test's") }})
	<-terminal.Done()
	if err := terminal.Close(); !errors.Is(err, ErrMishap) {
		t.Errorf("it closes with %v", err)
	}
	p.await("\x1b[?1049l")
}

// BenchmarkTerminal shows a new picture thirty times a second, and reports how much of
// a core that takes, the reading side of the terminal included.
func BenchmarkTerminal(b *testing.B) {
	p := newPseudo(b).read()
	terminal := p.open(p.tty)
	defer terminal.Close()
	m := sample()
	used := func() time.Duration {
		var u unix.Rusage
		if err := unix.Getrusage(unix.RUSAGE_SELF, &u); err != nil {
			b.Fatal(err)
		}
		return time.Duration(u.Utime.Nano() + u.Stime.Nano())
	}
	tick := time.NewTicker(time.Second / perSecond)
	defer tick.Stop()
	before, start, i := used(), time.Now(), 0
	for b.Loop() {
		<-tick.C
		i++
		m.Intensity, m.Elapsed, m.FootAt = float64(i%100)/100, float64(i)/perSecond, float64(i)/perSecond
		if i%perSecond == 0 { // a chord a second
			m.Chord, m.Next = m.Next, m.Chord
		}
		terminal.Show(m)
	}
	b.ReportMetric(100*float64(used()-before)/float64(time.Since(start)), "%core")
}
