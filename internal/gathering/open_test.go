package gathering

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func TestBuiltInFilesAreFoundByTheirNames(t *testing.T) {
	t.Chdir(t.TempDir()) // nothing of ours lies here
	for _, name := range []string{"no-pedal", "rig-no-pedal", "rig-no-pedal.yaml", "no-pedal.yaml"} {
		if rig, err := OpenRig(name); err != nil || rig.Name != "No pedal" {
			t.Errorf("OpenRig(%q) = %q, %v", name, rig.Name, err)
		}
	}
	library, err := OpenLibrary("")
	if err != nil || len(library) == 0 {
		t.Fatalf("library: %v", err)
	}
	for _, name := range []string{"winter-lights", "gathering-winter-lights.yaml"} {
		if g, err := OpenGathering(name, library); err != nil || g.Title != "Winter Lights in the net loft" {
			t.Errorf("OpenGathering(%q) = %q, %v", name, g.Title, err)
		}
	}
	if names := RigNames(); !slices.Contains(names, "default") || !slices.IsSorted(names) {
		t.Errorf("rigs are %q", names)
	}
	if names := GatheringNames(); !slices.Equal(names, []string{"winter-lights"}) {
		t.Errorf("gatherings are %q", names)
	}
}

func TestAFileOfTheUsersWinsByItsPath(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	write := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("rig-no-pedal.yaml", "name: mine\nkeys: {a: step, b: fade}\n")
	write("default", "name: mine\nkeys: {a: step, b: fade}\n")
	write("bad.yaml", "name: bad\n")
	write("winter.yml", "order: [{song: A, key: C}]\n")
	write("pairs.yaml", "pairs: [{name: a, mode: minor, home: 1, why: x}]\n")
	for path, want := range map[string]string{
		"rig-no-pedal.yaml":                     "mine",
		"./default":                             "mine",
		filepath.Join(dir, "rig-no-pedal.yaml"): "mine",
		"default":                               "Default", // a bare name is a built-in rig's
		"no-pedal":                              "No pedal",
	} {
		if rig, err := OpenRig(path); err != nil || rig.Name != want {
			t.Errorf("OpenRig(%q) = %q, %v, want %q", path, rig.Name, err, want)
		}
	}
	var fe *FileError
	if _, err := OpenRig("bad.yaml"); !errors.As(err, &fe) || fe.Name != "bad.yaml" {
		t.Errorf("a bad rig: %v", err)
	}
	if g, err := OpenGathering("winter.yml", testLibrary); err != nil || g.Title != "winter" {
		t.Errorf("a plan without title: %q, %v", g.Title, err)
	}
	if l, err := OpenLibrary("pairs.yaml"); err != nil || len(l) != 1 {
		t.Errorf("a library: %v, %v", l, err)
	}
}

func TestMissingFilesAreExplained(t *testing.T) {
	t.Chdir(t.TempDir())
	_, err := OpenRig("stage")
	want := `no rig "stage": file does not exist; built in are ` + strings.Join(RigNames(), ", ")
	if !errors.Is(err, fs.ErrNotExist) || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
	_, err = OpenGathering("a/b.yaml", nil)
	if want := `no gathering "a/b.yaml": file does not exist; built in are winter-lights`; !errors.Is(err, fs.ErrNotExist) || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
	if _, err := OpenLibrary("pairs.yaml"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("got %v", err)
	}
	if err := os.Mkdir("folder.yaml", 0o700); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenRig("folder.yaml"); err == nil || errors.Is(err, fs.ErrNotExist) || !strings.HasPrefix(err.Error(), "rig: ") {
		t.Errorf("a folder: %v", err)
	}
}
