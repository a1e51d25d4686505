//go:build unix

package main

import (
	"os/exec"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"
	"time"

	"bedd/internal/journal/journaltest"
)

// BenchmarkReviewOfTenHours reviews ten busy hours with every file that there is, as
// the program does, and prints how much memory it held at most. More than 150 MiB
// fail.
func BenchmarkReviewOfTenHours(b *testing.B) {
	if runtime.GOOS != "linux" {
		b.Skip("the system tells the memory otherwise")
	}
	dir := b.TempDir()
	path := journaltest.Hours(b, dir, 10*time.Hour)
	out := func(name string) string { return filepath.Join(dir, name) }
	var most int64
	for b.Loop() {
		cmd := exec.Command(binary, "review", path, "--html", out("a.html"), "--midi", out("a.mid"), "--csv", out("a.csv"), "--anonymise", out("a.jsonl"), "--json")
		if text, err := cmd.CombinedOutput(); err != nil {
			b.Fatal(err, string(text[:min(len(text), 1000)]))
		}
		most = max(most, cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss<<10)
	}
	b.ReportMetric(float64(most)/(1<<20), "MiB-peak")
	if most > 150<<20 {
		b.Errorf("it held %d MiB, want 150 at most", most>>20)
	}
}
