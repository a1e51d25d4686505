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

// errorOutput is what f and the libraries under it write to standard error.
func errorOutput(t *testing.T, f func()) string {
	t.Helper()
	file, err := os.Create(filepath.Join(t.TempDir(), "stderr"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	saved, err := syscall.Dup(syscall.Stderr)
	if err != nil {
		t.Fatal(err)
	}
	defer syscall.Close(saved)
	if err := syscall.Dup3(int(file.Fd()), syscall.Stderr, 0); err != nil {
		t.Fatal(err)
	}
	func() {
		defer func() { _ = syscall.Dup3(saved, syscall.Stderr, 0) }()
		f()
	}()
	text, err := os.ReadFile(file.Name())
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// What others write to standard error is kept off the screen meanwhile, and
// afterwards everything is as it was.
func TestStderrIsKeptOff(t *testing.T) {
	say := func(text string) { _, _ = syscall.Write(syscall.Stderr, []byte(text)) }
	got := errorOutput(t, func() {
		say("1 before. ")
		quietly(func() { say("2 in between. ") })
		say("3 after. ")
	})
	if want := "1 before. 3 after. "; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
