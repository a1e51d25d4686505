package session

import (
	"strconv"

	"bedd/internal/bed"
)

// Marker gives the text that marks an action in a file, such as "chord Am" or
// "do stay on"; ok is false for what is not marked.
func Marker(a bed.Action) (text string, ok bool) {
	switch a.Kind {
	case bed.EnterChord:
		return "chord " + a.Chord.Symbol(), true
	case bed.Did:
		switch a.Command {
		case bed.Stay, bed.Follow:
			if a.On {
				return "do " + a.Command.String() + " on", true
			}
			return "do " + a.Command.String() + " off", true
		case bed.KeyUp, bed.KeyDown, bed.KeyTo:
			return "do " + a.Command.String() + " " + a.Key.String(), true
		case bed.Take:
			return "do take song " + strconv.Itoa(int(a.Song)), true
		}
		return "do " + a.Command.String(), true
	}
	return "", false
}
