package soundcheck

import (
	"fmt"
	"math"

	"bedd/internal/clarity"
	"bedd/internal/gathering"
	"bedd/internal/loudness"
)

// Voice is a voice as it reaches a listener.
type Voice struct {
	Source  string         // in words
	Levels  clarity.Levels // spectrum levels at the listener, dB SPL
	LUFS    float64        // loudness on the scale of the recordings
	FullSPL float64        // what full scale on that scale is at the listener, dB SPL
	Heard   *Heard         // the recording, nil where there is none
	Input   bool           // it came through the sound input that play listens to
}

// setting tells the rig how loud the voice is through its sound input, so that listening
// knows a softer speaker; ok is false where that is not known: the level of a file says
// nothing of the input's gain.
func (v Voice) setting() (s gathering.Setting, ok bool) {
	if !v.Input || v.Heard == nil || !(v.Heard.LUFS >= -70 && v.Heard.LUFS <= -0.1) {
		return s, false
	}
	return gathering.Setting{Section: listeningSection, Field: "voice", Value: fmt.Sprintf("%.1fLUFS", v.Heard.LUFS)}, true
}

const listeningSection = "listening"

// standardLUFS is where the standard's speech is put on a scale of recordings, which
// it has none of: the programme loudness of EBU R 128.
const standardLUFS = -23.0

// StandardVoice is the standard speech spectrum of an effort, for want of a recording,
// spl dB SPL loud at the listener.
func StandardVoice(e clarity.Effort, spl float64) Voice {
	levels := clarity.StandardSpeech(e)
	levels = levels.Plus(spl - levels.Overall())
	return Voice{
		Source: fmt.Sprintf("the standard speech spectrum, %v effort", e),
		Levels: levels, LUFS: standardLUFS, FullSPL: loudnessOf(levels) - standardLUFS,
	}
}

// RecordedVoice is a voice that was recorded, taken to be spl dB SPL loud at the
// listener.
func RecordedVoice(source string, h Heard, spl float64) Voice {
	full := spl - h.Levels.Overall()
	return Voice{Source: source, Levels: h.Levels.Plus(full), LUFS: h.LUFS, FullSPL: full, Heard: &h}
}

// UsualSPL gives how loud a voice of some effort is a metre away, dB SPL (ANSI
// S3.5-1997).
func UsualSPL(e clarity.Effort) float64 { return math.Round(clarity.StandardSpeech(e).Overall()) }

// loudnessOf gives what BS.1770 would read of a steady sound with the given bands, on
// their scale: what lies under 141 Hz and over 8.9 kHz is not in them.
func loudnessOf(l clarity.Levels) float64 {
	for i, hz := range clarity.Centres {
		l[i] += loudness.WeightDB(hz)
	}
	return l.Overall() - 0.691
}
