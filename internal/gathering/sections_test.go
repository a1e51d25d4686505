package gathering

import (
	"reflect"
	"strings"
	"testing"

	"bedd/configs"
)

// In every built-in rig a section is written anew, and all else means what it meant; what
// stands in other lines stays.
func TestReplaceSectionsKeepsAllElse(t *testing.T) {
	files, err := configs.FS.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	tried := 0
	for _, f := range files {
		if !strings.HasPrefix(f.Name(), rigPrefix) {
			continue
		}
		data, err := configs.FS.ReadFile(f.Name())
		if err != nil {
			t.Fatal(err)
		}
		before, err := ReadRig(f.Name(), data)
		if err != nil {
			t.Fatal(err)
		}
		for _, newline := range []string{"\n", "\r\n"} {
			text := strings.ReplaceAll(string(data), "\n", newline)
			out, err := ReplaceSections(f.Name(), []byte(text),
				RigSection{"ports", "ports:\n  in: [A]\n"}, RigSection{"pedal", "pedal: none\n"}, RigSection{"hold", "hold: 900ms\n"})
			if err != nil {
				t.Errorf("%s: %v", f.Name(), err)
				continue
			}
			after, err := ReadRig(f.Name(), out)
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(after.Ports.In, []string{"A"}) || after.Pedal.On || after.Hold.Milliseconds() != 900 {
				t.Errorf("%s: %+v %+v %v", f.Name(), after.Ports, after.Pedal, after.Hold)
			}
			after.Ports, after.Pedal, after.Hold, after.Bed.Pedal = before.Ports, before.Pedal, before.Hold, before.Bed.Pedal
			if !reflect.DeepEqual(after, before) {
				t.Errorf("%s: more than that has changed:\n%s", f.Name(), out)
			}
			rest := string(out)
			for line := range strings.Lines(text) {
				comment := strings.HasPrefix(line, "#")
				if comment && !strings.Contains(rest, line) {
					t.Errorf("%s: the comment %q is gone", f.Name(), line)
				}
			}
			tried++
		}
	}
	if tried < 12 {
		t.Errorf("%d tried", tried)
	}
}

func TestReplaceSectionsRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"{keys: {a: step, b: fade}}":         "written in braces",
		"keys: {a: step, b: fade}\npedal: 3": "r.yaml:2",
	} {
		if _, err := ReplaceSections("r.yaml", []byte(text), RigSection{"hold", "hold: 1s\n"}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", text, err)
		}
	}
	if _, err := ReplaceSections("r.yaml", []byte("keys: {a: step, b: fade}\n"), RigSection{"hold", "hold: no\n"}); err == nil || !strings.Contains(err.Error(), "is refused") {
		t.Errorf("%v", err)
	}
}
