package session

import (
	"reflect"
	"testing"
	"time"

	"bedd/internal/journal"

	"pgregory.net/rapid"
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

// sameTakes tells where two takes differ, of messages with their due times and of
// marks.
func sameTakes(t testing.TB, got, want *Take) {
	t.Helper()
	a, b := got.Sent(), want.Sent()
	for i := range min(len(a), len(b)) {
		if !reflect.DeepEqual(a[i], b[i]) {
			t.Fatalf("message %d is %v % X at %v, want %v % X at %v", i, a[i].From, a[i].Data, a[i].At, b[i].From, b[i].Data, b[i].At)
		}
	}
	if len(a) != len(b) {
		t.Fatalf("%d messages, want %d", len(a), len(b))
	}
	if len(got.Marks) != len(want.Marks) {
		t.Fatalf("%d marks, want %d", len(got.Marks), len(want.Marks))
	}
	for i := range got.Marks {
		if got.Marks[i] != want.Marks[i] {
			t.Fatalf("mark %d is %+v, want %+v", i, got.Marks[i], want.Marks[i])
		}
	}
}

// Random nights with made-up rigs, several inputs whose messages reach the ledger
// before the core knows of them, resets, and ports that go: what the journal says
// gives the same messages at the same due times, and the same marks.
func TestReplayEqualsTheNight(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		e := newNight(t, rapid.Uint64().Draw(rt, "seed"), 300)
		h, err := newHall(e, honest)
		if err != nil {
			rt.Fatal(err)
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
		replayed, err := Replay(e.rig, e.moments, nil, reopened(t, w, end, h.Refused()), nil)
		if err != nil {
			rt.Fatal(err)
		}
		if replayed.Otherwise != nil {
			rt.Fatalf("the bed does otherwise: %+v (%v)", *replayed.Otherwise, e)
		}
		if !replayed.Closed || replayed.Refused != h.Refused() {
			rt.Fatalf("closed %v, %d refused, want %d", replayed.Closed, replayed.Refused, h.Refused())
		}
		sameTakes(t, replayed.Take, &h.tape.also)
	})
}
