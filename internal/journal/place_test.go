package journal

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"
)

var evening = time.Date(2026, 11, 27, 19, 30, 5, 0, time.FixedZone("", 3600))

// begun makes a journal in a folder and ends it; it has a first line and more.
func begun(t testing.TB, dir string, at time.Time) (path string) {
	t.Helper()
	w := Start(Options{Dir: dir, Header: Header{Began: at, Moments: []Moment{{Key: "C", Home: []string{"C"}}}}, Alone: true})
	w.Step(Prepared, 0)
	if err := w.Close(1, "asked", 0); err != nil {
		t.Fatal(err)
	}
	return w.Path()
}

// XDG Base Directory Specification 0.8: $XDG_STATE_HOME, or ~/.local/state; a path
// there that is not absolute counts for nothing.
func TestDefaultDir(t *testing.T) {
	if runtime.GOOS == "windows" || runtime.GOOS == "darwin" {
		t.Skip("the system has its own place")
	}
	t.Setenv("HOME", "/home/maud")
	for state, want := range map[string]string{
		"":           "/home/maud/.local/state/bedd/journal",
		"state":      "/home/maud/.local/state/bedd/journal",
		"/srv/state": "/srv/state/bedd/journal",
	} {
		t.Setenv("XDG_STATE_HOME", state)
		if got, err := DefaultDir(); got != want || err != nil {
			t.Errorf("$XDG_STATE_HOME %q: %q, %v, want %q", state, got, err, want)
		}
	}
}

// A journal is for its user's eyes alone, its folder too, whatever the umask.
func TestPrivate(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "a", "b")
	path := begun(t, dir, evening)
	for _, c := range []struct {
		path string
		mode fs.FileMode
	}{{path, 0o600}, {dir, 0o700}, {filepath.Dir(dir), 0o700}} {
		info, err := os.Stat(c.path)
		if err != nil {
			t.Fatal(err)
		}
		if runtime.GOOS != "windows" && info.Mode().Perm() != c.mode {
			t.Errorf("%s has the mode %v, want %v", c.path, info.Mode().Perm(), c.mode)
		}
	}
}

