package gathering

import (
	"fmt"
	"slices"
	"strings"
)

// Fault is one thing that is wrong with a file. Lines count from 1.
type Fault struct {
	Line int
	Text string
}

// FileError is every fault of a file, in the order of its lines.
type FileError struct {
	Name   string // as the caller gave it
	Faults []Fault
	More   int // faults beyond the first 50
}

// maxFaults keeps the report of a file that is no rig or plan at all readable.
const maxFaults = 50

// Error writes each fault on a line of its own, as in
//
//	rig.yaml:14: pedal controller 128 is out of range 0…127
func (e *FileError) Error() string {
	var b strings.Builder
	for i, f := range e.Faults {
		if i > 0 {
			b.WriteByte('\n')
		}
		fmt.Fprintf(&b, "%s:%d: %s", e.Name, f.Line, f.Text)
	}
	if e.More > 0 {
		fmt.Fprintf(&b, "\n%s: faults beyond these: %d", e.Name, e.More)
	}
	return b.String()
}

// fileError sorts what was found by line, once each, or returns nil when
// nothing was.
func fileError(name string, faults []Fault) error {
	if len(faults) == 0 {
		return nil
	}
	slices.SortStableFunc(faults, func(a, b Fault) int { return a.Line - b.Line })
	e := &FileError{Name: name}
	seen := map[Fault]bool{}
	for _, f := range faults {
		switch {
		case seen[f]:
		case len(e.Faults) < maxFaults:
			e.Faults = append(e.Faults, f)
		default:
			e.More++
		}
		seen[f] = true
	}
	return e
}
