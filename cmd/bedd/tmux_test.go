//go:build unix

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// multiplexed is a shell in a window of tmux, 80 by 24.
type multiplexed struct {
	t      *testing.T
	socket string
	pause  time.Duration // from one look at the window to the next
}

func newMultiplexed(t *testing.T, pause time.Duration) *multiplexed {
	t.Helper()
	if _, err := exec.LookPath("tmux"); err != nil {
		t.Skip("no tmux: scripts/install brings it")
	}
	m := &multiplexed{t, filepath.Join(t.TempDir(), "s"), pause}
	m.tmux("new-session", "-d", "-s", "w", "-x", "80", "-y", "24", "env PS1='ready> ' sh")
	t.Cleanup(func() { m.tmux("kill-server") })
	m.sees("ready>")
	return m
}

// keys presses keys, by tmux's names for them.
func (m *multiplexed) keys(names ...string) {
	m.t.Helper()
	m.tmux(append([]string{"send-keys", "-t", "w"}, names...)...)
}

func (m *multiplexed) tmux(args ...string) string {
	m.t.Helper()
	out, err := exec.Command("tmux", append([]string{"-S", m.socket, "-f", os.DevNull}, args...)...).CombinedOutput()
	if err != nil {
		m.t.Fatalf("tmux %q: %v, %s", args, err, out)
	}
	return string(out)
}

// sees waits until the window shows each of some patterns.
func (m *multiplexed) sees(patterns ...string) {
	m.t.Helper()
	text := ""
	for start := time.Now(); time.Since(start) < 40*time.Second; {
		text = m.tmux("capture-pane", "-p", "-t", "w")
		all := true
		for _, p := range patterns {
			all = all && regexp.MustCompile(p).MatchString(text)
		}
		if all {
			return
		}
		time.Sleep(m.pause)
	}
	m.t.Fatalf("no %q in the window:\n%s", patterns, text)
}

// A player in tmux, as over SSH: keys, the list of keys while the window changes its
// size, another window in between, detached and attached, suspended, resumed, ended.
func TestPlayInTmux(t *testing.T) {
	m := newMultiplexed(t, 10*time.Millisecond)
	m.keys(binary+" play --no-midi --no-sound --key Eb", "Enter")
	m.sees("in Eb", "left foot: bring in", "silent")
	m.keys("C-z")
	m.sees("(?i)stopped", `(?m)^ready>\s*\z`)
	m.keys("fg", "Enter")
	m.sees("left foot: bring in")
	m.keys("Space")
	m.sees("left foot: next ▸ Ab", "holding")
	m.keys("?")
	m.sees("space step", "closes this list")
	for _, size := range [][2]string{{"20", "5"}, {"132", "43"}, {"44", "12"}} {
		m.tmux("resize-window", "-t", "w", "-x", size[0], "-y", size[1])
		m.sees("closes this list|space step", "Eb  next ▸ Ab")
	}
	m.keys("?")
	m.sees("left foot: next ▸ Ab")
	m.tmux("resize-window", "-t", "w", "-x", "80", "-y", "24")
	m.tmux("new-window", "-t", "w")
	m.tmux("last-window", "-t", "w")
	m.sees("left foot: next ▸ Ab", "C5", "[●◆]Eb")
	m.keys("Tab", "Tab", "Escape")
	m.sees("last: out-now")
	m.keys("C-c")
	m.sees("leaving; what was recorded", `(?m)^ready>\s*\z`)
	if text := m.tmux("capture-pane", "-p", "-t", "w"); strings.Contains(text, "left foot") {
		t.Errorf("it leaves behind:\n%s", text)
	}
	m.keys("stty -a | tr ' ' '\\n' | grep -E 'icanon|^-?echo;?$|^-?isig'", "Enter") // POSIX, stty
	m.sees(`(?m)^isig$`, `(?m)^icanon$`, `(?m)^echo$`)
	if alt := m.tmux("display-message", "-p", "-t", "w", "#{alternate_on} #{cursor_flag}"); alt != "0 1\n" {
		t.Errorf("alternate screen and cursor: %s", alt)
	}
}

// Listening to a recorded talk by the clock: what is heard is to be seen.
func TestListeningInTmux(t *testing.T) {
	talk := filepath.Join(t.TempDir(), "talk.wav")
	aTalk(t, talk, 0)
	m := newMultiplexed(t, 10*time.Millisecond)
	play := binary + " play --no-midi --no-sound --key Eb --journal off --listen-file " + talk
	m.keys(play, "Enter")
	m.sees("in Eb", "silent")
	m.keys("Space")
	m.sees("holding", "hears: speech, 0")
	m.sees("listening, ")
	m.keys("C-c")
	m.sees("leaving; what was recorded", `(?m)^ready>\s*\z`)
	m.keys("clear; "+play+" --lines", "Enter")
	m.sees("silent  hears: a voice")
	m.keys("C-c")
	m.sees("leaving; what was recorded", `(?m)^ready>\s*\z`)
}
