package review

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/journal"
	"bedd/internal/midiio"
	"bedd/internal/midiio/readback"
	"bedd/internal/session"
)

// packages is where scripts/anchors/packages has put the independent npm packages.
var packages = flag.String("packages", "", "the folder of the npm packages")

// performed is what render makes of the demo's performance.
func performed(t testing.TB) *session.Take {
	t.Helper()
	rig, err := gathering.OpenRig("saltmere")
	if err != nil {
		t.Fatal(err)
	}
	f, err := midiio.ReadFile("../../testdata/winter-lights.mid")
	if err != nil {
		t.Fatal(err)
	}
	take, _, _, err := session.Perform(rig, winterLights(t).BedMoments(), f, nil)
	if err != nil {
		t.Fatal(err)
	}
	return take
}

// exported writes a journal's MIDI file.
func exported(t testing.TB, path string) (file string) {
	t.Helper()
	file = filepath.Join(t.TempDir(), "out.mid")
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := MIDI(f, path); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	return file
}

// message is one message of a track at a time, as an independent reader has it.
type message struct {
	track string
	tick  int64
	data  string // bytes
}

// played are the messages that render has made of the demo, at 480 ticks to a quarter
// note and 120 a minute, in the order of each track.
func played(t testing.TB) (list []message) {
	t.Helper()
	for _, s := range performed(t).Sent() {
		list = append(list, message{s.From.String(), int64((s.At*960 + time.Second/2) / time.Second), string(s.Data)})
	}
	return list
}

// sameMessages compares a file as an independent reader has it with what was played.
// Where two tracks meet on one key at one tick the bed's end comes a tick earlier.
func sameMessages(t *testing.T, got []message) {
	t.Helper()
	want := played(t)
	tracks := map[string][2][]message{}
	for i, list := range [2][]message{got, want} {
		for _, m := range list {
			both := tracks[m.track]
			both[i] = append(both[i], m)
			tracks[m.track] = both
		}
	}
	compared := 0
	for name, both := range tracks {
		if len(both[0]) != len(both[1]) {
			t.Errorf("%s has %d messages, want %d", name, len(both[0]), len(both[1]))
			continue
		}
		for i, m := range both[0] {
			if w := both[1][i]; m.data != w.data || m.tick < w.tick-1 || m.tick > w.tick {
				t.Errorf("%s: message %d is % X at tick %d, want % X at %d", name, i, m.data, m.tick, w.data, w.tick)
			}
			compared++
		}
	}
	if compared < 500 {
		t.Errorf("only %d messages were compared", compared)
	}
}

// The MIDI file of a journal has every message of the session in its track, at its
// time, as python3-mido reads it.
func TestMIDIAsMidoReadsIt(t *testing.T) {
	file := exported(t, evening)
	var got []message
	f := readback.Read(t, file)
	if f.Type != 1 || f.Division != 480 || len(f.Tracks) != 1+int(session.NumOrigins) {
		t.Errorf("format %d, %d ticks a quarter note, %d tracks", f.Type, f.Division, len(f.Tracks))
	}
	markers := 0
	for _, track := range f.Tracks {
		for _, e := range track.Events {
			if kind, _, meta := e.Meta(); !meta {
				got = append(got, message{track.Name, e.Tick, string(e.Data)})
			} else if kind == midiio.Marker {
				markers++
			}
		}
	}
	sameMessages(t, got)
	if s := reviewed(t, evening); markers != len(s.Chords)+len(s.Orders) {
		t.Errorf("%d markers for %d chords and %d orders", markers, len(s.Chords), len(s.Orders))
	}
}

// The same as npm's midi-file reads it; run by make bench-anchors.
func TestMIDIAsMidiFileReadsIt(t *testing.T) {
	if *packages == "" {
		t.Skip("no npm packages: run make bench-anchors")
	}
	file := exported(t, evening)
	out, err := exec.Command("node", "../../scripts/anchors/notes.mjs", *packages, file).Output()
	if err != nil {
		t.Fatal(err)
	}
	var rows []struct {
		Track string
		Tick  int64
		Data  []byte // base64
	}
	if err := json.Unmarshal(out, &rows); err != nil {
		t.Fatal(err)
	}
	var got []message
	for _, r := range rows {
		got = append(got, message{r.Track, r.Tick, string(r.Data)})
	}
	sameMessages(t, got)
}

