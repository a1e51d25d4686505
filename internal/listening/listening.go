// Package listening tells from a microphone's signal how intensely someone speaks.
package listening

import "time"

// Features are what is measured of a voice, as of a time.
type Features struct {
	At time.Duration // of the signal's end, counted in its own samples

	Sound     Kind          // what is heard
	Voice     bool          // somebody speaks (between words too, not in a pause)
	Loudness  float64       // short-term, 3 s, LUFS by ITU-R BS.1770-4; −Inf for silence
	Momentary float64       // 400 ms, LUFS
	Speech    float64       // loudness of the speech alone, without its pauses and what leaks in, LUFS; −Inf for none
	Syllables float64       // a second while somebody speaks, over the last seconds; 0 for none
	Pitch     float64       // of the voice, over the last seconds, Hz; 0 for none
	Range     float64       // of the voice's pitch, over the last seconds, semitones
	Pause     time.Duration // since somebody last spoke, 0 while somebody does
	Leak      float64       // how much of the signal's energy the known output explains, 0…1
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
