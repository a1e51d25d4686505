package journal

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"bedd/internal/bed"
)

// Last is the end of a journal: where the bed was.
type Last struct {
	Name   string // of the session
	Header Header
	State  *bed.State    // nil where none was told
	At     time.Duration // of the last record that can be read
	Broke  time.Time     // when the file was last written to
	Live   bool          // a bedd is writing it
	Closed bool          // the session ended as it should
	Silent bool          // the bed never sounded in it
}

// tailBytes is how much of the end of a journal is read: some minutes of it, in
// which the state stands many times.
const tailBytes = 1 << 20

// ReadLast reads the end of the journal in a file, mostly in a time that does not
// depend on its length. An error is of type *[Fault] where the file is no journal.
func ReadLast(path string) (Last, error) {
	f, err := os.Open(path)
	if err != nil {
		return Last{}, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return Last{}, err
	}
	r, err := NewReader(path, f)
	if err != nil {
		return Last{}, err
	}
	last := Last{Name: SessionName(path), Header: r.head, Broke: info.ModTime(), Live: locked(path)}
	begin := r.read
	tail := max(begin, info.Size()-tailBytes)
	last.Silent = tail == begin // a longer one is taken to have sounded
	err = last.read(r, io.NewSectionReader(f, tail, 1<<62), tail > begin)
	if err == nil && last.State == nil && tail > begin {
		err = last.read(r, io.NewSectionReader(f, begin, 1<<62), false)
	}
	return last, err
}

// read reads on to the end, in the middle of a line or not.
func (l *Last) read(r *Reader, in io.Reader, middle bool) error {
	r.in.Reset(in)
	r.done, r.pending, r.damaged = false, false, 0
	if middle {
		if _, err := r.next(maxLine); err != nil {
			return ended(err)
		}
	}
	var rec Record
	for {
		if err := r.Next(&rec); err != nil {
			return ended(err)
		}
		l.At = max(l.At, rec.At)
		switch rec.Kind {
		case Stands:
			l.State = rec.State
			l.Silent = l.Silent && rec.State.Phase == bed.Silent
		case Called:
			if rec.Seen != nil && l.State != nil {
				l.State.Intensity = rec.Seen.Intensity
			}
		case Closed:
			l.Closed = true
		}
	}
}

func ended(err error) error {
	if errors.Is(err, io.EOF) {
		return nil
	}
	return err
}

// SessionName is the name of the session in a file.
func SessionName(path string) string { return strings.TrimSuffix(filepath.Base(path), extension) }

// Find gives the file of a session, by its name in a folder or by its path; without
// either that of the last which no bedd is writing.
func Find(dir, nameOrPath string) (path string, err error) {
	if nameOrPath == "" {
		list, err := Sessions(dir)
		if err != nil {
			return "", err
		}
		for i := len(list) - 1; i >= 0; i-- {
			if !list[i].Live {
				return list[i].Path, nil
			}
		}
		return "", fmt.Errorf("there is no session in %s yet: bedd play writes one", dir)
	}
	for _, path := range []string{nameOrPath, filepath.Join(dir, nameOrPath), filepath.Join(dir, nameOrPath+extension)} {
		if info, err := os.Stat(path); err == nil && info.Mode().IsRegular() {
			return path, nil
		}
	}
	return "", fmt.Errorf("there is no session %q, neither here nor in %s", nameOrPath, dir)
}
