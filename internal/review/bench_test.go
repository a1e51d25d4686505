package review

import (
	"os"
	"runtime"
	"testing"
	"time"

	"bedd/internal/journal/journaltest"
)

// BenchmarkTenHours reads a busy journal of ten hours and tells it: lines, page, JSON.
// It prints how much of the heap was in use at most while it was read and told
// (sampled), how long both took, and what the file and the page weigh.
func BenchmarkTenHours(b *testing.B) {
	path := journaltest.Hours(b, b.TempDir(), 10*time.Hour)
	info, err := os.Stat(path)
	if err != nil {
		b.Fatal(err)
	}
	var most uint64
	look := func() {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		most = max(most, m.HeapInuse+m.StackInuse)
	}
	var reading time.Duration
	page := 0
	runtime.GC()
	for b.Loop() {
		began := time.Now()
		n := 0
		s, err := Read(path, func(int64, int64) {
			if n++; n%16 == 0 {
				look()
			}
		})
		if err != nil {
			b.Fatal(err)
		}
		reading += time.Since(began)
		look()
		linesOf(b, s, View{Width: 100})
		page = len(pageOf(b, s, nil))
		look()
		if len(s.Chords) < 3000 || len(s.Played) < 90000 {
			b.Fatalf("%d chords, %d strikes", len(s.Chords), len(s.Played))
		}
	}
	b.ReportMetric(reading.Seconds()/float64(b.N), "s/reading")
	b.ReportMetric(float64(most)/(1<<20), "MiB-in-use")
	b.ReportMetric(float64(info.Size())/(1<<20), "MiB-of-journal")
	b.ReportMetric(float64(page)/(1<<10), "KiB-of-page")
}
