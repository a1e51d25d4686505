package main

import (
	"encoding/json"
	"os"
	"strings"
	"testing"
)

// A made-up plan with a trouble and a remark.
const givesAway = `order:
  - {song: Low Tide, key: C}
  - for: a silence
    home: 1 5 6m 4
    away: 2m 4
  - song: Herring Moon
    key: G
    sections: {verse: 1 5 6m 4}
    figure: 5 3 1 3
`

func TestPlanCheck(t *testing.T) {
	path := file(t, "sunday.yaml", givesAway)
	r := bedd(t, "plan", "check", path)
	for _, want := range []string{
		"trouble  " + path + ":3: a silence\n         Home is the verse of \"Herring Moon\".\n         → ask bedd plan suggest for beds that give nothing away\n",
		"remark   " + path + ":3: a silence\n         Over ",
	} {
		if !strings.Contains(r.stdout, want) {
			t.Errorf("it prints\n%s\nwant in it\n%s", r.stdout, want)
		}
	}
	if want := "bedd: " + path + ": 0 failures, 1 trouble\n"; r.code != 1 || r.stderr != want {
		t.Errorf("exit %d, says %q, want %q", r.code, r.stderr, want)
	}

	r = bedd(t, "plan", "check", path, "--json")
	var j checkJSON
	if err := json.Unmarshal([]byte(r.stdout), &j); err != nil {
		t.Fatal(err)
	}
	if r.code != 1 || j.Title != "sunday" || j.Troubles != 1 || j.Failures != 0 || j.Remarks != len(j.Findings)-1 || j.Findings[0].Severity != "trouble" || j.Findings[0].Line != 3 {
		t.Errorf("exit %d: %+v", r.code, j)
	}

	r = bedd(t, "plan", "check", file(t, "sound.yaml", "order: [{song: Low Tide, key: C}, {song: Herring Moon, key: G, sections: {verse: 1 b7 4 5}}]"))
	if want := "sound: nothing found that could go wrong\n"; r.code != 0 || r.stdout != want || r.stderr != "" {
		t.Errorf("exit %d, prints %q, says %q, want %q", r.code, r.stdout, r.stderr, want)
	}
}

// What suggest prints can be put into the plan as it is, and then gives nothing
// away.
func TestPlanSuggest(t *testing.T) {
	path := file(t, "sunday.yaml", givesAway)
	r := bedd(t, "plan", "suggest", path, "--moment", "silence", "--count", "5")
	if r.code != 0 || r.stderr != "" || !strings.HasPrefix(r.stdout, path+":3: a silence, in C, then Herring Moon in G\n  now  home: 1 5 6m 4") {
		t.Fatalf("exit %d, says %q, prints\n%s", r.code, r.stderr, r.stdout)
	}
	var j struct{ Moments []momentJSON }
	if err := json.Unmarshal([]byte(bedd(t, "plan", "suggest", path, "--count", "5", "--json").stdout), &j); err != nil {
		t.Fatal(err)
	}
	if len(j.Moments) != 1 || len(j.Moments[0].Suggestions) != 5 || j.Moments[0].Next != "Herring Moon" {
		t.Fatalf("%+v", j)
	}
	for i, s := range j.Moments[0].Suggestions {
		if !strings.Contains(r.stdout, "home: "+s.Home) || !strings.Contains(r.stdout, "away: "+s.Away) || !strings.Contains(r.stdout, s.Why) {
			t.Errorf("%+v is not in\n%s", s, r.stdout)
		}
		instead := strings.Replace(givesAway, "home: 1 5 6m 4\n    away: 2m 4", "home: "+s.Home+"\n    away: "+s.Away, 1)
		if s.Bed != "" {
			instead = strings.Replace(givesAway, "home: 1 5 6m 4\n    away: 2m 4", "bed: "+s.Bed, 1)
		}
		if r := bedd(t, "plan", "check", file(t, "better.yaml", instead)); i < 3 && r.code != 0 {
			t.Errorf("with %+v: exit %d\n%s", s, r.code, r.stdout)
		}
	}
}

// The README shows what suggest prints of the demo's plan.
func TestReadmeShowsWhatSuggestPrints(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, shown, found := strings.Cut(string(readme), "```\nwinter-lights:")
	shown, _, ended := strings.Cut(shown, "```")
	if !found || !ended {
		t.Fatal("the README shows no suggestion")
	}
	if printed := bedd(t, "plan", "suggest", "winter-lights", "--moment", "collection", "--count", "5").stdout; !strings.HasPrefix(printed, "winter-lights:"+shown) {
		t.Errorf("suggest prints\n%s\nthe README shows\nwinter-lights:%s", printed, shown)
	}
}
