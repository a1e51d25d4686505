package session

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/journal"
	"bedd/internal/midiio"
)

// journalled starts a journal in a folder of its own that keeps up with a session
// without a clock.
func journalled(t testing.TB, h journal.Header) *journal.Writer {
	h.Moments = append(h.Moments, journal.Moment{Key: "C", Home: []string{"C"}}) // a reader wants one
	return journal.Start(journal.Options{Dir: t.TempDir(), Header: h, Alone: true})
}

// close ends a journal and opens it again.
func reopened(t testing.TB, w *journal.Writer, at time.Duration, refused uint64) *journal.Reader {
	t.Helper()
	if err := w.Close(at, "performed", refused); err != nil {
		t.Fatal(err)
	}
	r, err := journal.Open(w.Path())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close() })
	return r
}

// differ tells where two takes differ, of messages with their due times and of
// marks; nothing where they don't.
func differ(got, want *Take) string {
	a, b := got.Sent(), want.Sent()
	for i := range min(len(a), len(b)) {
		if a[i].At != b[i].At || a[i].From != b[i].From || !bytes.Equal(a[i].Data, b[i].Data) {
			return fmt.Sprintf("message %d is %v % X at %v, want %v % X at %v", i, a[i].From, a[i].Data, a[i].At, b[i].From, b[i].Data, b[i].At)
		}
	}
	if len(a) != len(b) {
		return fmt.Sprintf("%d messages, want %d", len(a), len(b))
	}
	if len(got.Marks) != len(want.Marks) {
		return fmt.Sprintf("%d marks, want %d", len(got.Marks), len(want.Marks))
	}
	for i := range got.Marks {
		if got.Marks[i] != want.Marks[i] {
			return fmt.Sprintf("mark %d is %+v, want %+v", i, got.Marks[i], want.Marks[i])
		}
	}
	return ""
}

func sameTakes(t testing.TB, which string, got, want *Take) {
	t.Helper()
	if fault := differ(got, want); fault != "" {
		t.Fatalf("%s: %s", which, fault)
	}
}

// Random nights with made-up rigs, several inputs whose messages reach the ledger
// before the core knows of them, resets, and ports that go: what the journal says
// gives the same messages at the same due times, and the same marks.
func TestReplayEqualsTheNight(t *testing.T) {
	for range 10 {
		seed := rand.Uint64()
		e := newNight(t, seed, 300)
		h, err := newHall(e, honest)
		if err != nil {
			t.Fatal(err)
		}
		w := journalled(t, journal.Header{})
		h.Journal(w)
		h.SetUp(0)
		at := time.Duration(0)
		for _, p := range e.happenings {
			at = p.at
			h.happen(p)
		}
		end := h.End(at)
		replays(t, fmt.Sprint("seed ", seed), e, reopened(t, w, end, h.Refused()), &h.tape.also, h.Refused())
	}
}

// replays finds out whether a journal gives what was played.
func replays(t testing.TB, which string, e *night, r *journal.Reader, want *Take, refused uint64) {
	t.Helper()
	replayed, err := Replay(e.rig, e.moments, nil, r, nil)
	if err != nil {
		t.Fatalf("%s: %v", which, err)
	}
	if replayed.Otherwise != nil {
		t.Fatalf("%s: the bed does otherwise: %+v (%v)", which, *replayed.Otherwise, e)
	}
	if !replayed.Closed || replayed.Refused != refused {
		t.Fatalf("%s: closed %v, %d refused, want %d", which, replayed.Closed, replayed.Refused, refused)
	}
	sameTakes(t, which, replayed.Take, want)
}

// Where the journal has other than the bed would do, the replay says where, and
// goes on with what was played.
func TestReplayTellsWhereItPartsAndGoesOn(t *testing.T) {
	data, err := os.ReadFile(example)
	if err != nil {
		t.Fatal(err)
	}
	rig, moments := recorded(t, data)
	full, err := Replay(rig, moments, nil, reading(t, data), nil)
	if err != nil || full.Otherwise != nil {
		t.Fatal(err, full.Otherwise)
	}
	told, err := Retell(rig, moments, reading(t, data))
	if err != nil {
		t.Fatal(err)
	}
	sameTakes(t, "as it was recorded", told.Take, full.Take)

	lines := bytes.SplitAfter(data, []byte("\n"))
	swap := slices.IndexFunc(lines, func(l []byte) bool {
		return bytes.Contains(l, []byte(`"do":"step"`)) && bytes.Contains(l, []byte(`["did","swap"]`))
	})
	other := slices.Clone(lines)
	other[swap] = bytes.Replace(lines[swap], []byte(`["level",0,`), []byte(`["level",1,`), 1)
	if bytes.Equal(other[swap], lines[swap]) { // it has no level: the first note goes
		note := regexp.MustCompile(`\["on",0,\d+,64\],`)
		other[swap] = note.ReplaceAll(lines[swap], nil)
	}
	changed := bytes.Join(other, nil)
	p, err := Replay(rig, moments, nil, reading(t, changed), nil)
	if err != nil {
		t.Fatal(err)
	}
	if p.Otherwise == nil || p.Otherwise.Line != swap+1 || p.Otherwise.Gap {
		t.Fatalf("a line %d that was changed: %+v", swap+1, p.Otherwise)
	}
	want, err := Retell(rig, moments, reading(t, changed))
	if err != nil {
		t.Fatal(err)
	}
	sameTakes(t, "changed", p.Take, want.Take)
	if n, all := len(p.Take.Sent()), len(full.Take.Sent()); n >= all || n < all-20 {
		t.Errorf("%d messages of %d", n, all)
	}

	gap := slices.Insert(slices.Clone(lines), swap, []byte(`{"t":1,"k":"gap","calls":3}`+"\n"))
	p, err = Replay(rig, moments, nil, reading(t, bytes.Join(gap, nil)), nil)
	if err != nil {
		t.Fatal(err)
	}
	if p.Otherwise == nil || !p.Otherwise.Gap || p.Otherwise.Line != swap+1 {
		t.Errorf("a gap: %+v", p.Otherwise)
	}
	sameTakes(t, "with a gap", p.Take, full.Take)
}

