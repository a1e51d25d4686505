//go:build unix

package guard

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"bedd/internal/midiio"

	"golang.org/x/sys/unix"
)

const recordPrefix, recordSuffix = "connections-", ".json"

// Record is the list of the connections that a bedd has made. It is locked while
// that bedd lives; one that nobody has locked tells of connections to be ended.
type Record struct{ file *os.File }

// NewRecord makes the empty record of this process.
func NewRecord(dir string) (*Record, error) {
	f, err := os.CreateTemp(dir, recordPrefix+"*"+recordSuffix)
	if err != nil {
		return nil, fmt.Errorf("guard: %w", err)
	}
	return lockRecord(f)
}

// openRecord takes a record if nobody has it.
func openRecord(path string) (*Record, error) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return nil, fmt.Errorf("guard: %w", err)
	}
	return lockRecord(f)
}

func lockRecord(f *os.File) (*Record, error) {
	if err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB); err != nil {
		f.Close()
		return nil, fmt.Errorf("guard: %s: %w", f.Name(), err)
	}
	return &Record{f}, nil
}

// Name is the record's file.
func (r *Record) Name() string { return r.file.Name() }

// Set writes the list anew, in one go: bedd may be killed at any time, and what
// stands behind the list is not read.
func (r *Record) Set(list []midiio.Connection) error {
	text, err := json.Marshal(list)
	if err != nil {
		return fmt.Errorf("guard: %w", err)
	}
	if _, err := r.file.WriteAt(append(text, '\n'), 0); err != nil {
		return fmt.Errorf("guard: %w", err)
	}
	return nil
}

// List reads the list.
func (r *Record) List() (list []midiio.Connection, err error) {
	if err := json.NewDecoder(io.NewSectionReader(r.file, 0, 1<<20)).Decode(&list); err != nil && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("guard: %s: %w", r.Name(), err)
	}
	return list, nil
}

// Remove removes the record: nothing is left to be ended.
func (r *Record) Remove() error {
	defer r.file.Close()
	if err := os.Remove(r.Name()); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("guard: %w", err)
	}
	return nil
}

// dyingTime is how long a record is waited for whose bedd is not quite dead: the
// kernel closes its files one after the other, and the pipe may be first.
const dyingTime = 500 * time.Millisecond

// addTo adds connections to the record of a bedd that is dead. An empty path is
// that of a bedd that could keep none.
func addTo(path string, more []midiio.Connection) error {
	if path == "" {
		return nil
	}
	r, err := openRecord(path)
	for end := time.Now().Add(dyingTime); errors.Is(err, unix.EWOULDBLOCK) && time.Now().Before(end); {
		time.Sleep(time.Millisecond)
		r, err = openRecord(path)
	}
	if err != nil {
		return err
	}
	defer r.file.Close()
	list, err := r.List()
	return errors.Join(err, r.Set(append(list, more...)))
}

// Leavings are the connections that dead bedds have left.
type Leavings struct {
	List    []midiio.Connection
	records []*Record
}

// FindLeavings finds them, in the directory of [LockDir], and holds their records
// until Forget or until this process ends. Their guards must be done.
func FindLeavings(dir string) (*Leavings, error) {
	paths, err := filepath.Glob(filepath.Join(dir, recordPrefix+"*"+recordSuffix))
	if err != nil {
		return nil, fmt.Errorf("guard: %w", err)
	}
	l := new(Leavings)
	var troubles []error
	for _, path := range paths {
		r, err := openRecord(path)
		if err != nil {
			continue // that bedd lives
		}
		list, err := r.List()
		if err != nil {
			troubles = append(troubles, err)
		}
		l.List, l.records = append(l.List, list...), append(l.records, r)
	}
	return l, errors.Join(troubles...)
}

// Forget takes connections that are dealt with off the records, and lets go of
// them.
func (l *Leavings) Forget(done func(midiio.Connection) bool) error {
	var troubles []error
	for _, r := range l.records {
		list, err := r.List()
		if err == nil {
			if list = slices.DeleteFunc(list, done); len(list) > 0 {
				troubles = append(troubles, r.Set(list), r.file.Close())
				continue
			}
		}
		troubles = append(troubles, r.Remove())
	}
	l.records = nil
	return errors.Join(troubles...)
}
