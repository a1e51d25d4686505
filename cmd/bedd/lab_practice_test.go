package main

import (
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"bedd/internal/progress"
)

// On a real keyboard's port, without a terminal: a key that is struck begins, the chord
// is judged, and a kill in the next task keeps both.
func TestLabPractice(t *testing.T) {
	needLab(t)
	defer unwired()
	l, dir := lane(0), t.TempDir()
	cmd := exec.Command(binary, "practice", "--in", l.in(), "--out", l.out(), "--exercise", "any-key", "--key", "D", "--seed", "5", "--time", "2", "--journal", dir)
	cmd.Env = append(os.Environ(), "XDG_RUNTIME_DIR="+t.TempDir())
	sounds, err := l.record()
	if err != nil {
		t.Fatal(err)
	}
	s, err := start(cmd)
	if err != nil {
		t.Fatal(err)
	}
	defer cmd.Process.Kill()
	step := func(hex string) {
		t.Helper()
		if err := l.send(hex); err != nil {
			t.Fatal(err)
		}
	}
	step("90 3E 40 80 3E 40") // begins
	time.Sleep(6500 * time.Millisecond)
	step("90 26 32 90 3E 32 90 42 32 90 45 32") // D2, D4 F#4 A4
	time.Sleep(21 * time.Second)
	step("80 26 40 80 3E 40 80 42 40 80 45 40")
	step("B0 50 7F B0 50 00") // the foot: onward
	time.Sleep(4 * time.Second)
	step("90 3E 40 80 3E 40")
	time.Sleep(3 * time.Second)
	if err := cmd.Process.Signal(syscall.SIGKILL); err != nil {
		t.Fatal(err)
	}
	said, _ := s.rest()
	sounds.silent()
	if left := hanging(sounds.stop()); len(left) > 0 {
		t.Errorf("still sounding: %v", left)
	}
	h := progress.Read(dir)
	if len(h.Attempts) != 2 || len(h.Troubles) > 0 {
		t.Fatalf("%+v\n%s", h, strings.Join(said, "\n"))
	}
	if a := h.Attempts[0]; !a.Whole || a.Key != "D" || a.Mark < 0.5 {
		t.Errorf("%+v\n%s", a, strings.Join(said, "\n"))
	}
	if h.Attempts[1].Whole {
		t.Errorf("%+v", h.Attempts[1])
	}
}
