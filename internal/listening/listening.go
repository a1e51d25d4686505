// Package listening tells from a microphone's signal how intensely someone speaks.
package listening

import "time"

// Features are what is measured of a voice, as of a time.
type Features struct {
	At time.Duration // of the signal's end, counted in its own samples

	Sound     Kind          // what is heard
	Voice     bool          // somebody speaks (between words too, not in a pause)
	Loudness  float64       // short-term, 3 s, LUFS by ITU-R BS.1770-4; −Inf for silence and before 3 s have passed
	Momentary float64       // 400 ms, LUFS; −Inf for silence and before 400 ms have passed
	Speech    float64       // loudness of the speech of the last 3 s alone, without its pauses and what leaks in, LUFS; −Inf for none
	Syllables float64       // a second while somebody speaks, over the last 4 s; 0 for less than 0.75 s of speech
	Pitch     float64       // of the voice, median of the last 3 s, 60…500 Hz; 0 for none
	Range     float64       // of the voice's pitch in the last 10 s, 10th to 90th percentile, semitones; 0 for none
	Pause     time.Duration // since somebody last spoke, or since the start, 0 while somebody does
	Leak      float64       // how much of the signal's K-weighted energy in the last 3 s the known output explains, 0…1
}

// Kind is what is heard.
type Kind uint8

// The kinds.
const (
	Silence  Kind = iota // or noise that stays
	Speech               // one voice that speaks
	Singing              // or music that bedd did not make
	Clapping             // applause, and other knocks in quick succession
	Knock                // a cough, a door, a pop: over at once

	NumKinds
)

func (k Kind) String() string {
	if k < NumKinds {
		return [...]string{"silence", "speech", "singing", "clapping", "knock"}[k]
	}
	return "unknown"
}
