package journaltest_test

import (
	"errors"
	"io"
	"os"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/journal"
	"bedd/internal/journal/journaltest"
	"bedd/internal/session"
)

// tenHours is the longest day of a church, and what it may take of a disk.
const (
	tenHours     = 10 * time.Hour
	mostTenHours = 200 << 20
)

func size(t testing.TB, path string) int64 {
	t.Helper()
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	return info.Size()
}

// An hour takes a tenth of what ten hours may, and is read back whole.
func TestAnHourIsSmall(t *testing.T) {
	path := journaltest.Hours(t, t.TempDir(), time.Hour)
	n := size(t, path)
	t.Logf("an hour takes %.1f MiB", float64(n)/(1<<20))
	if n > mostTenHours/10 {
		t.Errorf("an hour takes %d bytes, want at most %d", n, mostTenHours/10)
	}
	r, err := journal.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	calls, played, last := 0, 0, journal.Record{}
	for {
		err := r.Next(&last)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		switch last.Kind {
		case journal.Called:
			calls++
		case journal.Played:
			played++
		case journal.Gap:
			t.Fatalf("line %d: a gap: %+v", last.Line, *last.Lost)
		}
	}
	if last.Kind != journal.Closed || r.Torn() != 0 {
		t.Errorf("the last record is %q, %d bytes are torn", last.Kind, r.Torn())
	}
	// Half of the hour six notes a second, on and off.
	if played != 1800*6*2 || calls < 2*played {
		t.Errorf("%d calls, %d messages of the player's", calls, played)
	}
}

// Ten hours: how large they are, and how long reading them takes.
func BenchmarkReadTenHours(b *testing.B) {
	path := journaltest.Hours(b, b.TempDir(), tenHours)
	n := size(b, path)
	b.SetBytes(n)
	b.ReportAllocs()
	for b.Loop() {
		r, err := journal.Open(path)
		if err != nil {
			b.Fatal(err)
		}
		var rec journal.Record
		for err == nil {
			err = r.Next(&rec)
		}
		if r.Close(); !errors.Is(err, io.EOF) {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(n)/(1<<20), "MiB")
}

// silence hears nothing.
type silence struct{ notes int }

func (s *silence) Send(_ time.Duration, from session.Origin, msg []byte) {
	if from == session.Warm && msg[0]&0xF0 == 0x90 {
		s.notes++
	}
}
func (s *silence) Mark(bed.Action) {}

// From the end of a day of ten hours to the first note of the session that goes on
// from it: all that is bedd's own in it.
func BenchmarkGoOnFromTenHours(b *testing.B) {
	path := journaltest.Hours(b, b.TempDir(), tenHours)
	for b.Loop() {
		last, err := journal.ReadLast(path)
		if err != nil {
			b.Fatal(err)
		}
		rig, moments, err := session.Recorded(last.Header)
		if err != nil {
			b.Fatal(err)
		}
		heard := &silence{}
		s, err := session.New(rig, moments, heard)
		if err != nil {
			b.Fatal(err)
		}
		if err := s.Resume(*last.State); err != nil {
			b.Fatal(err)
		}
		s.SetUp(0)
		s.Ask(0, gathering.Order{Command: bed.BringIn})
		if heard.notes == 0 {
			b.Fatal("no note")
		}
	}
}
