package harmony

import "fmt"

// Ending is the chord by which a landing comes to the song's first chord.
type Ending uint8

// The endings. Their names are the trade's; DominantEnding is the zero value.
const (
	DominantEnding  Ending = iota // the major triad on the fifth degree, or its seventh
	SuspendedEnding               // the same with its third suspended: 5sus4 or 57sus4
	PlagalEnding                  // the key's own triad on the fourth degree, for a quiet prayer
	PlainEnding                   // whatever leads there most smoothly

	NumEndings
)

var endings = [...]string{"dominant", "suspended", "plagal", "plain"}

// Endings lists the names that ParseEnding reads.
func Endings() []string { return append([]string(nil), endings[:]...) }

// String is the name that ParseEnding reads.
func (e Ending) String() string {
	if int(e) < len(endings) {
		return endings[e]
	}
	return fmt.Sprintf("ending %d", e)
}

// ParseEnding reads an ending's name.
func ParseEnding(s string) (Ending, error) {
	for i, name := range endings {
		if s == name {
			return Ending(i), nil
		}
	}
	return 0, fmt.Errorf("there is no ending %q: use dominant, suspended, plagal or plain", clip(s))
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

// dominates reports whether the chord sounds like the dominant triad or has
// its root and major third as its own.
func (c Chord) dominates(dominant Chord) bool {
	return c.SoundsLike(dominant) || c.Root.Class() == dominant.Root.Class() && c.quality&majorThird != 0
}
