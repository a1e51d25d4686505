package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestChartIsWritten(t *testing.T) {
	file := filepath.Join(t.TempDir(), "lights.html")
	r := bedd(t, "plan", "chart", "winter-lights", "--html", file)
	page, err := os.ReadFile(file)
	if r.code != 0 || r.stdout != "" || err != nil {
		t.Fatalf("exit %d, %s%s, %v", r.code, r.stdout, r.stderr, err)
	}
	for _, want := range []string{"<title>Winter Lights in the net loft</title>", "the collection for the lifeboat shed", "Keep out, it gives the song away"} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the pages have no %q", want)
		}
	}
	if got := strings.Count(string(page), `<section class="sheet`); got != 6 {
		t.Errorf("%d sheets, want the order and five moments", got)
	}
	if r := bedd(t, "plan", "chart", "winter-lights", "--html", "-"); r.stdout != string(page) {
		t.Error("standard output has other pages than the file")
	}
	text := bedd(t, "plan", "chart", "winter-lights").stdout
	golden, err := os.ReadFile("../../internal/chart/testdata/winter-lights.txt")
	if err != nil || text != string(golden) {
		t.Errorf("the text is\n%s%v", text, err)
	}
	if both := bedd(t, "plan", "chart", "winter-lights", "--text", "--html", file); both.stdout != text {
		t.Error("with both, the text is another")
	}
}

func TestChartInOtherKeys(t *testing.T) {
	r := bedd(t, "plan", "chart", "winter-lights", "--moment", "collection", "--key", "Db")
	for _, want := range []string{"\nin Db\n", "   Dbmaj7  1maj7 ", "land in The Ferry Waits for No One, in Bb,", "moved from Bb, the key of the plan"} {
		if r.code != 0 || !strings.Contains(r.stdout, want) {
			t.Errorf("no %q in\n%s%s", want, r.stdout, r.stderr)
		}
	}
	all := bedd(t, "plan", "chart", "winter-lights", "--moment", "1", "--key", "all")
	if got := strings.Count(all.stdout, "the last words of Maud Terrick's talk\n"); all.code != 0 || got != 12 {
		t.Errorf("%d charts, %s", got, all.stderr)
	}
}

func TestChartSaysWhatIsWrong(t *testing.T) {
	for want, args := range map[string][]string{
		"bedd plan chart takes one plan":                        nil,
		"no gathering \"x.yaml\"":                               {"x.yaml"},
		"no moment is for \"a duel\"":                           {"winter-lights", "--moment", "a duel"},
		"--key: unknown key \"H\"":                              {"winter-lights", "--key", "H"},
		"which is major: name a major key, or all":              {"winter-lights", "--key", "Cm"},
		"--text and --html - both go to standard output":        {"winter-lights", "--text", "--html", "-"},
		"no rig \"x\": file does not exist; built in are bass-": {"winter-lights", "--rig", "x"},
	} {
		if r := bedd(t, append([]string{"plan", "chart"}, args...)...); r.code != 2 || !strings.Contains(r.stderr, want) || r.stdout != "" {
			t.Errorf("%v: exit %d, %q%q, want %q", args, r.code, r.stdout, r.stderr, want)
		}
	}
}
