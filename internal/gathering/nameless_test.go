package gathering

import (
	"errors"
	"strings"
	"testing"

	"bedd/configs"
)

// Without names and comments every built-in rig is the same rig: Nameless compares.
func TestNamelessRigsAreTheSame(t *testing.T) {
	for _, name := range RigNames() {
		data, err := configs.FS.ReadFile(rigPrefix + name + extension)
		if err != nil {
			t.Fatal(err)
		}
		bare, err := Nameless(name, data)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if strings.Contains(string(bare), "# ") || strings.Contains(string(bare), "name:") {
			t.Errorf("%s is still:\n%s", name, bare)
		}
	}
}

func TestNamelessTellsNothing(t *testing.T) {
	bare, err := Nameless("tilda.yaml", []byte("# Tilda's own\nname: Tilda Fenn # hers\nswitches:\n  - {name: under the stool, control: controller 80, press: step, hold: fade}\n  # the loft's\n"))
	if err != nil {
		t.Fatal(err)
	}
	if want := "switches:\n    - {control: controller 80, press: step, hold: fade}\n"; string(bare) != want {
		t.Errorf("%q, want %q", bare, want)
	}
	var faults *FileError
	if _, err := Nameless("x.yaml", []byte("pedals: 3\n")); !errors.As(err, &faults) {
		t.Errorf("a bad rig gives %v", err)
	}
}
