package review

import (
	"bufio"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/journal"
	"bedd/internal/midiio"
	"bedd/internal/session"

	"pgregory.net/rapid"
)

// plainRecord is a line of a journal as docs/journal.md has it, read without bedd.
type plainRecord struct {
	T      int64   `json:"t"`
	K      string  `json:"k"`
	Do     string  `json:"do"`
	M      string  `json:"m"`
	I      float64 `json:"i"`
	Src    string  `json:"src"`
	Voices *int    `json:"voices"`
	Phase  string  `json:"phase"`
	Chord  *struct {
		Symbol string `json:"symbol"`
		Place  string `json:"place"`
		Held   []int  `json:"held"`
		Struck []int  `json:"struck"`
	} `json:"chord"`
	A [][]any `json:"a"`
}

// byHand are figures of a journal, worked out from its lines alone.
type byHand struct {
	length, sounded  float64
	places, voices   map[string]float64
	sources, orders  map[string]float64
	chords, presses  int
	held, moved      int
	bedBytes, pianoB int
}

func countByHand(t tester, path string) (h byHand) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	h.places, h.voices, h.sources, h.orders = map[string]float64{}, map[string]float64{}, map[string]float64{}, map[string]float64{}
	in := bufio.NewScanner(f)
	in.Buffer(nil, 1<<24)
	in.Scan()
	phase, voices, source, place, since := "silent", "", "", "", int64(0)
	first := true
	last, now := int64(0), int64(0)
	account := func() { // what was the case until now
		if phase != "silent" {
			took := float64(now-since) / 1e9
			h.sounded += took
			h.places[place] += took
			h.voices[voices] += took
			h.sources[source] += took
		}
		since = now
	}
	for in.Scan() {
		if strings.Contains(in.Text(), `"k":"state"`) { // where the bed is: the same chord may go on from another place
			var r struct {
				T     int64  `json:"t"`
				Place string `json:"place"`
			}
			if err := json.Unmarshal(in.Bytes(), &r); err != nil {
				t.Fatal(err)
			}
			if now = max(now, r.T); phase != "silent" && r.Place != place {
				account()
				place = r.Place
			}
			continue
		}
		var r plainRecord
		if err := json.Unmarshal(in.Bytes(), &r); err != nil {
			t.Fatal(err)
		}
		last = max(last, r.T)
		h.pianoB += len(r.M) / 2
		if r.K == "ask" {
			h.presses++
		}
		for _, a := range r.A {
			switch a[0] {
			case "on", "off", "level", "bright":
				h.bedBytes += 3
			case "did":
				h.orders[a[1].(string)]++
			}
		}
		if r.Voices == nil && r.Chord == nil { // the bed is as it was
			continue
		}
		now = max(now, r.T)
		account()
		if r.Chord != nil {
			h.chords++
			place = r.Chord.Place
			if !first {
				h.held += len(r.Chord.Held)
				h.moved += len(r.Chord.Struck)
			}
			first = false
		}
		if r.Voices != nil {
			voices, source, phase = itoa(*r.Voices), r.Src, r.Phase
			first = first || phase == "silent"
		}
	}
	h.length = float64(last) / 1e9
	return h
}

const tiny = 1e-6

func near(a, b float64) bool { return math.Abs(a-b) < tiny }

// sameShares compares parts of a time with what was counted, but for empty ones.
func sameShares(t tester, what string, got []Share, want map[string]float64) {
	t.Helper()
	for _, s := range got {
		if !near(s.Seconds, want[s.Name]) {
			t.Errorf("%s: %s has %.6f s, by hand %.6f", what, s.Name, s.Seconds, want[s.Name])
		}
	}
	for name, seconds := range want {
		if seconds > tiny && !slices.ContainsFunc(got, func(s Share) bool { return s.Name == name }) {
			t.Errorf("%s: %s with %.6f s is missing", what, name, seconds)
		}
	}
}