// ours are the words of the demo's plan, rig and ports, and its wall clock.
var ours = []string{"Winter", "Maud", "Terrick", "lifeboat", "Ove", "Larkin", "Tilda", "Fenn", "boats", "Saltmere", "saltmere", "Stage", "Module", "Salt on", "Ferry",
	"Nets", "one lamp", "that latches", "2026"}

// anonymised writes a journal without its words.
func anonymised(t testing.TB, path string) string {
	t.Helper()
	bare := filepath.Join(t.TempDir(), "bare.jsonl")
	f, err := os.Create(bare)
	if err != nil {
		t.Fatal(err)
	}
	if err := Anonymise(f, path); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	return bare
}

// replayed plays a journal again.
func replayed(t testing.TB, path string) session.Replayed {
	t.Helper()
	r, err := journal.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	rig, moments, err := session.Recorded(r.Header())
	if err != nil {
		t.Fatal(err)
	}
	p, err := session.Replay(rig, moments, nil, r, nil)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Without its words a journal has none of them left, and plays just the same.
func TestAnonymousJournalPlaysTheSame(t *testing.T) {
	bare := anonymised(t, evening)
	text, err := os.ReadFile(bare)
	if err != nil {
		t.Fatal(err)
	}
	with, err := os.ReadFile(evening)
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range ours {
		if strings.Contains(string(text), w) {
			t.Errorf("%q is still there", w)
		}
		if !strings.Contains(string(with), w) {
			t.Errorf("%q was never there", w)
		}
	}
	got, want := replayed(t, bare), replayed(t, evening)
	if got.Otherwise != nil || !reflect.DeepEqual(got.Take.Sent(), want.Take.Sent()) || !reflect.DeepEqual(got.Take.Marks, want.Take.Marks) || len(got.Take.Sent()) < 500 {
		t.Errorf("it plays otherwise: %+v", got.Otherwise)
	}
	s := reviewed(t, bare)
	if about := s.heading() + s.about(); about != "bare0:54 long, rig nameless, bedd (example); ended with its performance" {
		t.Errorf("its head is %q", about)
	}
	f, g := s.Sum(), reviewed(t, evening).Sum()
	for i := range f.Moments {
		f.Moments[i].Title, g.Moments[i].Title = "", ""
	}
	for i := range f.Progressions {
		f.Progressions[i].Moment, g.Progressions[i].Moment = "", ""
	}
	f.Wires, g.Wires, f.Notices, g.Notices = nil, nil, nil, nil
	if !reflect.DeepEqual(f, g) {
		t.Errorf("its figures are\n%+v, want\n%+v", f, g)
	}
}

// sameButForWords compares a journal with its anonymous copy: every line of what was
// played is there as it was, and the beds are the same.
func sameButForWords(t tester, path string) {
	t.Helper()
	var bare bytes.Buffer
	if err := Anonymise(&bare, path); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	head, lines, _ := strings.Cut(string(text), "\n")
	var want []string
	for _, line := range strings.SplitAfter(lines, "\n") {
		if !strings.Contains(line, `"k":"cue"`) && !strings.Contains(line, `"k":"notice"`) {
			want = append(want, line)
		}
	}
	bareHead, got, _ := strings.Cut(bare.String(), "\n")
	if got != strings.Join(want, "") {
		t.Error("its lines are others")
	}
	var beds [2][]bed.Moment
	var rigs [2]gathering.Rig
	for i, head := range []string{head, bareHead} {
		r, err := journal.NewReader("x", strings.NewReader(head+"\n"))
		if err != nil {
			t.Fatal(err)
		}
		if rigs[i], beds[i], err = session.Recorded(r.Header()); err != nil {
			t.Fatal(err)
		}
		rigs[i].Name = ""
	}
	if !reflect.DeepEqual(beds[0], beds[1]) || !reflect.DeepEqual(rigs[0], rigs[1]) {
		t.Error("its beds are others")
	}
}

// Damaged lines stay a gap, and what nobody knows is left out.
func TestAnonymiseKeepsGaps(t *testing.T) {
	const rig = `switches:\n  - {control: controller 80, press: step, hold: fade}\n`
	head := `{"k":"bedd journal","version":1,"rig":{"name":"Tilda's","text":"` + rig + `"},"moments":[{"key":"C","home":["C"]}],"secret":"Tilda","options":{"out":["Tilda's"],"soundfont":["/home/Tilda/pad.sf2"]},"ports":[{"way":"in","name":"Tilda's"}]}` + "\n"
	r, err := journal.NewReader("x", strings.NewReader(head+`{"t":1,"k":"setup"}`+"\n"+`Tilda`+"\n"+`{"t":2,"k":"diary","text":"Tilda"}`+"\n"+`{"t":3,"k":"notice","text":"Tilda"}`+"\n"+`{"t":4,"k":"finish"}`+"\n"))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := anonymise(&out, r); err != nil {
		t.Fatal(err)
	}
	want := `{"t":1,"k":"setup"}` + "\n" + `{"t":2,"k":"gap","calls":0,"thru":0,"other":1}` + "\n" + `{"t":4,"k":"finish"}` + "\n"
	if _, lines, _ := strings.Cut(out.String(), "\n"); strings.Contains(out.String(), "Tilda") || lines != want {
		t.Errorf("it is\n%s\nwant\n%s", out.String(), want)
	}
	r, _ = journal.NewReader("x", strings.NewReader(strings.Replace(head, "switches", "pedals", 1)))
	var faults *gathering.FileError
	if err := anonymise(&out, r); !errors.As(err, &faults) {
		t.Errorf("with a bad rig it gives %v", err)
	}
}

func TestCSVReadsBack(t *testing.T) {
	s := reviewed(t, evening)
	var out bytes.Buffer
	if err := s.CSV(&out); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&out).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	entries := s.Entries()
	if len(rows) != 1+len(entries) || !reflect.DeepEqual(rows[0], csvColumns) {
		t.Fatalf("%d rows for %d entries, the first is %v", len(rows), len(entries), rows[0])
	}
	chords := 0
	for i, e := range entries {
		row := rows[1+i]
		if row[0] != real(e.At) || row[1] != e.Kind || row[2] != cell(e.What) {
			t.Errorf("row %d is %v, want %+v", i, row, e)
		}
		if e.Kind == "chord" {
			chords++
			if row[7] == "" || row[8] == "" || row[12] != real(e.Intensity) {
				t.Errorf("row %d is %v", i, row)
			}
		}
	}
	if chords != len(s.Chords) {
		t.Errorf("%d chords, want %d", chords, len(s.Chords))
	}
}

