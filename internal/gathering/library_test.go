package gathering

import (
	"slices"
	"testing"
)

func TestLibraryIsReadInOrder(t *testing.T) {
	got, err := ReadLibrary("l.yaml", []byte(`
pairs:
  - {name: calm, mode: major, home: 1 4, away: 6m 2m, why: few notes move}
  - {name: night, mode: minor, home: 1, why: "one chord: no more"}
  - {name: wide, mode: major, home: 1 b7, why: no hurry}
`))
	want := Library{
		{Name: "calm", Home: "1 4", Away: "6m 2m", Why: "few notes move"},
		{Name: "night", Minor: true, Home: "1", Why: "one chord: no more"},
		{Name: "wide", Home: "1 b7", Why: "no hurry"},
	}
	if err != nil || !slices.Equal(got, want) {
		t.Fatalf("got %+v, %v\nwant %+v", got, err, want)
	}
	if p, ok := got.First(true); !ok || p.Name != "night" {
		t.Errorf("the first minor pair is %+v, %v", p, ok)
	}
	if p, ok := got.Named("wide"); !ok || p != want[2] {
		t.Errorf("wide is %+v, %v", p, ok)
	}
	if p, ok := got.Named("loud"); ok {
		t.Errorf("there is a pair %+v", p)
	}
}

var badLibraries = []struct{ text, want string }{
	{"", "l.yaml:1: the file is empty: a library lists pairs:"},
	{"pears: []\n", `l.yaml:1: unknown field "pears": did you mean "pairs"?` + "\n" + `l.yaml:1: a library lists pairs: "pairs" is missing`},
	{"pairs: []\n", "l.yaml:1: pairs is empty: a library has at least one"},
	{"pairs: calm\n", `l.yaml:1: pairs is a list with a dash before each item, not the value "calm"`},
	{"pairs:\n- calm\n", `l.yaml:2: a pair is written as fields with a colon each, not as the value "calm"`},
	{"pairs:\n- {mode: major, home: 1}\n", "l.yaml:2: a pair has name, mode, home and why: \"name\" is missing\nl.yaml:2: a pair has name, mode, home and why: \"why\" is missing"},
	{"pairs:\n- {name: a, mode: dorian, home: 1, why: x}\n", `l.yaml:2: mode "dorian" is not known: use one of major, minor`},
	{"pairs:\n- {name: a, mode: major, home: 1, why: x}\n- {name: a, mode: minor, home: 1, why: x}\n", `l.yaml:3: there is already a pair named "a"`},
	{"pairs:\n- name: a\n  mode: major\n  home: 1 H\n  why: x\n", `l.yaml:4: home: chord 2 of the progression, "H": "H" does not start a chord at character 3 (a chord starts with a letter A to G, a number 1 to 7 or a roman numeral I to VII, after b or # where needed)`},
}

func TestBadLibrariesAreExplained(t *testing.T) {
	for _, b := range badLibraries {
		_, err := ReadLibrary("l.yaml", []byte(b.text))
		if err == nil || err.Error() != b.want {
			t.Errorf("%s\ngot  %v\nwant %s", b.text, err, b.want)
		}
	}
}

func FuzzReadLibrary(f *testing.F) {
	for _, b := range badLibraries {
		f.Add([]byte(b.text))
	}
	addBuiltIn(f)
	f.Add([]byte("pairs:\n- {name: night, mode: minor, home: 1 b7/4, away: 4, why: x}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		library, err := ReadLibrary("l.yaml", data)
		if err != nil {
			checkFaults(t, data, err)
			return
		}
		for _, p := range library {
			if p.Name == "" || p.Home == "" || p.Why == "" {
				t.Fatalf("pair %+v lacks something", p)
			}
		}
	})
}
