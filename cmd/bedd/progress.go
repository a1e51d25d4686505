package main

import (
	"fmt"
	"io"
	"strings"
	"time"
)

// progressWidth is how many characters a progress bar is long.
const progressWidth = 30

// progressOn gives a function that shows how far something is on a terminal, and
// nil elsewhere.
func progressOn(w io.Writer, doing string) func(done, total int64) {
	if !isTerminal(w) {
		return nil
	}
	return progressBar(w, doing, time.Now)
}

// progressBar gives a function that draws a bar with the time left, once for
// each percent, and takes it away at the end.
func progressBar(w io.Writer, doing string, now func() time.Time) func(done, total int64) {
	start, shown := now(), int64(-1)
	return func(done, total int64) {
		if total <= 0 || done >= total {
			fmt.Fprint(w, "\r\033[K")
			return
		}
		percent := 100 * done / total
		if percent == shown {
			return
		}
		shown = percent
		full := int(progressWidth * done / total)
		bar := strings.Repeat("=", full) + strings.Repeat(" ", progressWidth-full)
		fmt.Fprintf(w, "\r\033[K%s [%s] %3d %%%s", doing, bar, percent, timeLeft(now().Sub(start), done, total))
	}
}

// timeLeft words how long the rest will take, going by what is done; nothing
// while that says little.
func timeLeft(took time.Duration, done, total int64) string {
	if took < time.Second || done == 0 {
		return ""
	}
	left := time.Duration(float64(took) * float64(total-done) / float64(done)).Round(time.Second)
	return fmt.Sprintf(", %d:%02d left", int(left.Minutes()), int(left.Seconds())%60)
}
