//go:build unix

package main

import (
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/journal"

	"github.com/spf13/pflag"
)

// sameFile reports whether two files have the same bytes.
func sameFile(t *testing.T, one, other string) bool {
	t.Helper()
	a, err := os.ReadFile(one)
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(other)
	if err != nil {
		t.Fatal(err)
	}
	return bytes.Equal(a, b)
}

// only gives the one session of a folder.
func only(t *testing.T, dir string) journal.Session {
	t.Helper()
	list, err := journal.Sessions(dir)
	if err != nil || len(list) != 1 {
		t.Fatalf("sessions %+v, %v, want one", list, err)
	}
	return list[0]
}

// What was played live comes out of its journal again, to the byte of the MIDI file.
func TestJournalGivesWhatWasPlayed(t *testing.T) {
	dir := t.TempDir()
	state, live, again := filepath.Join(dir, "state"), filepath.Join(dir, "live.mid"), filepath.Join(dir, "again.mid")
	r := bedd(t, "play", "--player", shortPerformance(t), "--no-sound", "--midi", live, "--journal", state)
	if r.code != 0 || !strings.Contains(r.stdout, "kept "+state) {
		t.Fatal(r)
	}
	s := only(t, state)
	if r := bedd(t, "render", "--journal", s.Path, "--midi", again, "--wav", filepath.Join(dir, "a.wav"), "--report", filepath.Join(dir, "a.svg")); r.code != 0 {
		t.Fatal(r.stderr)
	}
	if !sameFile(t, live, again) {
		t.Error("the MIDI files differ")
	}
	info, err := os.Stat(s.Path)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the journal's mode is %v, %v", info.Mode(), err)
	}
}

// From a keyboard too, in the user's own folder.
func TestJournalOfATerminal(t *testing.T) {
	state := t.TempDir()
	t.Setenv("XDG_STATE_HOME", state)
	live, again := filepath.Join(t.TempDir(), "live.mid"), filepath.Join(t.TempDir(), "again.mid")
	p := inTerminal(t, "winter-lights", "--moment", "collection", "--midi", live)
	p.sees("in Bb", "left foot: bring in")
	for _, key := range []string{" ", " ", "w", "u", "]", "l"} {
		p.press(key)
		time.Sleep(150 * time.Millisecond)
	}
	p.sees("last: land|last: to ")
	p.press("\x03")
	p.leaves()
	s := only(t, filepath.Join(state, "bedd", "journal"))
	if r := bedd(t, "render", "--journal", s.Name, "--midi", again); r.code != 0 {
		t.Fatal(r.stderr)
	}
	if !sameFile(t, live, again) {
		t.Error("the MIDI files differ")
	}
	// It ended as it should.
	r := bedd(t, "play", "--resume")
	if want := "--resume: the last session, " + s.Name + ", ended as it should, "; r.code != 1 || !strings.Contains(r.stderr, want) || !strings.Contains(r.stderr, "bedd play --resume "+s.Name) {
		t.Errorf("exit %d: %s", r.code, r.stderr)
	}
}

// The demo, and whoever says off, leave nothing in the user's history.
func TestNoJournal(t *testing.T) {
	state := t.TempDir()
	t.Setenv("XDG_STATE_HOME", state)
	if r := bedd(t, "play", "--player", shortPerformance(t), "--no-sound"); r.code != 0 {
		t.Fatal(r.stderr)
	}
	p := inTerminal(t, "--journal", "off")
	p.sees("left foot: bring in")
	p.press(" ")
	p.sees("last: to C")
	p.press("\x03")
	p.leaves()
	if list, err := os.ReadDir(state); err != nil || len(list) > 0 {
		t.Errorf("%v, %v", list, err)
	}
}

