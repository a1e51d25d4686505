package listening

import "math"

const (
	// A syllable's nucleus is a peak of the intensity between dips of at least 2 dB,
	// in a voiced place, not more than 25 dB under the loudest (de Jong & Wempe 2009,
	// Behavior Research Methods 41; there the threshold is 25 dB under the 99 % level).
	dip    = 2.0
	faint  = 25.0
	above  = 6.0              // dB over the noise that it takes besides; by ear
	fades  = 10.0 / frameRate // dB that the loudest is forgotten, a frame: by ear
	nearBy = 3                // frames: where a peak is looked for a voiced one
)

// syllables finds the nuclei of syllables in an intensity, frame by frame.
type syllables struct {
	last      [5]float64 // intensities, for smoothing
	loudest   float64
	valley    float64
	peak      float64
	rising    bool
	sincePeak int
	ago       int // frames since the last voiced one
	peakVoice bool
}

func newSyllables() syllables {
	return syllables{loudest: math.Inf(-1), valley: math.Inf(1), peak: math.Inf(-1), ago: frameRate}
}

// hear takes the next intensity, in dB, and reports whether a nucleus has been
// passed, at the dip behind it.
func (s *syllables) hear(dB, noise float64, voice bool) bool {
	copy(s.last[1:], s.last[:])
	s.last[0] = dB
	x := (s.last[0] + 2*s.last[1] + 3*s.last[2] + 2*s.last[3] + s.last[4]) / 9
	s.loudest = max(s.loudest-fades, x)
	s.ago = min(s.ago+1, frameRate)
	if voice {
		s.ago = 0
	}
	if x < s.valley {
		s.valley = x
	}
	if !s.rising {
		if x < s.valley+dip {
			return false
		}
		s.rising, s.peak, s.peakVoice = true, x, false
	}
	if x > s.peak {
		s.peak, s.sincePeak, s.peakVoice = x, 0, false
	}
	s.sincePeak++
	if s.sincePeak <= nearBy && s.ago <= nearBy {
		s.peakVoice = true
	}
	if x > s.peak-dip {
		return false
	}
	found := s.peakVoice && s.peak > max(s.loudest-faint, noise+above)
	s.rising, s.valley = false, x
	return found
}