// Sessions of one second have names of their own, and stand in their order.
func TestNames(t *testing.T) {
	dir := t.TempDir()
	var want []string
	for n := range 12 {
		path := begun(t, dir, evening)
		name := "2026-11-27T183005Z"
		if n > 0 {
			name += fmt.Sprintf("-%d", n+1)
		}
		if path != filepath.Join(dir, name+".jsonl") {
			t.Errorf("the journal is %s, want %s", path, name)
		}
		want = append(want, name)
	}
	begun(t, dir, evening.Add(-time.Hour))
	begun(t, dir, evening.Add(time.Second))
	want = append(append([]string{"2026-11-27T173005Z"}, want...), "2026-11-27T183006Z")
	for _, other := range []string{"notes.jsonl", "2026-11-27T183005Z", "2026-11-27T183005Z-1.jsonl", "2026-11-27T183005Z-02.jsonl", "2026-11-27T183005Z-x.jsonl", "2026-13-27T183005Z.jsonl"} {
		if err := os.WriteFile(filepath.Join(dir, other), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(filepath.Join(dir, "2026-11-28T183005Z.jsonl"), 0o700); err != nil {
		t.Fatal(err)
	}
	list, err := Sessions(dir)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, s := range list {
		got = append(got, s.Name)
		if s.Live || s.Size == 0 || s.Path != filepath.Join(dir, s.Name+".jsonl") {
			t.Errorf("%+v", s)
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("sessions %q, want %q", got, want)
	}
	if list[0].Began != evening.Add(-time.Hour).UTC() {
		t.Errorf("the first began %v", list[0].Began)
	}
	if list, err := Sessions(filepath.Join(dir, "none")); list != nil || err != nil {
		t.Errorf("a folder that is not there has %v, %v", list, err)
	}
}

// Two that write at once have files of their own, which are seen to be written, and
// no longer when they have ended.
func TestTwoAtOnce(t *testing.T) {
	dir := t.TempDir()
	h := Header{Began: evening, Moments: []Moment{{Key: "C", Home: []string{"C"}}}}
	var both [2]*Writer
	for i := range both {
		both[i] = Start(Options{Dir: dir, Header: h, Alone: true})
		both[i].Step(Prepared, 0)
		both[i].turn(0, true)
	}
	if both[0].Path() == both[1].Path() {
		t.Fatalf("both write to %s", both[0].Path())
	}
	list, err := Sessions(dir)
	if err != nil || len(list) != 2 {
		t.Fatal(list, err)
	}
	if runtime.GOOS != "windows" && (!list[0].Live || !list[1].Live) {
		t.Errorf("%+v", list)
	}
	if _, err := Find(dir, ""); runtime.GOOS != "windows" && err == nil {
		t.Error("a session that is being written is found")
	}
	for _, w := range both {
		if err := w.Close(1, "asked", 0); err != nil {
			t.Fatal(err)
		}
	}
	if list, _ = Sessions(dir); list[0].Live || list[1].Live {
		t.Errorf("%+v", list)
	}
	if path, err := Find(dir, ""); path != both[1].Path() || err != nil {
		t.Errorf("found %s, %v", path, err)
	}
}

func TestFind(t *testing.T) {
	dir := t.TempDir()
	path := begun(t, dir, evening)
	for _, name := range []string{path, "2026-11-27T183005Z", "2026-11-27T183005Z.jsonl", ""} {
		if got, err := Find(dir, name); got != path || err != nil {
			t.Errorf("%q is %q, %v", name, got, err)
		}
	}
	if _, err := Find(dir, "monday"); err == nil || !strings.HasPrefix(err.Error(), `there is no session "monday", neither here nor in `+dir) {
		t.Error(err)
	}
	if _, err := Find(t.TempDir(), ""); err == nil || !strings.HasSuffix(err.Error(), "yet: bedd play writes one") {
		t.Error(err)
	}
}

// The oldest go first, by number and by size; never those that are written, nor the
// one that is to stay, nor what is no journal.
func TestPrune(t *testing.T) {
	many := func(t *testing.T, n int) (dir string, paths []string) {
		dir = t.TempDir()
		for i := range n {
			path := filepath.Join(dir, nameOf(evening.Add(time.Duration(i)*time.Hour), 1))
			if err := os.WriteFile(path, make([]byte, 100), 0o600); err != nil {
				t.Fatal(err)
			}
			paths = append(paths, path)
		}
		if err := os.WriteFile(filepath.Join(dir, "letter.txt"), make([]byte, 10_000), 0o600); err != nil {
			t.Fatal(err)
		}
		return dir, paths
	}
	left := func(dir string) (n int) {
		list, _ := Sessions(dir)
		if _, err := os.Stat(filepath.Join(dir, "letter.txt")); err != nil {
			t.Error("the letter is gone")
		}
		return len(list)
	}
	t.Run("by number", func(t *testing.T) {
		dir, paths := many(t, 10)
		removed, err := Prune(dir, paths[1], 4, 1<<30)
		if err != nil || len(removed) != 6 || left(dir) != 4 || removed[0] != SessionName(paths[0]) || removed[1] != SessionName(paths[2]) {
			t.Errorf("%q, %v", removed, err)
		}
	})
	t.Run("by size", func(t *testing.T) {
		dir, paths := many(t, 10)
		removed, err := Prune(dir, paths[9], 100, 350)
		if err != nil || len(removed) != 7 || left(dir) != 3 {
			t.Errorf("%q, %v", removed, err)
		}
		if removed, err := Prune(dir, paths[9], 100, 0); err != nil || len(removed) != 2 || left(dir) != 1 {
			t.Errorf("the last is gone too: %q, %v", removed, err)
		}
	})
	t.Run("not those that are written", func(t *testing.T) {
		dir, _ := many(t, 3)
		w := Start(Options{Dir: dir, Header: Header{Began: evening.Add(-time.Hour), Moments: []Moment{{Key: "C", Home: []string{"C"}}}}, Alone: true})
		w.Step(Prepared, 0)
		w.turn(0, true)
		if removed, err := Prune(dir, "", 1, 1); err != nil || len(removed) != 3 || left(dir) != 1 {
			t.Errorf("%q, %v", removed, err)
		}
		if err := w.Close(0, "asked", 0); err != nil {
			t.Fatal(err)
		}
	})
	t.Run("when one begins", func(t *testing.T) {
		dir, paths := many(t, KeptSessions+5)
		begun(t, dir, evening.Add(10_000*time.Hour))
		if _, err := os.Stat(paths[5]); err == nil || left(dir) != KeptSessions {
			t.Errorf("%d are left", left(dir))
		}
	})
}

// A folder that cannot be made is told, and taken when it can.
func TestFolderThatCannotBeMade(t *testing.T) {
	blocked := filepath.Join(t.TempDir(), "state")
	if err := os.WriteFile(blocked, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	w := Start(Options{Dir: filepath.Join(blocked, "journal"), Header: Header{Began: evening, Moments: []Moment{{Key: "C", Home: []string{"C"}}}}, Alone: true})
	w.Step(Prepared, 0)
	w.turn(0, true)
	if got := heard(w); len(got) != 1 || !strings.Contains(got[0], "not being written: ") || !strings.Contains(got[0], blocked) || !w.Lost() {
		t.Errorf("told %q, lost %v", got, w.Lost())
	}
	if err := os.Remove(blocked); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(1, "asked", 0); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(w.Path())
	if err != nil {
		t.Fatal(err)
	}
	if list, _ := readAll(t, data); len(list) != 2 {
		t.Errorf("%d records", len(list))
	}
}

// A folder that is removed while it is written to is made again, with all of it.
func TestFolderThatVanishes(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("an open file cannot be removed")
	}
	dir := filepath.Join(t.TempDir(), "journal")
	w := Start(Options{Dir: dir, Header: Header{Began: evening, Moments: []Moment{{Key: "C", Home: []string{"C"}}}}, Alone: true})
	w.Step(Prepared, 0)
	w.turn(0, true)
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	w.Step(Rose, 1)
	if err := w.Close(1, "asked", 0); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(w.Path())
	if err != nil {
		t.Fatal(err)
	}
	if list, _ := readAll(t, data); len(list) != 3 || filepath.Dir(w.Path()) != dir {
		t.Errorf("%d records in %s", len(list), w.Path())
	}
}
