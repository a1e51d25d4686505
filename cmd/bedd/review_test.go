package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/creack/pty"
)

const (
	thisTime = "2026-11-27T193000Z"
	lastTime = "2026-11-20T193000Z"
)

// history is a user's state with two sessions, the earlier of which breaks off in a
// line, and a folder to work in.
type history struct {
	t                     *testing.T
	state, journals, work string
}

func newHistory(t *testing.T) history {
	t.Helper()
	h := history{t: t, state: t.TempDir(), work: t.TempDir()}
	h.journals = filepath.Join(h.state, "bedd", "journal")
	text, err := os.ReadFile("../../testdata/winter-lights.jsonl")
	if err := errors.Join(err, os.MkdirAll(h.journals, 0o700),
		os.WriteFile(filepath.Join(h.journals, thisTime+".jsonl"), text, 0o600),
		os.WriteFile(filepath.Join(h.journals, lastTime+".jsonl"), text[:len(text)*2/3], 0o600),
		os.WriteFile(filepath.Join(h.work, "report.jsonl"), text, 0o600)); err != nil {
		t.Fatal(err)
	}
	return h
}

// sh runs a line of a shell, in which bedd is this bedd.
func (h history) sh(line string, env ...string) result {
	h.t.Helper()
	cmd := exec.Command("sh", "-c", strings.ReplaceAll(line, "bedd ", binary+" "))
	cmd.Dir = h.work
	cmd.Env = append(append(os.Environ(), "XDG_STATE_HOME="+h.state), env...)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	err := cmd.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		h.t.Fatal(err)
	}
	return result{stdout: out.String(), stderr: errs.String(), code: cmd.ProcessState.ExitCode()}
}

func (h history) file(name string) []byte {
	h.t.Helper()
	data, err := os.ReadFile(filepath.Join(h.work, name))
	if err != nil {
		h.t.Fatal(err)
	}
	return data
}

// A session is found by its number, its name, the start of it, its file, its folder;
// without any it is the newest.
func TestReviewFindsSessions(t *testing.T) {
	h := newHistory(t)
	newest, earlier := h.sh("bedd review").stdout, h.sh("bedd review 2").stdout
	if !strings.Contains(newest, "with its performance") || strings.Contains(earlier, "with its performance") || newest == earlier {
		t.Fatalf("the newest is\n%s\nthe earlier\n%s", newest, earlier)
	}
	for _, name := range []string{"1", thisTime, thisTime + ".jsonl", "2026-11-27", h.journals, filepath.Join(h.journals, thisTime+".jsonl"), "report.jsonl"} {
		if got := h.sh("bedd review " + name); got.stdout != newest || got.code != 0 || got.stderr != "" {
			t.Errorf("%s gives %d, %s, %s", name, got.code, got.stdout, got.stderr)
		}
	}
	if got := h.sh("bedd review 2026-11-20"); got.stdout != earlier {
		t.Errorf("the earlier one is\n%s", got.stdout)
	}
	for _, want := range []string{"! the journal breaks off without an end: bedd was killed, or the power went\n", "! its last "} {
		if !strings.Contains(earlier, want) {
			t.Errorf("the torn journal is told without %q:\n%s", want, earlier)
		}
	}
	for _, line := range []string{"bedd review 1 2", "bedd review --against 2", "bedd review 1 --against 2026-11-20"} {
		if got := h.sh(line); got.code != 0 || !strings.Contains(got.stdout, "difference") || !strings.Contains(got.stdout, "the bed sounded") || !strings.Contains(got.stdout, "+") {
			t.Errorf("%s gives %d, %s%s", line, got.code, got.stdout, got.stderr)
		}
	}
}

func TestReviewLists(t *testing.T) {
	h := newHistory(t)
	got := h.sh("bedd review --list", "TZ=UTC")
	lines := strings.Split(got.stdout, "\n")
	if got.code != 0 || len(lines) != 3 || !strings.HasPrefix(lines[0], "  1  "+thisTime+"  Fri 27 Nov 2026 19:30 ") || !strings.HasSuffix(lines[0], "  Winter Lights in the net loft") || !strings.HasPrefix(lines[1], "  2  "+lastTime) {
		t.Errorf("the list is %d\n%s%s", got.code, got.stdout, got.stderr)
	}
	var list []listedSession
	if err := json.Unmarshal([]byte(h.sh("bedd review --list --json").stdout), &list); err != nil || len(list) != 2 || list[0].Name != thisTime || list[0].Live || list[1].Number != 2 {
		t.Errorf("as JSON it is %+v, %v", list, err)
	}
	if got := h.sh("bedd review --list " + h.journals); got.stdout != h.sh("bedd review --list").stdout {
		t.Errorf("the folder's list is\n%s", got.stdout)
	}
}