// A journal that cannot be written changes nothing that is played, and is told; a
// disk that fills up neither.
func TestJournalThatCannotBeWritten(t *testing.T) {
	dir := t.TempDir()
	blocked := file(t, "state", "no folder")
	performance := shortPerformance(t)
	for name, c := range map[string]struct{ place, told string }{
		"no folder":   {blocked, "the journal is not being written: " + blocked},
		"a full disk": {smallDisk(t), "the disk is full; the bed goes on"},
	} {
		if c.place == "" {
			continue
		}
		with, without := filepath.Join(dir, "with.mid"), filepath.Join(dir, "without.mid")
		r := bedd(t, "play", "--player", performance, "--no-sound", "--midi", with, "--journal", c.place)
		if r.code != 0 || !strings.Contains(r.stdout, c.told) || !strings.Contains(r.stdout, "the journal is not whole: ") {
			t.Errorf("%s: exit %d\n%s%s", name, r.code, r.stdout, r.stderr)
		}
		if r := bedd(t, "render", "--performance", performance, "--midi", without); r.code != 0 {
			t.Fatal(r.stderr)
		}
		if !sameFile(t, with, without) {
			t.Errorf("%s: the MIDI files differ", name)
		}
	}
	p := inTerminal(t, "--journal", blocked)
	p.sees("✕ journal LOST", "! the journal is not being written")
	p.press(" ")
	p.sees("last: to C")
	p.press("\x03")
	p.leaves()
}

// Started where there is no place for a user's files, as a service may be, bedd plays.
func TestNoPlaceForAJournal(t *testing.T) {
	t.Setenv("XDG_STATE_HOME", "not/a/full/path") // which does not count
	t.Setenv("HOME", "")
	p := inTerminal(t)
	p.sees("! no journal is kept: .*HOME.*")
	p.press(" ")
	p.sees("last: to C")
	p.press("\x03")
	p.leaves()
	if _, err := os.Stat("not"); err == nil {
		t.Error("the path that is not full was taken")
	}
	if r := bedd(t, "render", "--journal", demoJournal, "--midi", filepath.Join(t.TempDir(), "a.mid")); r.code != 0 {
		t.Error(r.stderr)
	}
	p = inTerminal(t, "--resume", demoJournal)
	p.sees("going on from winter-lights, which ended ")
	p.press("\x03")
	p.leaves()
}

// Killed at any instant, bedd has left where it was: the next goes on there, at once
// and softly, with the chord, key, moment and intensity that it had.
func TestKilledAndGoneOnFrom(t *testing.T) {
	state := t.TempDir()
	t.Setenv("XDG_STATE_HOME", state)
	dir := filepath.Join(state, "bedd", "journal")
	p := inTerminal(t, "winter-lights", "--moment", "collection")
	p.sees("in Bb", "left foot: bring in")
	keys := []string{" ", "\x1b[A", "w", " ", "]"}
	for i := range 5 {
		for _, key := range keys[:1+rand.IntN(len(keys))] {
			p.press(key)
			time.Sleep(100 * time.Millisecond)
		}
		time.Sleep(time.Duration(rand.IntN(300)) * time.Millisecond)
		p.cmd.Process.Kill()
		<-p.ended
		path, err := journal.Find(dir, "")
		if err != nil {
			t.Fatal(err)
		}
		last, err := journal.ReadLast(path)
		if err != nil || last.Closed || last.State == nil {
			t.Fatalf("after kill %d: %+v, %v", i+1, last, err)
		}
		was := *last.State
		if was.Phase == bed.Silent {
			t.Fatalf("after kill %d it was silent: %+v", i+1, was)
		}
		began := time.Now()
		p = inTerminal(t, "--resume")
		p.sees("left foot: ", regexp.QuoteMeta("now "+was.Chord.Symbol()+", "), "in "+regexp.QuoteMeta(was.Key.String()))
		t.Logf("%s after %d ms", was.Chord.Symbol(), time.Since(began).Milliseconds())
		// Its own journal has it: the same state first, the bed in at 0.
		again := waitFor(t, dir, path)
		if h := again.Header; h.Resume == nil || h.Resume.Session != last.Name || *h.Resume.State != was {
			t.Fatalf("after kill %d it goes on from %+v, want %+v", i+1, h.Resume, was)
		}
		now := again.State
		if now.Chord != was.Chord || now.Key != was.Key || now.Moment != was.Moment || now.Place != was.Place || now.Group != was.Group || now.Index != was.Index || now.Phase == bed.Silent {
			t.Errorf("after kill %d it stands at %+v, want %+v", i+1, now, was)
		}
		if d := now.Intensity - was.Intensity; d > 0.01 || d < -0.01 {
			t.Errorf("after kill %d the intensity is %v, want %v", i+1, now.Intensity, was.Intensity)
		}
	}
	p.cmd.Process.Kill()
	<-p.ended
	list, err := journal.Sessions(dir)
	if err != nil || len(list) != 6 {
		t.Fatalf("%d sessions, %v", len(list), err)
	}
	for _, s := range list { // those that go on from others too
		if r := bedd(t, "render", "--journal", s.Path, "--midi", filepath.Join(t.TempDir(), "a.mid")); r.code != 0 {
			t.Errorf("%s: %s", s.Name, r.stderr)
		}
	}
	// Who has not asked for it is told of it, and can do as told: twice over, and though
	// a session has ended in between. One that the bed came in in is another thing.
	for range 2 {
		p = inTerminal(t)
		p.sees("the last session broke off .* bedd play --resume goes on")
		p.press("\x03")
		p.leaves()
	}
	p = inTerminal(t, "--resume")
	p.sees("going on from " + list[5].Name)
	p.cmd.Process.Kill()
	<-p.ended
	list, err = journal.Sessions(dir)
	if err != nil || len(list) != 9 {
		t.Fatalf("%d sessions, %v", len(list), err)
	}
	p = inTerminal(t)
	p.sees("the last session broke off .* bedd play --resume goes on")
	p.press(" ")
	p.sees("last: to ")
	p.press("\x03")
	p.leaves()
	r := bedd(t, "play", "--resume")
	if want := "; before it " + list[8].Name + " broke off, "; r.code != 1 || !strings.Contains(r.stderr, want) {
		t.Errorf("exit %d: %s, want %s", r.code, r.stderr, want)
	}
}

