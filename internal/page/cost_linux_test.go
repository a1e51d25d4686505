package page

import (
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// used is how much time a process has had of the processors (scheduler statistics of
// the kernel, Documentation/scheduler/sched-stats.rst).
func used(tb testing.TB, pid int) (sum time.Duration) {
	tb.Helper()
	threads, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/schedstat", pid))
	for _, thread := range threads {
		if text, err := os.ReadFile(thread); err == nil {
			var ns int64
			if _, err := fmt.Sscan(string(text), &ns); err != nil {
				tb.Fatal(err)
			}
			sum += time.Duration(ns)
		}
	}
	if sum == 0 {
		tb.Skip("the kernel does not count")
	}
	return sum
}

// BenchmarkPage shows something new thirty times a second, and reports how much of a
// core that takes in the page's process, and in bedd's own, which is that of the test
// and has no readers then.
func BenchmarkPage(b *testing.B) {
	for _, readers := range []int{0, 1, 50} {
		b.Run(fmt.Sprintf("readers=%d", readers), func(b *testing.B) {
			c := quiet()
			c.Address = thisMachine
			p, process := apart(b, c)
			m := sample()
			p.Show(m)
			for range readers {
				conn, err := net.Dial("tcp", p.local.String())
				if err != nil {
					b.Fatal(err)
				}
				defer conn.Close()
				fmt.Fprintf(conn, "GET /events HTTP/1.1\r\nHost: %s\r\n\r\n", p.local)
				go io.Copy(io.Discard, conn)
			}
			own := func() time.Duration {
				var u unix.Rusage
				if err := unix.Getrusage(unix.RUSAGE_SELF, &u); err != nil {
					b.Fatal(err)
				}
				return time.Duration(u.Utime.Nano() + u.Stime.Nano())
			}
			tick := time.NewTicker(time.Second / perSecond)
			defer tick.Stop()
			mine, its, start, i := own(), used(b, process().Pid), time.Now(), 0
			for b.Loop() {
				<-tick.C
				i++
				m.Intensity, m.Elapsed = float64(i%100)/100, float64(i)/perSecond
				if i%perSecond == 0 { // a chord a second
					m.Chord, m.Next = m.Next, m.Chord
				}
				p.Show(m)
			}
			share := func(d time.Duration) float64 { return 100 * float64(d) / float64(time.Since(start)) }
			b.ReportMetric(share(used(b, process().Pid)-its), "%core-page")
			b.ReportMetric(float64(memory(b, process().Pid))/1e3, "MB-page")
			if readers == 0 {
				b.ReportMetric(share(own()-mine), "%core-bedd")
			}
		})
	}
}
