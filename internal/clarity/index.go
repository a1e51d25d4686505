package clarity

import (
	"errors"
	"fmt"
	"math"
)

// Good and Poor are where the standard calls a communication system good, above,
// and poor, below (ANSI S3.5-1997, annex; from memory).
const (
	Good = 0.75
	Poor = 0.45
)

// LeastUnder is how far what is behind a voice is to stay under it, in LU, where nothing
// else is said: the least for commentary over music that listeners wanted (Torcoli and
// others, Journal of the Audio Engineering Society 67(12), 2019).
const LeastUnder = 10.0

// Heard is what becomes of speech over a noise.
type Heard struct {
	Index      float64        // Speech Intelligibility Index, 0…1
	Masking    Levels         // what the speech must stand out from, dB SPL
	Audible    [Bands]float64 // how much of each band gets through, 0…1
	Importance [Bands]float64
}

// Index gives the Speech Intelligibility Index of speech over a noise, by the
// third-octave procedure of ANSI S3.5-1997: 0 where nothing gets through, 1 where
// all does. Levels are spectrum levels in dB SPL at a listener of normal hearing.
//
// It never grows with the noise. It does fall when speech gets very loud.
func Index(speech, noise Levels) float64 { return Hear(speech, noise).Index }

// Hear gives the index and how it comes about.
func Hear(speech, noise Levels) (h Heard) {
	h.Masking = masking(speech, noise)
	for i := range Bands {
		h.Audible[i] = audible(speech[i], standard[Normal][i], h.Masking[i])
		h.Index += importance[i] * h.Audible[i]
	}
	return h
}

// audible gives how much of a band of speech gets through, 0…1: none at 15 dB under
// what masks it, all at 15 dB above. A voice more than 10 dB above normal effort is
// heard as distorted (the standard's clauses 5.7 to 5.9).
func audible(speech, normal, masking float64) float64 {
	return unit(1-(speech-normal-10)/160) * unit((speech-masking+15)/30)
}

// masking gives the equivalent disturbance (the standard's clauses 5.3 to 5.6):
// noise, the speech's own masking, both as far as they spread to higher bands, and
// the ear's own noise.
func masking(speech, noise Levels) (d Levels) {
	const selfMasking = 24 // dB under the speech
	var masker, slope Levels
	for i := range Bands {
		masker[i] = max(noise[i], speech[i]-selfMasking)
		slope[i] = 0.6*(masker[i]+10*math.Log10(Centres[i])-6.353) - 80
	}
	d[0] = masker[0]
	for i := 1; i < Bands; i++ {
		sum := power(noise[i])
		for k := range i {
			if !math.IsInf(masker[k], -1) {
				sum += power(masker[k] + 3.32*slope[k]*math.Log10(0.89*Centres[i]/Centres[k]))
			}
		}
		d[i] = decibels(sum)
	}
	for i := range d {
		d[i] = max(d[i], internalNoise[i])
	}
	return d
}

func unit(x float64) float64 { return max(0, min(1, x)) }

// ErrUnclear says that speech misses a target without any bed.
var ErrUnclear = errors.New("the words miss the target without any bed: a closer microphone, a louder voice or a quieter room comes first")

const (
	mostGain = 100.0 // dB: what a bed cannot be turned up or down by
	finest   = 0.001 // dB: how exactly a limit is found
)

// Limit gives by how many dB a bed may be turned up, or must be turned down where
// negative, for the index of speech over room and bed not to fall below target,
// 0…1: at the limit it is at the target or a thousandth of a decibel's worth above.
// A bed that may be turned up by 100 dB gives +Inf. The error is ErrUnclear where
// no bed at all is too much.
func Limit(speech, room, bed Levels, target float64) (gainDB float64, err error) {
	if !(target > 0 && target <= 1) {
		return 0, fmt.Errorf("a target of %v is out of range: more than 0, up to 1", target)
	}
	clear := func(gain float64) bool { return Index(speech, room.With(bed.Plus(gain))) >= target }
	low, high := -mostGain, mostGain
	switch {
	case Index(speech, room) < target:
		return 0, ErrUnclear
	case clear(high):
		return math.Inf(1), nil
	case !clear(low):
		return 0, ErrUnclear
	}
	for high-low > finest {
		if middle := (low + high) / 2; clear(middle) {
			low = middle
		} else {
			high = middle
		}
	}
	return low, nil
}