// againstHand compares a session's figures with those worked out from the file.
func againstHand(t tester, path string) {
	t.Helper()
	s := reviewed(t, path)
	f, h := s.Sum(), countByHand(t, path)
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"length", f.Length, h.length}, {"sounded", f.Sounded, h.sounded}, {"silent", f.Silent, h.length - h.sounded},
		{"chords", float64(f.Chords), float64(h.chords)}, {"held", float64(f.Kept), float64(h.held)}, {"moved", float64(f.Moved), float64(h.moved)},
		{"bytes for the bed", float64(f.Sent.Bed), float64(h.bedBytes)}, {"bytes of the piano", float64(f.Sent.Piano), float64(h.pianoB)},
		{"presses", float64(len(s.Feet)), float64(h.presses)},
	} {
		if !near(c.got, c.want) {
			t.Errorf("%s is %v, by hand %v", c.what, c.got, c.want)
		}
	}
	sameShares(t, "places", f.Places, h.places)
	sameShares(t, "voices", f.Voices, h.voices)
	sameShares(t, "sources", f.Sources, h.sources)
	for name, n := range f.Orders {
		if float64(n) != h.orders[name] {
			t.Errorf("%s was done %d times, by hand %v", name, n, h.orders[name])
		}
	}
	if len(f.Orders) != len(h.orders) {
		t.Errorf("orders are %v, by hand %v", f.Orders, h.orders)
	}
}

func TestFiguresAreThoseOfTheFile(t *testing.T) { againstHand(t, evening) }

// The chords of a review are those that render reports of the same performance.
func TestChordsAreThoseOfTheReport(t *testing.T) {
	s := reviewed(t, evening)
	rig, err := gathering.OpenRig("saltmere")
	if err != nil {
		t.Fatal(err)
	}
	f, err := midiio.ReadFile("../../testdata/winter-lights.mid")
	if err != nil {
		t.Fatal(err)
	}
	take, refused, end, err := session.Perform(rig, winterLights(t).BedMoments(), f, nil)
	if err != nil {
		t.Fatal(err)
	}
	report := take.Report(session.Cues(f), end, refused)
	if len(s.Chords) != len(report.Chords) || len(s.Chords) < 10 {
		t.Fatalf("%d chords, render reports %d", len(s.Chords), len(report.Chords))
	}
	for i, c := range s.Chords {
		want := report.Chords[i]
		e := c.entry()
		if e.At != want.At || e.What != want.Chord || e.Degree != want.Degree || e.Key != want.Key || e.Place != want.Place || *e.Bass != *want.Bass ||
			!reflect.DeepEqual([][]int{e.Upper, e.Held, e.New, e.Ended}, [][]int{want.Upper, want.Held, want.Struck, want.Released}) ||
			math.Abs(e.Intensity-want.Intensity) > 0.0005 || e.Source != want.Source || c.Voices != want.Density {
			t.Errorf("chord %d is %+v, render reports %+v", i, e, want)
		}
	}
	if f := s.Sum(); f.Kept != report.Held || f.Moved != report.Struck || uint64(f.Refused) != report.Refused {
		t.Errorf("%d held, %d moved, %d refused; render reports %d, %d, %d", f.Kept, f.Moved, f.Refused, report.Held, report.Struck, report.Refused)
	}
}

func winterLights(t tester) *gathering.Gathering {
	t.Helper()
	library, err := gathering.OpenLibrary("")
	if err != nil {
		t.Fatal(err)
	}
	g, err := gathering.OpenGathering("winter-lights", library)
	if err != nil {
		t.Fatal(err)
	}
	return &g
}

// deaf hears nothing of a session.
type deaf struct{}

func (deaf) Send(time.Duration, session.Origin, []byte) {}
func (deaf) Mark(bed.Action)                            {}