// No text of a plan becomes a formula of a spreadsheet.
func TestCSVHasNoFormulas(t *testing.T) {
	for text, want := range map[string]string{"=1+1": "'=1+1", "@sum": "'@sum", "-2": "'-2", "+3": "'+3", " =4": "' =4", "the talk": "the talk", "": "", "\t=5": "'=5"} {
		if got := cell(text); got != want {
			t.Errorf("cell(%q) = %q, want %q", text, got, want)
		}
	}
}

func TestJSONHasItAll(t *testing.T) {
	s := reviewed(t, evening)
	var one, two bytes.Buffer
	if err := errors.Join(s.JSON(&one, nil), s.JSON(&two, s)); err != nil {
		t.Fatal(err)
	}
	var told Told
	d := json.NewDecoder(&one)
	d.DisallowUnknownFields()
	if err := d.Decode(&told); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(told.Figures, s.Sum()) || len(told.Timeline) != len(s.Entries()) || told.Session.Start == nil || !told.Session.Ended || len(told.Advice) == 0 {
		t.Errorf("it reads back as %+v", told)
	}
	var both struct {
		This, Other Told
		Compared    []Compared
	}
	if err := json.Unmarshal(two.Bytes(), &both); err != nil || len(both.Compared) < 20 || both.Other.Session.Title != s.Title {
		t.Errorf("two read back as %+v, %v", both, err)
	}
}
