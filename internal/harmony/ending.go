package harmony

import "fmt"

// Ending is how a landing comes to the song's first chord.
type Ending uint8

// The endings. Their names are the trade's; DominantEnding is the zero value.
const (
	DominantEnding  Ending = iota // by the chord on the fifth degree
	SuspendedEnding               // by that chord with its third suspended
	PlagalEnding                  // by the chord on the fourth degree
	PlainEnding                   // by the shortest way, whatever it is
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
