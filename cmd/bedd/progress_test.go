package main

import (
	"strings"
	"testing"
	"time"
)

func TestProgressBarGrowsAndGoes(t *testing.T) {
	var out strings.Builder
	var now time.Time
	bar := progressBar(&out, "rendering", func() time.Time { return now })
	const wipe = "\r\033[K"
	for _, step := range []struct {
		at   time.Duration
		done int64
		want string
	}{
		{0, 0, wipe + "rendering [                              ]   0 %"},
		{100 * time.Millisecond, 5, ""}, // of 1000: no new percent
		{30 * time.Second, 250, wipe + "rendering [=======                       ]  25 %, 1:30 left"},
		{60 * time.Second, 500, wipe + "rendering [===============               ]  50 %, 1:00 left"},
		{119 * time.Second, 999, wipe + "rendering [============================= ]  99 %, 0:00 left"},
		{120 * time.Second, 1000, wipe},
	} {
		now = time.Time{}.Add(step.at)
		bar(step.done, 1000)
		if got := out.String(); got != step.want {
			t.Errorf("%d of 1000 after %v draws %q, want %q", step.done, step.at, got, step.want)
		}
		out.Reset()
	}
}

func TestProgressIsForTerminals(t *testing.T) {
	if progressOn(new(strings.Builder), "reading") != nil {
		t.Error("there is a progress bar where there is no terminal")
	}
}
