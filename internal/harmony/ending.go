package harmony

import (
	"fmt"
	"strings"
)

// Ending is the chord by which a landing prefers to reach the next song.
type Ending uint8

// The endings. The zero value is the strongest.
const (
	DominantEnding  Ending = iota // the major triad on the fifth degree, or its seventh
	SuspendedEnding               // the same without its third: 5sus4 or 57sus4
	PlagalEnding                  // the key's own triad on the fourth degree, for a quiet prayer
	PlainEnding                   // whatever leads there most smoothly
)

var endingNames = [...]string{"dominant", "suspended", "plagal", "plain"}

// String is the ending as ParseEnding reads it.
func (e Ending) String() string {
	if int(e) < len(endingNames) {
		return endingNames[e]
	}
	return "no ending"
}

// ParseEnding reads "dominant", "suspended", "plagal" or "plain".
func ParseEnding(s string) (Ending, error) {
	for e, name := range endingNames {
		if s == name {
			return Ending(e), nil
		}
	}
	return 0, fmt.Errorf("unknown ending %q: one of %s", clip(s), strings.Join(endingNames[:], ", "))
}

// reachedBy reports whether c is a chord by which the ending reaches a song in
// the key of the dominant and the subdominant triad. A dominant serves for its
// suspended form too: once it sounds it need not be suspended.
func (e Ending) reachedBy(c, dominant, subdominant Chord) bool {
	switch e {
	case DominantEnding:
		return c.dominates(dominant)
	case SuspendedEnding:
		return c.dominates(dominant) || c.Root.Class() == dominant.Root.Class() && c.quality&suspendedFourth != 0
	case PlagalEnding:
		return c.Root.Class() == subdominant.Root.Class() && c.quality&thirds == subdominant.quality&thirds
	}
	return true
}