// What is wrong is said, with where and what to do.
func TestReviewErrors(t *testing.T) {
	h := newHistory(t)
	empty := t.TempDir()
	song := file(t, "song.jsonl", "a song, really\n")
	journal := filepath.Join(h.journals, thisTime+".jsonl")
	for line, want := range map[string]struct {
		code int
		says string
	}{
		"bedd review 3":                            {2, "bedd: session 3 is out of range 1…2: see bedd review --list\n"},
		"bedd review 0":                            {2, "bedd: session 0 is out of range 1…2: see bedd review --list\n"},
		"bedd review 2025":                         {2, "bedd: session 2025 is out of range 1…2: see bedd review --list\n"},
		"bedd review 2026-11":                      {2, "bedd: 2 sessions begin with \"2026-11\": write more of the name, see bedd review --list\n"},
		"bedd review nowhere":                      {2, "bedd: there is no session and no file \"nowhere\": see bedd review --list\n"},
		"bedd review 1 2 3":                        {2, "bedd: bedd review takes two sessions at most, not 3\n"},
		"bedd review 1 2 --against 2":              {2, "bedd: name the other session once: as the second argument, or with --against\n"},
		"bedd review " + song:                      {2, "bedd: " + song + ":1: this is no journal of bedd's: its first line is not a header\n"},
		"bedd review " + empty:                     {1, "bedd: there are no sessions in " + empty + ": bedd play keeps a journal there, or name a journal's file\n"},
		"bedd review --list " + empty:              {1, "bedd: there are no sessions in " + empty + ": bedd play keeps a journal there, or name a journal's file\n"},
		"bedd review --list nowhere":               {2, "bedd: nowhere is no folder: --list takes a folder of journals\n"},
		"bedd review --midi " + journal:            {2, "bedd: --midi would overwrite the journal, " + journal + ": name another file\n"},
		"bedd review 1 2 --html " + journal:        {2, "bedd: --html would overwrite the journal, " + journal + ": name another file\n"},
		"bedd review --csv x --html x":             {2, "bedd: --csv would overwrite the file of --html, x: name another file\n"},
		"bedd review --csv -":                      {2, "bedd: --csv needs the name of a file, not -\n"},
		"XDG_STATE_HOME=" + empty + " bedd review": {1, "bedd: there are no sessions in " + empty + "/bedd/journal: bedd play keeps a journal there, or name a journal's file\n"},
	} {
		if got := h.sh(line); got.code != want.code || got.stderr != want.says || got.stdout != "" {
			t.Errorf("%s gives %d, %q, want %d, %q", line, got.code, got.stderr, want.code, want.says)
		}
	}
}

// The files that are asked for are written, and nothing else is told; the MIDI file
// is the one that render makes of the journal, and of its anonymous copy.
func TestReviewWritesFiles(t *testing.T) {
	h := newHistory(t)
	got := h.sh("bedd review --html a.html --midi a.mid --csv a.csv --anonymise a.jsonl")
	if got.code != 0 || got.stdout != "" || got.stderr != "wrote a.html\nwrote a.csv\nwrote a.mid\nwrote a.jsonl\n" {
		t.Fatalf("it gives %d, %q, %q", got.code, got.stdout, got.stderr)
	}
	for name, want := range map[string]string{"a.html": "<!doctype html>", "a.csv": "at_s,kind,", "a.mid": "MThd", "a.jsonl": `{"k":"bedd journal"`} {
		if data := h.file(name); !bytes.HasPrefix(data, []byte(want)) {
			t.Errorf("%s begins with %.40q", name, data)
		}
	}
	for _, journal := range []string{"a.jsonl", "report.jsonl"} {
		if got := h.sh("bedd render --journal " + journal + " --midi b.mid"); got.code != 0 || !bytes.Equal(h.file("b.mid"), h.file("a.mid")) {
			t.Errorf("render makes another file of %s: %d, %s", journal, got.code, got.stderr)
		}
	}
	var told struct {
		Session struct{ Title string }
		Figures struct{ Chords int }
	}
	if err := json.Unmarshal([]byte(h.sh("bedd review --json --csv a.csv").stdout), &told); err != nil || told.Figures.Chords != 13 || told.Session.Title != "Winter Lights in the net loft" {
		t.Errorf("as JSON it is %+v, %v", told, err)
	}
}

// Weights and colours are for terminals, and for who forces them; NO_COLOR takes the
// colours away (no-color.org).
func TestReviewIsPlainWhereItShouldBe(t *testing.T) {
	h := newHistory(t)
	plain, forced := h.sh("bedd review").stdout, h.sh("bedd review", "CLICOLOR_FORCE=1", "TERM=xterm-256color").stdout
	if strings.Contains(plain, "\x1b") || !strings.Contains(forced, "\x1b[1m") || !strings.Contains(forced, "31m") {
		t.Errorf("plain:\n%q\nforced:\n%q", plain, forced)
	}
	if seen := h.terminal("TERM=xterm-256color"); !strings.Contains(seen, "31m") || !strings.Contains(seen, "\r\x1b[Kreading [") {
		t.Errorf("on a terminal there is no colour, or no progress bar:\n%q", seen)
	}
	if seen := h.terminal("NO_COLOR=1", "TERM=xterm-256color"); strings.Contains(seen, "31m") || !strings.Contains(seen, "\x1b[1m") {
		t.Errorf("with NO_COLOR:\n%q", seen)
	}
}

// terminal gives what a terminal gets to see of the newest session.
func (h history) terminal(env ...string) string {
	h.t.Helper()
	cmd := exec.Command(binary, "review")
	cmd.Env = append(append(os.Environ(), "XDG_STATE_HOME="+h.state), env...)
	f, err := pty.StartWithSize(cmd, &pty.Winsize{Rows: 40, Cols: 100})
	if err != nil {
		h.t.Fatal(err)
	}
	defer f.Close()
	seen, _ := io.ReadAll(f) // a terminal whose program is gone ends with an error
	if err := cmd.Wait(); err != nil {
		h.t.Fatal(err)
	}
	return string(seen)
}

// The examples of review --help run.
func TestReviewExamplesRun(t *testing.T) {
	h := newHistory(t)
	_, examples, _ := strings.Cut(bedd(t, "review", "--help").stdout, "Examples:\n")
	examples, _, _ = strings.Cut(examples, "\n\n")
	ran := 0
	for _, line := range strings.Split(examples, "\n") {
		line, _, _ = strings.Cut(strings.TrimSpace(line), "   ")
		if got := h.sh(line); got.code != 0 {
			t.Errorf("%s gives %d, %s", line, got.code, got.stderr)
		}
		ran++
	}
	if ran < 6 {
		t.Errorf("only %d examples ran", ran)
	}
}