// waitFor gives the end of the journal after one, as soon as it says where the bed is.
func waitFor(t *testing.T, dir, before string) journal.Last {
	t.Helper()
	for range 1000 {
		list, err := journal.Sessions(dir)
		if err != nil {
			t.Fatal(err)
		}
		if n := len(list); n > 0 && list[n-1].Path != before {
			if last, err := journal.ReadLast(list[n-1].Path); err == nil && last.State != nil && last.State.Phase != bed.Silent {
				return last
			}
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatal("no journal says where the bed is")
	return journal.Last{}
}

func TestResumeIsTold(t *testing.T) {
	state := t.TempDir()
	t.Setenv("XDG_STATE_HOME", state)
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--resume"}, "--resume: there is no session in " + filepath.Join(state, "bedd", "journal") + " to go on from: bedd play writes one"},
		{[]string{"--resume", "monday"}, `--resume: there is no session "monday"`},
		{[]string{"--resume", demoJournal, "winter-lights"}, `--resume goes without a plan: the session has its own; leave out "winter-lights"`},
		{[]string{"--resume", demoJournal, "--key", "Eb"}, "--key goes without a journal: the journal says it"},
		{[]string{"--resume", demo}, "winter-lights.mid:1: this is no journal of bedd's"},
	} {
		if r := bedd(t, append([]string{"play"}, c.args...)...); r.code != 2 || !strings.Contains(r.stderr, c.want) {
			t.Errorf("%q: exit %d, %s, want %s", c.args, r.code, r.stderr, c.want)
		}
	}
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--journal", demoJournal, "--performance", demo}, "--journal and --performance go one at a time"},
		{[]string{"--journal", demoJournal, "winter-lights"}, "--journal goes without a plan"},
		{[]string{"--journal", demoJournal, "--rig", "default"}, "--rig goes without a journal"},
		{[]string{"--journal", demoJournal, "--stillness", "1"}, "--stillness goes without a journal"},
		{[]string{"--journal", "nowhere"}, `--journal: there is no session "nowhere"`},
		{[]string{"--journal", demo}, "winter-lights.mid:1: this is no journal"},
	} {
		if r := bedd(t, append([]string{"render"}, c.args...)...); r.code != 2 || !strings.Contains(r.stderr, c.want) {
			t.Errorf("%q: exit %d, %s, want %s", c.args, r.code, r.stderr, c.want)
		}
	}
	// A device that is gone is told as the session's, with the way on.
	data, err := os.ReadFile(demoJournal)
	if err != nil {
		t.Fatal(err)
	}
	gone := file(t, "session.jsonl", strings.Replace(string(data), `"first":0`, `"first":0,"options":{"out":["No such module"]}`, 1))
	if r := bedd(t, "play", "--resume", gone); r.code == 0 || !strings.Contains(r.stderr, "; session had --out No such module: say others beside --resume, or --no-midi") {
		t.Errorf("exit %d: %s", r.code, r.stderr)
	}
	p := inTerminal(t, "--resume", gone, "--no-midi")
	p.sees("in Bb  the collection", "going on from session, which ended ")
	p.press("\x03")
	p.leaves()
	// One that ended is gone on from where it is named, in silence.
	p = inTerminal(t, "--resume", demoJournal)
	p.sees("in Bb  the collection", "left foot: bring in ▸ Bbmaj7", "silent", "going on from winter-lights, which ended ")
	p.press("\x03")
	p.leaves()
}

