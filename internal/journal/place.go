package journal

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"
)

// DefaultDir is where this user's journals are: on Unix bedd/journal in
// $XDG_STATE_HOME, or in ~/.local/state where that is not set to a full path (XDG
// Base Directory Specification 0.8); on macOS and Windows in the system's place
// for a program's own files.
func DefaultDir() (string, error) {
	var base string
	var err error
	switch state := os.Getenv("XDG_STATE_HOME"); {
	case runtime.GOOS == "windows":
		base, err = os.UserCacheDir()
	case runtime.GOOS == "darwin":
		base, err = os.UserConfigDir()
	case filepath.IsAbs(state):
		base = state
	default:
		if base, err = os.UserHomeDir(); err == nil {
			base = filepath.Join(base, ".local", "state")
		}
	}
	if err != nil {
		return "", fmt.Errorf("there is no place for a journal: %w", err)
	}
	return filepath.Join(base, "bedd", "journal"), nil
}

// A journal's name is when it began, in UTC, so that names stand in the order of
// time: 2026-11-26T193005Z.jsonl, and with -2, -3 … where others began in that second.
const (
	stamp     = "2006-01-02T150405Z"
	extension = ".jsonl"
	mostAlike = 100
)

// Session is a journal in a folder.
type Session struct {
	Name  string // without the ending
	Path  string
	Began time.Time // to the second
	Size  int64     // bytes
	Live  bool      // a bedd is writing it
}

// Sessions lists the journals in a folder, the oldest first. Other files there are
// left out. A folder that is not there has none.
func Sessions(dir string) ([]Session, error) {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var list []Session
	for _, e := range entries {
		began, _, ok := parseName(e.Name())
		if !ok || !e.Type().IsRegular() {
			continue
		}
		info, err := e.Info()
		if err != nil { // it has just gone
			continue
		}
		path := filepath.Join(dir, e.Name())
		list = append(list, Session{strings.TrimSuffix(e.Name(), extension), path, began, info.Size(), locked(path)})
	}
	slices.SortStableFunc(list, func(a, b Session) int {
		_, first, _ := parseName(a.Name + extension)
		_, second, _ := parseName(b.Name + extension)
		if c := a.Began.Compare(b.Began); c != 0 {
			return c
		}
		return first - second
	})
	return list, nil
}

// parseName reads a journal's name: when it began, and which of those of that second
// it is, from 1.
func parseName(name string) (began time.Time, n int, ok bool) {
	base, ours := strings.CutSuffix(name, extension)
	if !ours || len(base) < len(stamp) {
		return began, 0, false
	}
	began, err := time.Parse(stamp, base[:len(stamp)])
	if err != nil {
		return began, 0, false
	}
	rest := base[len(stamp):]
	if rest == "" {
		return began, 1, true
	}
	var after string
	if k, _ := fmt.Sscanf(rest, "-%d%s", &n, &after); k != 1 || n < 2 || rest != fmt.Sprintf("-%d", n) {
		return began, 0, false
	}
	return began, n, true
}

// nameOf gives the name of the nth journal that began at a time.
func nameOf(began time.Time, n int) string {
	name := began.UTC().Format(stamp)
	if n > 1 {
		name += fmt.Sprintf("-%d", n)
	}
	return name + extension
}

// disk is where a journal is written.
type disk interface {
	io.Writer
	Sync() error
	Close() error
	// Name is the file's path.
	Name() string
	// Gone reports whether the file is no longer in its place.
	Gone() bool
}

// file is a journal on a disk.
type file struct{ *os.File }

func (f file) Gone() bool {
	here, err := f.Stat()
	if err != nil {
		return true
	}
	there, err := os.Stat(f.Name())
	return err != nil || !os.SameFile(here, there)
}

// create makes a new journal in a folder, for this user's eyes alone, and keeps it
// from being pruned.
func create(dir string, began time.Time) (disk, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, err
	}
	for n := 1; n <= mostAlike; n++ {
		path := filepath.Join(dir, nameOf(began, n))
		f, err := os.OpenFile(path, os.O_RDWR|os.O_APPEND|os.O_CREATE|os.O_EXCL, 0o600)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if err := lock(f); err != nil {
			f.Close()
			os.Remove(path)
			return nil, err
		}
		return file{f}, nil
	}
	return nil, fmt.Errorf("%s: %d sessions began in that second", dir, mostAlike)
}
