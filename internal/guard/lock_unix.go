//go:build unix

package guard

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

const lockPrefix, lockSuffix = "guard-", ".lock"

// LockDir is where this user's guards have their locks.
func LockDir() (string, error) {
	dir := os.Getenv("XDG_RUNTIME_DIR")
	if dir == "" {
		dir = filepath.Join(os.TempDir(), fmt.Sprintf("bedd-%d", os.Getuid()))
	} else {
		dir = filepath.Join(dir, "bedd")
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", fmt.Errorf("guard: %w", err)
	}
	return dir, nil
}

// Lock takes the lock of a bedd's guard, by the bedd's process number. The file
// is to be inherited by the guard: the lock lasts as long as either has it open.
func Lock(dir string, pid int) (*os.File, error) {
	f, err := os.OpenFile(filepath.Join(dir, lockPrefix+strconv.Itoa(pid)+lockSuffix), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, fmt.Errorf("guard: %w", err)
	}
	if err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB); err != nil {
		f.Close()
		return nil, fmt.Errorf("guard: %s: %w", f.Name(), err)
	}
	return f, nil
}

// look is how often a lock is tried again.
const look = 10 * time.Millisecond

// WaitForOthers waits, at most for the time given, until no guard of a bedd that
// has died is at work any more. It reports whether it had to wait, and fails when
// one still is.
func WaitForOthers(dir string, most time.Duration) (waited bool, err error) {
	paths, err := filepath.Glob(filepath.Join(dir, lockPrefix+"*"+lockSuffix))
	if err != nil {
		return false, fmt.Errorf("guard: %w", err)
	}
	deadline := time.Now().Add(most)
	for _, path := range paths {
		pid, err := strconv.Atoi(strings.TrimSuffix(strings.TrimPrefix(filepath.Base(path), lockPrefix), lockSuffix))
		if err != nil || alive(pid) {
			continue // that bedd plays
		}
		for held(path) {
			if waited = true; time.Now().After(deadline) {
				return true, fmt.Errorf("the guard of a bedd that has died is still at work after %v: end it with kill, or remove %s", most, path)
			}
			time.Sleep(look)
		}
		if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return waited, fmt.Errorf("guard: %w", err)
		}
	}
	return waited, nil
}

func alive(pid int) bool { return !errors.Is(unix.Kill(pid, 0), unix.ESRCH) }

// held reports whether somebody has the lock.
func held(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	return unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB) != nil
}