// A journal with a gap, or that another bedd wrote, gives what was played, and the
// run fails.
func TestReplayThatIsNotExactFails(t *testing.T) {
	data, err := os.ReadFile(demoJournal)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	whole := filepath.Join(dir, "whole.mid")
	if r := bedd(t, "render", "--journal", demoJournal, "--midi", whole); r.code != 0 {
		t.Fatal(r.stderr)
	}
	lines := strings.SplitAfter(string(data), "\n")
	gap := strings.Join(lines[:500], "") + `{"t":20000000000,"k":"gap","calls":2,"thru":0,"other":0}` + "\n" + strings.Join(lines[500:], "")
	other := strings.Replace(string(data), `["bright",0,`, `["bright",1,`, 1)
	for name, c := range map[string]struct{ text, want string }{
		"a gap":        {gap, ": from 0:20.0 on records are missing: what is written is what was recorded"},
		"another bedd": {other, "this bedd would play otherwise; what is written is what was played"},
	} {
		path, midi := file(t, "session.jsonl", c.text), filepath.Join(dir, "out.mid")
		r := bedd(t, "render", "--journal", path, "--midi", midi)
		if r.code != 1 || !strings.Contains(r.stderr, c.want) {
			t.Errorf("%s: exit %d, %s", name, r.code, r.stderr)
		}
		if same := sameFile(t, whole, midi); same != (name == "a gap") {
			t.Errorf("%s: the file is as from the whole journal: %v", name, same)
		}
	}
}

// Who goes on has the devices that the session had, but for what is said again; the
// page and files to write are not among them.
func TestOptionsAreTakenOver(t *testing.T) {
	parse := func(args ...string) (*playFlags, *pflag.FlagSet) {
		f := new(playFlags)
		flags := f.command().Flags()
		if err := flags.Parse(args); err != nil {
			t.Fatal(err)
		}
		return f, flags
	}
	_, was := parse("--in", "Stage", "--in", "Board, the old one", "--out-bed", "Module", "--baud", "off", "--no-guard", "--page=0.0.0.0:62333", "--midi", "out.mid", "--ceiling", "-6")
	kept := options(was)
	kept["page"] = []string{"0.0.0.0:62333"} // which nobody writes
	took := func(args ...string) *playFlags {
		t.Helper()
		f, flags := parse(args...)
		if err := takeOptions(flags, kept); err != nil {
			t.Error(err)
		}
		return f
	}
	f := took("--out-bed", "Rack", "--frames", "128")
	p := f.ports
	if !slices.Equal(p.ins, []string{"Stage", "Board, the old one"}) || !slices.Equal(p.outsBed, []string{"Rack"}) || p.baud != "off" || !p.noGuard || f.page.address != "" || f.midi != "" || f.frames != 128 || f.choice.ceiling != -6 {
		t.Errorf("%+v, page %q, midi %q, frames %d", p, f.page.address, f.midi, f.frames)
	}
	// Whoever has other outputs, or none, since the session's are broken.
	if p := took("--out", "Rack").ports; len(p.ins) != 2 || len(p.outsBed) > 0 || !slices.Equal(p.outs, []string{"Rack"}) {
		t.Errorf("with another output %+v", p)
	}
	if p := took("--no-midi").ports; p.wants() {
		t.Errorf("without MIDI %+v", p)
	}
	kept = map[string][]string{"no-midi": {"true"}}
	if p := took("--in", "Stage").ports; p.noMIDI {
		t.Errorf("with an input %+v", p)
	}
	kept = map[string][]string{"frames": {"many"}}
	if _, flags := parse(); takeOptions(flags, kept) == nil {
		t.Error("many frames are taken")
	}
}
