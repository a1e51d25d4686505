package gathering

import (
	"errors"
	"strings"
	"testing"
)

func TestFaultsAreSortedByLineAndToldOnce(t *testing.T) {
	err := fileError("rig.yaml", []Fault{{14, "b"}, {3, "a"}, {14, "a"}, {3, "a"}})
	const want = "rig.yaml:3: a\nrig.yaml:14: b\nrig.yaml:14: a"
	if err.Error() != want {
		t.Errorf("got  %s\nwant %s", err, want)
	}
	if fileError("rig.yaml", nil) != nil {
		t.Error("no fault made an error")
	}
}

func TestFaultsBeyondFiftyAreCounted(t *testing.T) {
	text := "keys:\n  a b: step\n  c d: step\n"
	for i := range 58 {
		text += "  key" + strings.Repeat("x", i+1) + ": step\n"
	}
	_, err := ReadRig("rig.yaml", []byte(text))
	var fe *FileError
	if !errors.As(err, &fe) {
		t.Fatalf("got %v, want a FileError", err)
	}
	if len(fe.Faults) != 50 || fe.More != 10 {
		t.Errorf("got %d faults and %d more, want 50 and 10", len(fe.Faults), fe.More)
	}
	lines := strings.Split(err.Error(), "\n")
	if last := lines[len(lines)-1]; last != "rig.yaml: faults beyond these: 10" {
		t.Errorf("last line is %q", last)
	}
}
