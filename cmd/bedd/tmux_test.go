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

// multiplexed is bedd play in a window of tmux.
type multiplexed struct {
	t      *testing.T
	socket string
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
	for range 2000 {
		text = m.tmux("capture-pane", "-p", "-t", "w")
		all := true
		for _, p := range patterns {
			all = all && regexp.MustCompile(p).MatchString(text)
		}
		if all {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	m.t.Fatalf("no %q in the window:\n%s", patterns, text)
}

// A player in tmux, as over SSH: keys, the list of keys while the window changes its
// size, another window in between, detached and attached, suspended, resumed, ended.
func TestPlayInTmux(t *testing.T) {
	if _, err := exec.LookPath("tmux"); err != nil {
		t.Skip("no tmux: scripts/install brings it")
	}
	m := &multiplexed{t, filepath.Join(t.TempDir(), "s")}
	m.tmux("new-session", "-d", "-s", "w", "-x", "80", "-y", "24", "env PS1='ready> ' sh")
	t.Cleanup(func() { m.tmux("kill-server") })
	m.sees("ready>")
	m.tmux("send-keys", "-t", "w", binary+" play --no-midi --no-sound --key Eb", "Enter")
	m.sees("in Eb", "left foot: bring in", "silent")
	m.tmux("send-keys", "-t", "w", "C-z")
	m.sees("(?i)stopped", `(?m)^ready>\s*\z`)
	m.tmux("send-keys", "-t", "w", "fg", "Enter")
	m.sees("left foot: bring in")
	m.tmux("send-keys", "-t", "w", "Space")
	m.sees("left foot: next ▸ Ab", "holding")
	m.tmux("send-keys", "-t", "w", "?")
	m.sees("space step", "closes this list")
	for _, size := range [][2]string{{"20", "5"}, {"132", "43"}, {"44", "12"}} {
		m.tmux("resize-window", "-t", "w", "-x", size[0], "-y", size[1])
		m.sees("closes this list|space step", "Eb  next ▸ Ab")
	}
	m.tmux("send-keys", "-t", "w", "?")
	m.sees("left foot: next ▸ Ab")
	m.tmux("resize-window", "-t", "w", "-x", "80", "-y", "24")
	m.tmux("new-window", "-t", "w")
	m.tmux("last-window", "-t", "w")
	m.sees("left foot: next ▸ Ab", "C5", "[●◆]Eb")
	m.tmux("send-keys", "-t", "w", "Tab", "Tab", "Escape")
	m.sees("last: out-now")
	m.tmux("send-keys", "-t", "w", "C-c")
	m.sees("leaving; what was recorded", `(?m)^ready>\s*\z`)
	if text := m.tmux("capture-pane", "-p", "-t", "w"); strings.Contains(text, "left foot") {
		t.Errorf("it leaves behind:\n%s", text)
	}
	m.tmux("send-keys", "-t", "w", "stty -a | tr ' ' '\\n' | grep -E 'icanon|^-?echo;?$|^-?isig'", "Enter") // POSIX, stty
	m.sees(`(?m)^isig$`, `(?m)^icanon$`, `(?m)^echo$`)
	if alt := m.tmux("display-message", "-p", "-t", "w", "#{alternate_on} #{cursor_flag}"); alt != "0 1\n" {
		t.Errorf("alternate screen and cursor: %s", alt)
	}
}
