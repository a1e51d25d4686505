package wholefile

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
)

// mostKept is how many old versions of a file are kept beside it.
const mostKept = 999

// Keep copies the file at path beside it, to the first free one of path.bak,
// path.bak2, path.bak3 and so on, and names the copy: a change to come cannot lose
// anything. Where there is no file it gives "".
func Keep(path string) (kept string, err error) {
	old, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", fmt.Errorf("%s: %w", path, bare(err))
	}
	defer old.Close()
	for n := 1; n <= mostKept; n++ {
		if kept = path + ".bak"; n > 1 {
			kept = fmt.Sprintf("%s.bak%d", path, n)
		}
		file, err := os.OpenFile(kept, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return "", fmt.Errorf("%s: %w", kept, bare(err))
		}
		_, err = io.Copy(file, old)
		if err = errors.Join(err, file.Sync(), file.Close()); err != nil {
			os.Remove(kept)
			return "", fmt.Errorf("%s: %w", kept, bare(err))
		}
		return kept, nil
	}
	return "", fmt.Errorf("%s has %d old versions beside it: move some away", path, mostKept)
}
