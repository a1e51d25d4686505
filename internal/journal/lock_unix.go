//go:build unix

package journal

import (
	"errors"
	"os"
	"time"

	"golang.org/x/sys/unix"
)

// lockTries is how often a lock is tried, every millisecond.
const lockTries = 100

// lock marks a file as being written, for as long as it is open: however the
// process ends. Where the file system knows no locks the file goes unmarked.
func lock(f *os.File) error {
	var err error
	for range lockTries { // somebody may be looking whether it is locked
		if err = unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB); !errors.Is(err, unix.EWOULDBLOCK) {
			break
		}
		time.Sleep(time.Millisecond)
	}
	if errors.Is(err, unix.ENOTSUP) || errors.Is(err, unix.ENOLCK) || errors.Is(err, unix.ENOSYS) {
		return nil
	}
	return err
}

// locked reports whether somebody is writing a file.
func locked(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	return errors.Is(unix.Flock(int(f.Fd()), unix.LOCK_SH|unix.LOCK_NB), unix.EWOULDBLOCK)
}
