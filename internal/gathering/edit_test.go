package gathering

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"bedd/configs"
)

var ceiling = Setting{"level", "ceiling", "-6dB", "from the sound check"}

func TestEditRigKeepsAllElse(t *testing.T) {
	const keys = "keys: {space: step, o: fade}\n"
	for name, c := range map[string]struct{ was, is string }{
		"a value":                  {keys + "level:\n  ceiling: 0dB # mine\n  fall: 4dB/s\n", keys + "level:\n  ceiling: -6dB # mine\n  fall: 4dB/s\n"},
		"a value in quotes":        {keys + "level: {ceiling: \"0dB\", fall: '4dB/s'}\n", keys + "level: {ceiling: -6dB, fall: '4dB/s'}\n"},
		"in single quotes":         {keys + "level: {fall: '4dB/s', ceiling: '0dB'}\n", keys + "level: {fall: '4dB/s', ceiling: -6dB}\n"},
		"a field, in a block":      {keys + "level: # how loud\n\n  # falling\n  fall: 4dB/s\n", keys + "level: # how loud\n  ceiling: -6dB # from the sound check\n\n  # falling\n  fall: 4dB/s\n"},
		"a field, in braces":       {"level: {fall: 4dB/s} # é\n" + keys, "level: {ceiling: -6dB, fall: 4dB/s} # é\n" + keys},
		"a field, in empty ones":   {"level: {}\n" + keys, "level: {ceiling: -6dB}\n" + keys},
		"a section":                {"# my rig\n\n" + keys + "\n# the end", "# my rig\n\n" + keys + "\n# the end\nlevel:\n  ceiling: -6dB # from the sound check\n"},
		"a section, in braces":     {"{keys: {space: step, o: fade}}", "{level: {ceiling: -6dB}, keys: {space: step, o: fade}}"},
		"a section, all indented":  {"  " + keys, "  " + keys + "  level:\n    ceiling: -6dB # from the sound check\n"},
		"lines of another system":  {"keys: {space: step, o: fade}\r\nlevel:\r\n  fall: 4dB/s\r\n", "keys: {space: step, o: fade}\r\nlevel:\r\n  ceiling: -6dB # from the sound check\r\n  fall: 4dB/s\r\n"},
		"behind letters":           {"name: Ærø\nkeys: {space: step, o: fade}\nlevel: {step: 0.1, \"ceiling\": 0dB}\n", "name: Ærø\nkeys: {space: step, o: fade}\nlevel: {step: 0.1, \"ceiling\": -6dB}\n"},
		"behind a byte order mark": {"\uFEFFlevel: {fall: 4dB/s}\n" + keys, "\uFEFFlevel: {ceiling: -6dB, fall: 4dB/s}\n" + keys},
	} {
		got, err := EditRig("rig.yaml", []byte(c.was), ceiling)
		if err != nil || string(got) != c.is {
			t.Errorf("%s:\n%s%v\nwant\n%s", name, got, err, c.is)
		}
	}
}

// What cannot be changed without guessing is left alone, and said.
func TestEditRigRefusesToGuess(t *testing.T) {
	for was, want := range map[string]string{
		"keys: {space: step, o: fade}\nlevel:\n  ceiling: !!str 0dB\n": "rig.yaml cannot be changed by itself: write level: {ceiling: -6dB} into it",
		"keys: {space: step, o: fade}\n...\n":                          "rig.yaml cannot be changed by itself: write level: {ceiling: -6dB} into it",
		"keys: {space: stop}\n":                                        `rig.yaml:1: key space: unknown command "stop": did you mean "step"?`,
		"keys: {space: step, o: fade}\nlevel: {floor: -5dB}\n":         "what the rig would become is refused: rig.yaml:2: the ceiling of -6dB lies below the floor of -5dB",
	} {
		if got, err := EditRig("rig.yaml", []byte(was), ceiling); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%s: %q, %v, want %q", was, got, err, want)
		}
	}
}

// Every built-in rig takes the settings that a sound check writes, and loses no line.
func TestEditBuiltInRigs(t *testing.T) {
	for _, name := range RigNames() {
		file := rigPrefix + name + extension
		data, err := configs.FS.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		was, _ := ReadRig(file, data)
		if was.Share {
			continue
		}
		got, err := EditRig(file, data, ceiling, Setting{"grows", "register", "no", ""}, Setting{"grows", "brightness", "40-52", "darker"})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		is, err := ReadRig(file, got)
		if err != nil || is.Bed.Balance.Ceiling != -6 || is.Bed.Lift != 0 || is.Bed.Brightness.Dark != 40 || is.Bed.Brightness.Bright != 52 {
			t.Errorf("%s: ceiling %v, lift %d, brightness %+v: %v", name, is.Bed.Balance.Ceiling, is.Bed.Lift, is.Bed.Brightness, err)
		}
		rest := string(got)
		for _, line := range strings.Split(string(data), "\n") {
			if strings.Contains(line, "ceiling:") || strings.Contains(line, "register:") || strings.Contains(line, "brightness:") {
				continue
			}
			_, after, found := strings.Cut(rest, line)
			if !found {
				t.Errorf("%s: %q is lost or has moved", name, line)
				break
			}
			rest = after
		}
	}
}

// Sections of any layout, anywhere in a file: what is written is read, nothing else
// changes, and written again it stays.
func TestEditRigsOfAnyLayout(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for _, level := range []string{
		"", "level: {}\n", "level: {rise: 6dB/s}\n", "level: { rise: 6dB/s , ceiling: -1dB }\n", "level:\n    rise: 6dB/s\n",
		"level:\n  # a word\n  ceiling: 0dB  # two\n  rise: 6dB/s\n", "\"level\":\n  'rise': 6dB/s\n",
	} {
		parts := []string{level, "keys:\n  space: step\n  o: fade\n", "# a note: {of, [mine]}\n", "name: \"Mäx: {1}\"\n", "\n"}
		for range 3 {
			random.Shuffle(len(parts), func(i, j int) { parts[i], parts[j] = parts[j], parts[i] })
			text := strings.Join(parts, "")
			was, err := ReadRig("rig.yaml", []byte(text))
			if err != nil {
				t.Fatalf("%s: %v", text, err)
			}
			db, s := random.IntN(14), ceiling
			s.Value = fmt.Sprintf("-%ddB", db)
			data, err := EditRig("rig.yaml", []byte(text), s)
			if err != nil {
				t.Fatalf("%s: %v", text, err)
			}
			is, err := ReadRig("rig.yaml", data)
			if err != nil || is.Bed.Balance.Ceiling != float64(-db) || is.Name != was.Name || len(is.Keys) != 2 || is.Bed.Feel != was.Bed.Feel {
				t.Fatalf("%s became\n%s%v", text, data, err)
			}
			if again, err := EditRig("rig.yaml", data, s); err != nil || string(again) != string(data) {
				t.Fatalf("written again it changes:\n%s%v", again, err)
			}
		}
	}
}
