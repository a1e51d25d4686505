// Package wholefile writes a file whole or not at all.
package wholefile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Pending is a file on its way: it takes its place when it is committed.
type Pending struct {
	*os.File
	path string // as the caller gave it, for errors
	into string // the place it takes: path, or what a link there leads to
}

// Begin makes a new file beside path, or beside what a link there leads to. End
// it with Commit or Abort. Errors begin with path.
func Begin(path string) (*Pending, error) {
	if err := replaceable(path); err != nil {
		return nil, err
	}
	into := path
	if target, err := filepath.EvalSymlinks(path); err == nil {
		into = target
	}
	file, err := create(into)
	if err != nil {
		return nil, err
	}
	return &Pending{file, path, into}, nil
}

// Commit puts the file in its place, or leaves what was there and nothing else.
func (p *Pending) Commit() error {
	err := p.Chmod(0o644)
	if err == nil {
		err = p.Sync()
	}
	if err != nil {
		return p.fail(err)
	}
	if err = p.Close(); err == nil {
		err = os.Rename(p.Name(), p.into)
	}
	if err != nil {
		return p.fail(err)
	}
	return nil
}

// Abort leaves what was there and nothing else.
func (p *Pending) Abort() {
	p.Close()
	os.Remove(p.Name())
}

func (p *Pending) fail(err error) error {
	p.Abort()
	return fmt.Errorf("%s: %w", p.path, bare(err))
}

// Write has write fill a new file, which then takes the place of path: there is
// either the whole new file or what was there before, and nothing else.
func Write(path string, write func(*os.File) error) error {
	p, err := Begin(path)
	if err != nil {
		return err
	}
	if err := write(p.File); err != nil {
		return p.fail(err)
	}
	return p.Commit()
}

// Check finds out whether Write could begin, and leaves nothing behind.
func Check(path string) error {
	p, err := Begin(path)
	if err == nil {
		p.Abort()
	}
	return err
}

// replaceable says why what is at path may not be replaced: it is a folder, a
// device, or not ours to write.
func replaceable(path string) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return fmt.Errorf("%s: %w", path, bare(err))
	case info.IsDir():
		return fmt.Errorf("%s is a folder: name a file in it", path)
	case !info.Mode().IsRegular():
		return fmt.Errorf("%s is not a regular file: name one", path)
	}
	file, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return fmt.Errorf("%s: it is there and may not be changed: %w", path, bare(err))
	}
	return file.Close()
}

func create(path string) (*os.File, error) {
	dir := filepath.Dir(path)
	file, err := os.CreateTemp(dir, "."+filepath.Base(path)+".*")
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("%s: there is no folder %s", path, dir)
	case errors.Is(err, fs.ErrPermission):
		return nil, fmt.Errorf("%s: no permission to write in the folder %s", path, dir)
	case err != nil:
		return nil, fmt.Errorf("%s: %w", path, bare(err))
	}
	return file, nil
}

// bare takes the temporary file's name off an error.
func bare(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}