// stage is what the random sessions are played with: the demo's plan on a rig that
// has few notes to choose from, so that a bed is ready soon.
var stage = sync.OnceValues(func() (gathering.Rig, journal.Text) {
	text := "switches:\n  - {control: controller 80, press: step}\nvoicing: {voices: {thin: 2, usual: 3, full: 4}, stillness: 1}\narms: [swap, land, fade]\nkeys: {tab: arm}\n"
	rig, err := gathering.ReadRig("stage", []byte(text))
	if err != nil {
		panic(err)
	}
	return rig, journal.Text{Name: "stage", Text: text}
})

// evenings draws a session of random orders and playing, and gives its journal.
func evenings(t *testing.T, rt *rapid.T) (path string) {
	rig, text := stage()
	g := winterLights(t)
	w := journal.Start(journal.Options{Dir: t.TempDir(), Alone: true, Header: journal.Header{
		Rig: text, Setup: true, Title: g.Title, Moments: session.JournalMoments(g.BedMoments(), g)}})
	s, err := session.New(rig, g.BedMoments(), deaf{})
	if err != nil {
		rt.Fatal(err)
	}
	s.Journal(w)
	s.SetUp(0)
	at := time.Duration(0)
	for range rapid.IntRange(0, 40).Draw(rt, "events") {
		at += time.Duration(rapid.IntRange(0, 9000).Draw(rt, "ms")) * time.Millisecond
		switch rapid.IntRange(0, 4).Draw(rt, "what") {
		case 0:
			s.Message(at, []byte{0xB0, 11, byte(rapid.IntRange(0, 127).Draw(rt, "pedal"))})
		case 1:
			note := byte(rapid.IntRange(30, 90).Draw(rt, "note"))
			s.Message(at, []byte{0x90, note, 70})
			if rapid.Bool().Draw(rt, "let go") {
				s.Message(at+300*time.Millisecond, []byte{0x80, note, 0})
			}
		default:
			command := bed.Command(rapid.IntRange(1, int(bed.NumCommands)-1).Draw(rt, "command"))
			if rapid.Bool().Draw(rt, "step") {
				command = bed.Step
			}
			s.Ask(at, gathering.Order{Command: command})
		}
	}
	at = s.End(at)
	if err := w.Close(at, "asked", s.Refused()); err != nil {
		rt.Fatal(err)
	}
	return w.Path()
}

// Whatever was played, the parts of the time add up to the time, and all of it is
// what the file's lines say.
func TestFiguresAddUp(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		path := evenings(t, rt)
		s := reviewed(rt, path)
		f := s.Sum()
		sum := func(list []Share) (all float64) {
			for _, x := range list {
				all += x.Seconds
			}
			return all
		}
		progressions, moments, entered, chords, visited := 0.0, 0.0, 0, 0, 0.0
		for _, p := range f.Progressions {
			progressions += p.Seconds
			entered += p.Entered
		}
		for _, m := range f.Moments {
			moments += m.Sounded
			chords += m.Chords
		}
		for _, v := range s.Visits {
			visited += (v.To - v.From).Seconds()
		}
		for _, c := range []struct {
			what      string
			got, want float64
		}{
			{"sound and silence", f.Sounded + f.Silent, f.Length}, {"places", sum(f.Places), f.Sounded}, {"voices", sum(f.Voices), f.Sounded},
			{"sources", sum(f.Sources), f.Sounded}, {"progressions", progressions, f.Sounded}, {"moments", moments, f.Sounded},
			{"visits", visited, f.Length}, {"chords of progressions", float64(entered), float64(f.Chords)},
			{"chords of moments", float64(chords), float64(f.Chords)},
		} {
			if !near(c.got, c.want) {
				rt.Errorf("%s come to %v, want %v", c.what, c.got, c.want)
			}
		}
		if f.Silent < -tiny || f.Intensity.Low < 0 || f.Intensity.High > 1 || f.Intensity.Low > f.Intensity.Median || f.Intensity.Median > f.Intensity.High ||
			f.ChordTime.Low > f.ChordTime.Median || f.ChordTime.Median > f.ChordTime.High || f.Repetition.LongestChord > f.Sounded+tiny || f.Repetition.LongestStay > f.Sounded+tiny {
			rt.Errorf("impossible: %+v", f)
		}
		for i, c := range s.Chords {
			if c.To < c.From || i > 0 && c.From < s.Chords[i-1].To {
				rt.Errorf("chord %d sounds from %v to %v, after one to %v", i, c.From, c.To, s.Chords[max(i-1, 0)].To)
			}
			if len(c.Held)+len(c.New) < len(c.Upper) {
				rt.Errorf("chord %d has %d upper notes, of which %d are held and %d new", i, len(c.Upper), len(c.Held), len(c.New))
			}
		}
		entries := s.Entries()
		if !slices.IsSortedFunc(entries, func(a, b Entry) int { return compare(a.At, b.At) }) {
			rt.Error("entries are not in order")
		}
		for _, c := range Compare(f, f) {
			if c.A != c.B || c.Difference != "" {
				rt.Errorf("a session differs from itself: %+v", c)
			}
		}
		if n := len(Advice(s, f)); n < 1 || n > mostAdvice {
			rt.Errorf("%d pieces of advice", n)
		}
		for _, line := range strings.Split(linesOf(rt, s, View{Width: 80})+linesOf(rt, s, View{Width: 80, Chords: true}), "\n") {
			if n := len([]rune(line)); n > 80 {
				rt.Errorf("a line has %d columns: %s", n, line)
			}
		}
		againstHand(rt, path)
		sameButForWords(rt, path)
		os.Remove(path)
	})
}

