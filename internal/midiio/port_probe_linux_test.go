package midiio

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

func TestSequencerError(t *testing.T) {
	for _, c := range []struct {
		errno error
		want  error
	}{
		{syscall.ENOENT, ErrNoSequencer},
		{syscall.ENODEV, ErrNoSequencer},
		{syscall.ENXIO, ErrNoSequencer},
		{syscall.EACCES, ErrPermission},
		{syscall.EPERM, ErrPermission},
		{syscall.ENOMEM, ErrFull},
	} {
		if got := sequencerError(&fs.PathError{Op: "open", Path: sequencerPath, Err: c.errno}); got != c.want {
			t.Errorf("%v: %v, want %v", c.errno, got, c.want)
		}
	}
	err := sequencerError(&fs.PathError{Op: "open", Path: sequencerPath, Err: syscall.EIO})
	const want = "MIDI sequencer: open /dev/snd/seq: input/output error"
	if err.Error() != want || !errors.Is(err, syscall.EIO) {
		t.Errorf("got %v, want %s", err, want)
	}
}

// On a machine without a sequencer that is said, and nothing else happens.
func TestNoSequencerHere(t *testing.T) {
	if _, err := os.Stat(sequencerPath); err == nil {
		t.Skip("this machine has a sequencer")
	}
	if err := probe(); err != ErrNoSequencer {
		t.Errorf("probe: %v", err)
	}
	if err := whyNot(); err != ErrNoSequencer {
		t.Errorf("why: %v", err)
	}
}

// What others write to standard error is kept off the screen, and afterwards
// everything is as it was.
func TestStderrIsKeptOff(t *testing.T) {
	dir := t.TempDir()
	create := func(name string) *os.File {
		f, err := os.Create(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	say := func(text string) { _, _ = syscall.Write(syscall.Stderr, []byte(text)) }
	screen, log := create("screen"), create("log")
	terminal, err := DivertStderr(screen)
	if err != nil {
		t.Fatal(err)
	}
	say("1 before. ")
	quietly(func() { say("2 in between. ") })
	say("3 after. ")
	old, err := DivertStderr(log)
	if err != nil {
		t.Fatal(err)
	}
	say("4 driver. ")
	_, _ = old.WriteString("5 bedd. ")
	if _, err := DivertStderr(terminal); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{"screen": "1 before. 3 after. 5 bedd. ", "log": "4 driver. "} {
		if got, err := os.ReadFile(filepath.Join(dir, name)); string(got) != want {
			t.Errorf("%s: %q, %v, want %q", name, got, err, want)
		}
	}
}