const example = "../../testdata/winter-lights.jsonl"

// reading reads a journal from memory.
func reading(t testing.TB, data []byte) *journal.Reader {
	t.Helper()
	r, err := journal.NewReader("a.jsonl", bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func recorded(t testing.TB, data []byte) (gathering.Rig, []bed.Moment) {
	t.Helper()
	rig, moments, err := Recorded(reading(t, data).Header())
	if err != nil {
		t.Fatal(err)
	}
	return rig, moments
}

// The demo's journal is the demo: the same messages and marks as from its
// performance.
func TestReplayOfTheDemo(t *testing.T) {
	data, err := os.ReadFile(example)
	if err != nil {
		t.Fatal(err)
	}
	rig, moments := recorded(t, data)
	f, err := midiio.ReadFile(demoFile)
	if err != nil {
		t.Fatal(err)
	}
	want, _, _, err := Perform(openRig(t, "saltmere"), demoMoments(t), f, nil)
	if err != nil {
		t.Fatal(err)
	}
	got, err := Replay(rig, moments, nil, reading(t, data), nil)
	if err != nil || got.Otherwise != nil {
		t.Fatal(err, got.Otherwise)
	}
	sameTakes(t, "the demo", got.Take, want)
	if len(got.Take.Entered) != len(want.Entered) {
		t.Fatalf("%d chords, want %d", len(got.Take.Entered), len(want.Entered))
	}
	for i, e := range want.Entered {
		if got.Take.Entered[i] != e {
			t.Errorf("chord %d is %+v, want %+v", i, got.Take.Entered[i], e)
		}
	}
	var cues, said []string
	for _, c := range Cues(f) {
		if c.Data == nil {
			cues = append(cues, fmt.Sprint(c.At, c.Text))
		}
	}
	for _, c := range got.Cues {
		said = append(said, fmt.Sprint(c.At, c.Text))
	}
	if !slices.Equal(cues, said) {
		t.Errorf("cues %q, want %q", said, cues)
	}
}

// What a bed that died at any byte has left is the beginning of what it played, and
// its end; and another goes on from there.
func TestKilledAnywhere(t *testing.T) {
	data, err := os.ReadFile(example)
	if err != nil {
		t.Fatal(err)
	}
	rig, moments := recorded(t, data)
	full, err := Replay(rig, moments, nil, reading(t, data), nil)
	if err != nil {
		t.Fatal(err)
	}
	all := full.Take.Sent()
	first := bytes.IndexByte(data, '\n') + 1
	path := filepath.Join(t.TempDir(), "torn.jsonl")
	resumed, stood := 0, map[bed.State]bool{}
	for i := range 500 {
		n := first + rand.IntN(len(data)-first)
		torn := data[:n]
		if err := os.WriteFile(path, torn, 0o600); err != nil {
			t.Fatal(err)
		}
		last, err := journal.ReadLast(path)
		if err != nil {
			t.Fatalf("killed at %d: %v", n, err)
		}
		if last.State != nil {
			resumed++
			kind := *last.State
			if kind.Intensity = 0; !stood[kind] { // a session takes its time to be made
				stood[kind] = true
				stands(t, rig, moments, *last.State)
			}
		}
		if i >= 20 {
			continue
		}
		p, err := Replay(rig, moments, nil, reading(t, torn), nil)
		if err != nil || p.Otherwise != nil || p.Closed {
			t.Fatalf("killed at %d: %v %+v", n, err, p)
		}
		sent := p.Take.Sent()
		same := 0
		for same < min(len(sent), len(all)) && reflect.DeepEqual(sent[same], all[same]) {
			same++
		}
		for _, m := range sent[same:] { // the end of what sounded
			if m.Data[0]&0xF0 != 0x80 && m.Data[0]&0xF0 != 0xB0 {
				t.Fatalf("killed at %d: message %d of %d is % X at %v", n, same, len(sent), m.Data, m.At)
			}
		}
	}
	if resumed < 450 || len(stood) < 10 {
		t.Errorf("%d of 500 could be gone on from, %d different", resumed, len(stood))
	}
}

// stands has another session go on from a state, and looks where it stands.
func stands(t testing.TB, rig gathering.Rig, moments []bed.Moment, where bed.State) {
	t.Helper()
	s, err := New(rig, moments, silent{})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Resume(where); err != nil {
		t.Fatalf("going on from %+v: %v", where, err)
	}
	if got := s.bed.State(); !goesOn(got, where) {
		t.Fatalf("it stands at %+v, want %+v", got, where)
	}
}

// goesOn reports whether a bed waits where another was.
func goesOn(got, want bed.State) bool {
	want.Phase = bed.Silent
	if want.Landing { // what was walked to the end is not the same as its parts
		got.Route, want.Route = [harmony.MaxRoute]harmony.Chord{}, [harmony.MaxRoute]harmony.Chord{}
	}
	return got == want
}

// From wherever a night has led another session goes on: it stands on the same
// chord, in the same key, moment and place, as loud as it was, comes in softly from
// nothing, and the next steps lead where they would have led.
func TestResumeAnywhere(t *testing.T) {
	for range 8 {
		seed := rand.Uint64()
		e := newNight(t, seed, 200)
		h, err := newHall(e, honest)
		if err != nil {
			t.Fatal(err)
		}
		h.SetUp(0)
		for i, p := range e.happenings {
			h.happen(p)
			if i%40 != 0 {
				continue
			}
			was, next := h.bed.State(), h.bed.View()
			take := &Take{}
			s, err := New(e.rig, e.moments, take)
			if err != nil {
				t.Fatal(err)
			}
			if err := s.Resume(was); err != nil {
				t.Fatalf("seed %d: going on from %+v: %v", seed, was, err)
			}
			if got := s.bed.State(); !goesOn(got, was) {
				t.Fatalf("seed %d: it stands at %+v, want %+v", seed, got, was)
			}
			s.SetUp(0)
			s.Ask(0, gathering.Order{Command: bed.BringIn})
			v := s.View()
			if v.Chord != was.Chord || v.Key != was.Key || v.Place != was.Place || math.Abs(v.Intensity-was.Intensity) > 1e-9 && !e.capped() {
				t.Fatalf("seed %d: %+v after going on from %+v", seed, v, was)
			}
			if next.NextDoes == bed.Next && v.NextDoes == bed.Next && v.Next != next.Next {
				t.Fatalf("seed %d: the next is %v, want %v", seed, v.Next, next.Next)
			}
			for _, m := range take.Sent() { // from nothing
				if m.From != SetUp && len(m.Data) == 3 && m.Data[0]&0xF0 == 0xB0 && m.Data[1] == 11 && m.Data[2] > 0 {
					t.Fatalf("seed %d: it comes in with the level %d", seed, m.Data[2])
				}
			}
		}
	}
}

// capped reports whether a night has a ceiling, under which what was asked for and
// what sounds differ.
func (e *night) capped() bool { return e.rig.Bed.Balance.Ceiling < 0 }

// interrupted is a port on which the player strikes, on another thread, the moment
// that the bed's notes are on their way.
type interrupted struct {
	*rand.Rand
	s  *Session
	at time.Duration
}

func (p *interrupted) Send(from midiio.Source, msg []byte) bool {
	if from == midiio.Bed && isNote(msg) && p.s != nil {
		status := []byte{0x80, 0x90}[p.IntN(2)]
		p.s.Thru(p.at, []byte{status, msg[1], 60}, Passage{Role: midiio.AnyRole})
	}
	return true
}

// On one sound for both, who owns a note depends on what came first: the replay has
// the player's strikes between the same two steps of the core.
func TestReplayKeepsWhatCameInBetween(t *testing.T) {
	rig := openRig(t, "one-sound")
	take, port := &Take{}, &interrupted{Rand: rand.New(rand.NewPCG(1, 2))}
	s, err := New(rig, evening(t), take, Destination{port, midiio.AllParts})
	if err != nil {
		t.Fatal(err)
	}
	w := journalled(t, journal.Header{})
	s.Journal(w)
	port.s = s
	s.SetUp(0)
	for i, c := range []bed.Command{bed.BringIn, bed.Next, bed.Swap, bed.Next, bed.Swap, bed.Land, bed.Next, bed.OutNow} {
		port.at = time.Duration(i) * time.Second
		s.Ask(port.at, gathering.Order{Command: c})
	}
	end := s.End(10 * time.Second)
	p, err := Replay(rig, evening(t), nil, reopened(t, w, end, s.Refused()), nil)
	if err != nil || p.Otherwise != nil {
		t.Fatal(err, p.Otherwise)
	}
	sameTakes(t, "in between", p.Take, take)
}
