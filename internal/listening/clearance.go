package listening

import (
	"fmt"
	"math"
	"time"

	"bedd/internal/clarity"
)

// Clearance keeps the bed down so that the words stay clear over it. It knows two
// signs of a bed that endangers them: what the microphone hears of the bed comes
// nearer to the speech than Under; or the speaker is softer than the voice of the
// sound check, by which the ceiling was found. Start from [DefaultClearance].
type Clearance struct {
	Under   float64 // LU that the bed stays under the speech in the microphone, 0…MostUnder
	Voice   float64 // loudness of the sound check's voice through this input, LUFS, or 0 where there was none
	Ceiling float64 // that the sound check has found for it, dB under the bed's loudest, up to 0
}

// MostUnder is the most that a bed can be asked to stay under the speech, LU.
const MostUnder = 60.0

// DefaultClearance knows of no sound check.
func DefaultClearance() Clearance { return Clearance{Under: clarity.LeastUnder} }

// Check says what is wrong with the clearance, if anything.
func (c Clearance) Check() error {
	switch {
	case !(c.Under >= 0 && c.Under <= MostUnder):
		return fmt.Errorf("a bed %v LU under the voice is out of range 0…%v", c.Under, MostUnder)
	case !(c.Voice >= -70 && c.Voice <= 0):
		return fmt.Errorf("a voice of %v LUFS is out of range -70…0", c.Voice)
	case !(c.Ceiling <= 0):
		return fmt.Errorf("a ceiling of %v dB is above 0", c.Ceiling)
	}
	return nil
}

// How slowly the bed is eased down and comes back, in dB/s, and what else it takes.
// By ear: slower than a speaker's own rise and fall, so that nobody hears it as a move.
const (
	easeDown = 1.0
	easeBack = 0.25
	mostEase = 40.0 // dB: the quietest level that can be heard lies above that
	slack    = 2.0  // LU more than is needed until the bed comes back
	forgets  = 10 * time.Second
)

// ease is a clearance at work.
type ease struct {
	Clearance
	db    float64 // under the bed's loudest
	at    time.Duration
	begun bool
}

// hear takes features, and how loud the bed is, in dB under its loudest, −Inf while
// it is silent. While nobody speaks it stays where it is, and after a while comes back.
func (e *ease) hear(f Features, bedDB float64) {
	dt := f.At - e.at
	if !e.begun || dt < 0 {
		dt = 0
	}
	e.begun, e.at = true, f.At
	seconds := min(dt, mostStep).Seconds()
	want := e.db
	switch {
	case f.Voice && f.Sound == Speech:
		want = e.wanted(f, bedDB)
	case f.Pause >= forgets:
		want = 0
	}
	e.db += min(max(want-e.db, -easeBack*seconds), easeDown*seconds)
}

// wanted gives by how many dB under its loudest the bed is to be.
func (e *ease) wanted(f Features, bedDB float64) float64 {
	want := 0.0
	if softer := e.Voice - f.Speech; e.Voice < 0 && softer > 0 && !math.IsInf(softer, 0) {
		want = softer - e.Ceiling
	}
	// What the microphone hears of the bed, against the speech.
	over := f.Loudness + 10*math.Log10(f.Leak) - f.Speech + e.Under
	if down := over - bedDB; !math.IsNaN(down) && !math.IsInf(down, 0) {
		switch {
		case over > 0:
			want = max(want, down)
		case over > -slack:
			want = max(want, min(e.db, down+slack))
		default:
			want = max(want, down+slack)
		}
	}
	return min(want, mostEase)
}
