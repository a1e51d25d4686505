package main

import (
	"errors"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/journal"
	"bedd/internal/soundcheck"
)

// A talk played into one side of a loopback card is heard at its other side, through
// ALSA, while the bed plays; nothing of it is kept but what the bed was told.
func TestLabListening(t *testing.T) {
	needLab(t)
	defer unwired()
	l, dir := lane(0), t.TempDir()
	talk := filepath.Join(dir, "talk.wav")
	aTalk(t, talk, 0)
	if out, err := exec.Command(binary, "ports").CombinedOutput(); err != nil || !strings.Contains(string(out), "sound input for --listen: Loopback") {
		t.Fatalf("%v\n%s", err, out)
	}
	s, err := start(l.bedd(dir, "--listen=Loopback", "--journal", dir))
	if err != nil {
		t.Fatal(err)
	}
	defer s.cmd.Process.Kill()
	for s.lines.Scan() && !strings.Contains(s.lines.Text(), "listens to Virtual") { // first it listens to the sound input
	}
	time.Sleep(time.Second)
	if err := l.send("B0 50 7F B0 50 00"); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("aplay", "-q", "-D", "plughw:Loopback,1,0", talk, talk, talk).CombinedOutput(); err != nil {
		t.Fatalf("aplay: %v\n%s", err, out)
	}
	if err := s.cmd.Process.Signal(syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	said, err := s.rest()
	if err != nil {
		t.Fatalf("%v\n%s", err, strings.Join(said, "\n"))
	}
	list, err := journal.Sessions(dir)
	if err != nil || len(list) != 1 {
		t.Fatal(list, err)
	}
	r, err := journal.Open(list[0].Path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var rec journal.Record
	first, told := time.Duration(0), 0
	for err = r.Next(&rec); err == nil; err = r.Next(&rec) {
		if rec.Kind == journal.Called && rec.Event.Kind == bed.VoiceHeard {
			if told++; told == 1 {
				first = rec.At
			}
		}
	}
	if !errors.Is(err, io.EOF) {
		t.Fatal(err)
	}
	t.Logf("the bed was told of a voice %d times, first after %v", told, first.Round(time.Millisecond))
	if told < 5 {
		t.Errorf("the bed was told of a voice %d times\n%s", told, strings.Join(said, "\n"))
	}
	files, err := os.ReadDir(dir)
	for _, f := range files {
		if !f.IsDir() && f.Name() != "talk.wav" && filepath.Ext(f.Name()) == ".wav" || err != nil {
			t.Errorf("something was recorded: %v, %v", f, err)
		}
	}
}

// The sound check hears a voice through the input that is named as loud as it is in the
// recording.
func TestLabVoiceThroughTheInput(t *testing.T) {
	needLab(t)
	talk := filepath.Join(t.TempDir(), "talk.wav")
	aTalk(t, talk, 0)
	file, err := soundcheck.HearFile(talk)
	if err != nil {
		t.Fatal(err)
	}
	player := exec.Command("aplay", "-q", "-D", "plughw:Loopback,1,0", talk, talk)
	if err := player.Start(); err != nil {
		t.Fatal(err)
	}
	defer player.Wait()
	heard, err := hearInput(io.Discard, "Loopback", 8, "the talk")
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%.1f LUFS through the input, %.1f in the file", heard.LUFS, file.LUFS)
	if math.Abs(heard.LUFS-file.LUFS) > 1 { // of other parts of the talk
		t.Errorf("%.1f LUFS through the input, %.1f in the file", heard.LUFS, file.LUFS)
	}
	if _, err := hearInput(io.Discard, "no such input", 5, ""); err == nil || !strings.Contains(err.Error(), `no sound input matches "no such input"`) {
		t.Errorf("an input that is not there: %v", err)
	}
}
