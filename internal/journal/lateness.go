package journal

import (
	"time"

	"github.com/HdrHistogram/hdrhistogram-go"
)

// What a Lateness tells apart: two digits of every time up to a minute.
const (
	longestLate = time.Minute
	lateDigits  = 2
)

// Lateness sums up how late something was, to two digits, times over a minute as a
// minute. It serves one goroutine.
type Lateness struct{ times *hdrhistogram.Histogram }

// NewLateness makes a sum of nothing.
func NewLateness() Lateness {
	return Lateness{hdrhistogram.New(int64(time.Microsecond), int64(longestLate), lateDigits)}
}

// Add takes a time; less than nothing counts as nothing. No allocation; O(1).
func (l Lateness) Add(d time.Duration) {
	// Never an error: the value is in range.
	_ = l.times.RecordValue(int64(min(max(d, 0), longestLate)))
}

// Percentiles gives the sum.
func (l Lateness) Percentiles() Percentiles {
	if l.times.TotalCount() == 0 {
		return Percentiles{}
	}
	at := func(percent float64) time.Duration { return time.Duration(l.times.ValueAtPercentile(percent)) }
	return Percentiles{N: l.times.TotalCount(), P50: at(50), P90: at(90), P99: at(99), Max: time.Duration(l.times.Max())}
}