// A chord that goes on from another place is one chord, and its time is that of both.
func TestOneChordFromTwoPlaces(t *testing.T) {
	state := func(t int, place string) string {
		return fmt.Sprintf(`{"t":%d,"k":"state","moment":0,"phase":"holding","place":%q,"group":"home","index":0,"key":"C","plan":"C","chord":"C","i":0.3}`, t*1e9, place) + "\n"
	}
	s := readText(t, `{"k":"bedd journal","version":1,"moments":[{"key":"C","home":["C"],"away":["C","Am"]}]}`+"\n"+
		`{"t":1000000000,"k":"ask","do":"step","i":0.3,"src":"foot","voices":3,"phase":"rising","chord":{"symbol":"C","degree":"1","key":"C","place":"home","bass":36,"upper":[60,64,67],"struck":[36,60,64,67]},"a":[["did","bring-in"],["chord","C"]]}`+"\n"+
		state(1, "home")+state(4, "home")+state(5, "away")+
		`{"t":9000000000,"k":"ask","do":"all-notes-off","i":0.3,"src":"foot","voices":3,"phase":"silent","a":[["silence"]]}`+"\n"+`{"t":10000000000,"k":"closed"}`+"\n")
	if len(s.Chords) != 2 || s.Chords[0].Same || !s.Chords[1].Same {
		t.Fatalf("chords are %+v", s.Chords)
	}
	f := s.Sum()
	if f.Chords != 1 || f.ChordTime.High != 8 || f.Repetition.LongestChord != 8 || f.Kept+f.Moved != 0 || f.PerMinute != 0 || f.Moments[0].Chords != 1 {
		t.Errorf("figures are %+v", f)
	}
	if f.Places[0].Seconds != 4 || f.Places[1].Seconds != 4 || len(f.Progressions) != 2 || f.Progressions[1].Entered != 0 {
		t.Errorf("places are %+v, progressions %+v", f.Places, f.Progressions)
	}
	var kinds []string
	for _, e := range s.Entries() {
		kinds = append(kinds, e.Kind+" "+e.What)
	}
	want := []string{"moment moment 1", "press step", "order bring-in", "chord C", "place away", "press all-notes-off", "silence the bed is silent"}
	if !slices.Equal(kinds, want) {
		t.Errorf("entries are %q, want %q", kinds, want)
	}
}
