package journal

import "bedd/internal/bed"

// eventNames are the kinds of call as the file has them. One that only lets time
// pass has none.
var eventNames = [...]string{
	bed.TimePassed: "tick", bed.Asked: "ask", bed.NoteStruck: "on", bed.NoteLeft: "off", bed.DamperMoved: "damper",
	bed.PedalMoved: "pedal", bed.VoiceHeard: "voice", bed.InputEnded: "end",
}

// actionNames are the kinds of action as the file has them.
var actionNames = [...]string{
	bed.StrikeNote: "on", bed.ReleaseNote: "off", bed.SetLevel: "level", bed.SetBrightness: "bright",
	bed.EnterChord: "chord", bed.Did: "did", bed.SilenceAll: "silence", bed.Tell: "tell", bed.ChangeMoment: "moment",
	bed.SongBegan: "song",
}

// dueName stands before the actions that were due at another time than the call's.
const dueName = "due"

// numbered gives the place of a name in a list.
func numbered[T ~uint8](names []string, name []byte) (T, bool) {
	for i, n := range names {
		if n == string(name) {
			return T(i), true
		}
	}
	return 0, false
}
