package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// leaveSongs leaves songs to import in a folder, under the names that --help uses.
func leaveSongs(t *testing.T, dir string) {
	t.Helper()
	const songs = "../../internal/score/testdata/songs/"
	for name, from := range map[string]string{"Herring Moon.musicxml": "kinds.musicxml", "kittiwake.mid": "03-js.mid", "slipway.mxl": "01.mxl"} {
		data, err := os.ReadFile(songs + from)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	const sheet = "The Ferry Waits\n\nVerse\nG  D/F#  Em7\nnobody sails tonight\n\nChorus\nC  D  G\nthe ferry waits\n"
	if err := os.WriteFile(filepath.Join(dir, "slipway.txt"), []byte(sheet), 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestImportPrintsAPlan(t *testing.T) {
	dir := t.TempDir()
	leaveSongs(t, dir)
	r := bedd(t, "plan", "import", filepath.Join(dir, "slipway.mxl"), filepath.Join(dir, "slipway.txt"))
	const want = `order:
  # from slipway.mxl: the key is from the signature
  - song: The Long Slipway
    key: Db
    tempo: 66
    sections:
      song: 1 5 2m 4 6m 2m7 5 1
    figure: Ab3 Db4 Eb4 F4 Ab4 Eb4

  # from slipway.txt: the key is guessed from the chords
  - song: The Ferry Waits
    key: G
    sections:
      verse: 1 5/7 6m7
      chorus: 4 5 1
`
	if r.code != 0 || r.stdout != want || r.stderr != "" {
		t.Errorf("exit %d\n%s%s", r.code, r.stdout, r.stderr)
	}
	plan := filepath.Join(dir, "new.yaml")
	if err := os.WriteFile(plan, []byte(r.stdout), 0o600); err != nil {
		t.Fatal(err)
	}
	if r := bedd(t, "plan", "chart", plan); r.code != 0 || !strings.Contains(r.stdout, "land in The Ferry Waits, in G") {
		t.Errorf("what is imported is no plan: %s%s", r.stdout, r.stderr)
	}
	if r := bedd(t, "plan", "import", "--names", "--key", "D", filepath.Join(dir, "slipway.txt")); !strings.Contains(r.stdout, "key: D\n") || !strings.Contains(r.stdout, "verse: G D/F# Em7\n") {
		t.Errorf("by name in D: %s%s", r.stdout, r.stderr)
	}
}

func TestImportIntoAPlan(t *testing.T) {
	dir := t.TempDir()
	leaveSongs(t, dir)
	plan, song := filepath.Join(dir, "sunday.yaml"), filepath.Join(dir, "slipway.mxl")
	r := bedd(t, "plan", "import", song, "--into", plan) // which is made
	if want := plan + ": The Long Slipway in Db\n  from slipway.mxl: the key is from the signature\n"; r.code != 0 || r.stdout != want {
		t.Errorf("got %q%s, want %q", r.stdout, r.stderr, want)
	}
	before, err := os.ReadFile(plan)
	if err != nil {
		t.Fatal(err)
	}
	r = bedd(t, "plan", "import", song, "--into", plan)
	if want := "bedd: " + plan + `:3: the song "The Long Slipway" is there already: take it out first, or give the new one another title` + "\n"; r.code != 2 || r.stderr != want {
		t.Errorf("exit %d, %q, want %q", r.code, r.stderr, want)
	}
	if after, err := os.ReadFile(plan); err != nil || string(after) != string(before) {
		t.Errorf("the plan is now\n%s%v", after, err)
	}
	if r := bedd(t, "plan", "import", filepath.Join(dir, "slipway.txt"), "--into", plan); r.code != 0 {
		t.Error(r.stderr)
	}
	after, err := os.ReadFile(plan)
	if err != nil || !strings.HasPrefix(string(after), string(before)) || !strings.Contains(string(after), "- song: The Ferry Waits\n") {
		t.Errorf("the plan is now\n%s%v", after, err)
	}
}

func TestImportSaysWhatIsWrong(t *testing.T) {
	dir := t.TempDir()
	leaveSongs(t, dir)
	words := filepath.Join(dir, "words.txt")
	if err := os.WriteFile(words, []byte("only words\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		want string
	}{
		{nil, "bedd plan import takes files to read: see bedd plan import --help"},
		{[]string{filepath.Join(dir, "none.mid")}, "open " + filepath.Join(dir, "none.mid") + ": no such file or directory"},
		{[]string{words}, "words.txt: there is no line of chords in this text"},
		{[]string{"--key", "H", words}, "--key: unknown key \"H\""},
	} {
		out := filepath.Join(dir, "plan.yaml")
		r := bedd(t, append([]string{"plan", "import", "--into", out}, c.args...)...)
		if r.code != 2 || !strings.Contains(r.stderr, c.want) || r.stdout != "" {
			t.Errorf("%v: exit %d, %q%q, want %q", c.args, r.code, r.stdout, r.stderr, c.want)
		}
		if _, err := os.Stat(out); err == nil {
			t.Errorf("%v: it leaves a plan", c.args)
		}
	}
}
