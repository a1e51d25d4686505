// Package wholefile writes a file whole or not at all.
package wholefile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Write has write fill a new file beside path, which then takes the place of
// path, or of what a link there leads to: there is either the whole new file or
// what was there before, and nothing else. Errors begin with the path.
func Write(path string, write func(*os.File) error) (err error) {
	if err := replaceable(path); err != nil {
		return err
	}
	if target, err := filepath.EvalSymlinks(path); err == nil {
		path = target
	}
	file, err := create(path)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			file.Close()
			os.Remove(file.Name())
			err = fmt.Errorf("%s: %w", path, bare(err))
		}
	}()
	if err = write(file); err != nil {
		return err
	}
	if err = file.Chmod(0o644); err != nil {
		return err
	}
	if err = file.Sync(); err != nil {
		return err
	}
	if err = file.Close(); err != nil {
		return err
	}
	return os.Rename(file.Name(), path)
}

// Check finds out whether Write could begin, and leaves nothing behind.
func Check(path string) error {
	if err := replaceable(path); err != nil {
		return err
	}
	file, err := create(path)
	if err != nil {
		return err
	}
	file.Close()
	return os.Remove(file.Name())
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
