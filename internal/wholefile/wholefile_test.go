package wholefile

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
)

func entries(t *testing.T, dir string) (names []string) {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		names = append(names, e.Name())
	}
	return names
}

func TestWriteIsWholeOrNotAtAll(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.txt")
	put := func(text string, fail error) error {
		return Write(path, func(f *os.File) error {
			if _, err := f.WriteString(text); err != nil {
				return err
			}
			return fail
		})
	}
	if err := put("first", nil); err != nil {
		t.Fatal(err)
	}
	bad := errors.New("the tape broke")
	if err := put("second", bad); !errors.Is(err, bad) || err.Error() != path+": the tape broke" {
		t.Errorf("%v", err)
	}
	if got, _ := os.ReadFile(path); string(got) != "first" {
		t.Errorf("the file has %q, want what was there before", got)
	}
	if names := entries(t, dir); len(names) != 1 {
		t.Errorf("left behind: %q", names)
	}
	if err := put("third", nil); err != nil {
		t.Fatal(err)
	}
	if got, _ := os.ReadFile(path); string(got) != "third" {
		t.Errorf("the file has %q", got)
	}
}

func TestWriteGoesThroughALink(t *testing.T) {
	dir := t.TempDir()
	path, link := filepath.Join(dir, "a.txt"), filepath.Join(dir, "link")
	if err := os.WriteFile(path, []byte("before"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(path, link); err != nil {
		t.Fatal(err)
	}
	if err := Write(link, func(f *os.File) error { _, err := f.WriteString("after"); return err }); err != nil {
		t.Fatal(err)
	}
	if got, _ := os.ReadFile(path); string(got) != "after" {
		t.Errorf("behind the link is %q", got)
	}
	if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link is gone: %v, %v", info, err)
	}
}

func TestWhatMayNotBeReplaced(t *testing.T) {
	dir := t.TempDir()
	missing := filepath.Join(dir, "none", "a.txt")
	link := filepath.Join(dir, "null")
	if err := os.Symlink(os.DevNull, link); err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{
		dir:     dir + " is a folder: name a file in it",
		link:    link + " is not a regular file: name one",
		missing: missing + ": there is no folder " + filepath.Dir(missing),
	} {
		for what, err := range map[string]error{"Check": Check(path), "Write": Write(path, func(*os.File) error { return nil })} {
			if err == nil || err.Error() != want {
				t.Errorf("%s(%s) gives %v, want %q", what, path, err, want)
			}
		}
	}
	if names := entries(t, dir); len(names) != 1 {
		t.Errorf("left behind: %q", names)
	}
	if err := Check(filepath.Join(dir, "new.txt")); err != nil {
		t.Error(err)
	}
	if names := entries(t, dir); len(names) != 1 {
		t.Errorf("Check leaves %q", names)
	}
}
