package wholefile

import (
	"os"
	"path/filepath"
	"testing"
)

// Each version is kept under a name of its own; none is ever written over.
func TestKeepLosesNothing(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "rig.yaml")
	if kept, err := Keep(path); kept != "" || err != nil {
		t.Errorf("of no file it keeps %q, %v", kept, err)
	}
	for i, want := range []string{"rig.yaml.bak", "rig.yaml.bak2", "rig.yaml.bak3"} {
		if err := os.WriteFile(path, []byte{byte('a' + i)}, 0o600); err != nil {
			t.Fatal(err)
		}
		if kept, err := Keep(path); err != nil || kept != filepath.Join(dir, want) {
			t.Errorf("kept %q, %v; want %s", kept, err, want)
		}
	}
	for i, name := range []string{"rig.yaml.bak", "rig.yaml.bak2", "rig.yaml.bak3"} {
		if got, err := os.ReadFile(filepath.Join(dir, name)); err != nil || string(got) != string(rune('a'+i)) {
			t.Errorf("%s holds %q, %v", name, got, err)
		}
	}
	if got := entries(t, dir); len(got) != 4 {
		t.Errorf("left behind: %v", got)
	}
}

func TestKeepSaysWhatItCannotDo(t *testing.T) {
	if os.Getuid() == 0 {
		t.Skip("the super-user may write everywhere")
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "rig.yaml")
	if err := os.WriteFile(path, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(dir, 0o500); err != nil {
		t.Fatal(err)
	}
	if _, err := Keep(path); err == nil {
		t.Error("it keeps a copy in a folder that takes none")
	}
}
