package harmony

import (
	"fmt"
	"unicode/utf8"
)

// fault is what is wrong with a text, where, and what would be right.
type fault struct {
	at   int // offset in bytes
	what string
	hint string // may be empty
}

// in words the fault for the text it was found in, or for a longer text in
// which that text starts at the given offset. Characters count from 1; what is
// understood before a fault takes one place on the screen for each.
func (f *fault) in(text string, offset int) string {
	s := fmt.Sprintf("%s at character %d", f.what, utf8.RuneCountInString(text[:offset+f.at])+1)
	if f.hint != "" {
		s += " (" + f.hint + ")"
	}
	return s
}

// clip shortens a text for quoting, so that an error stays one line to read.
func clip(s string) string {
	const most = 40
	count := 0
	for i := range s {
		if count == most {
			return s[:i] + "…"
		}
		count++
	}
	return s
}
