package main

import (
	"fmt"
	"path/filepath"
	"time"

	"bedd/internal/midiio"
	"bedd/internal/session"
	"bedd/internal/wholefile"
)

// longest is the longest performance that play and render take: a damaged file
// can claim years.
const longest = 12 * time.Hour

// readPerformance reads a recorded performance.
func readPerformance(path string) (*midiio.File, error) {
	f, err := midiio.ReadFile(path)
	if err != nil {
		return nil, badInput{err}
	}
	if length := session.Length(f); length > longest {
		return nil, badInput{fmt.Errorf("%s lasts %.0f hours: bedd takes up to %.0f", path, length.Hours(), longest.Hours())}
	}
	return f, nil
}

// output is a file that a flag asks for.
type output struct{ flag, path string }

// checkOutputs finds out now, not after the evening, whether the files can be
// written, each once, and none over the performance that is read.
func checkOutputs(performance string, outputs ...output) error {
	taken := map[string]string{}
	if performance != "" {
		taken[absolute(performance)] = "the performance"
	}
	for _, o := range outputs {
		switch {
		case o.path == "":
			continue
		case o.path == "-":
			return badInput{fmt.Errorf("%s needs the name of a file, not -", o.flag)}
		}
		if other, again := taken[absolute(o.path)]; again {
			return badInput{fmt.Errorf("%s would overwrite %s, %s: name another file", o.flag, other, o.path)}
		}
		taken[absolute(o.path)] = "the file of " + o.flag
		if err := wholefile.Check(o.path); err != nil {
			return badInput{err}
		}
	}
	return nil
}

// absolute tells files apart as well as names can.
func absolute(path string) string {
	if target, err := filepath.EvalSymlinks(path); err == nil {
		path = target
	}
	if full, err := filepath.Abs(path); err == nil {
		return full
	}
	return path
}
