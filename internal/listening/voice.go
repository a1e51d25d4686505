package listening

import "math"

// What is remembered of a voice, in frames, and what counts. By ear where no source
// is named.
const (
	pitchOver   = 3 * frameRate
	rangeOver   = 10 * frameRate
	rateOver    = 4 * frameRate
	rateFrom    = 3 * frameRate / 4 // of speech, to tell its rate from
	energySteps = 3 * frameRate     // as in the short-term loudness of BS.1770
	surelyTone  = 0.6               // a stronger tone than what makes a frame voiced

	leastPitch = 60.0 // Hz
	pitchSteps = 10   // a semitone
	numPitches = 37 * pitchSteps
	noPitch    = numPitches
	nextTo     = 1.5 * pitchSteps // a pitch farther from that of the frame before is a slip
)

// pitches counts the pitches of the last frames.
type pitches struct {
	last   []uint16 // noPitch for none
	at     int
	counts [numPitches + 1]int
}

func newPitches(frames int) pitches {
	p := pitches{last: make([]uint16, frames)}
	for i := range p.last {
		p.last[i] = noPitch
	}
	p.counts[noPitch] = frames
	return p
}

func (p *pitches) put(pitch uint16) {
	p.counts[p.last[p.at]]--
	p.counts[pitch]++
	p.last[p.at] = pitch
	p.at = (p.at + 1) % len(p.last)
}

// known is how many frames have a pitch.
func (p *pitches) known() int { return len(p.last) - p.counts[noPitch] }

// part gives the pitch under which a part of those known lies, 0…1, in semitones
// over the lowest.
func (p *pitches) part(of float64) float64 {
	under, want := 0, of*float64(p.known())
	for i, n := range p.counts[:noPitch] {
		if n > 0 && float64(under+n) >= want {
			return (float64(i) + (want-float64(under))/float64(n)) / pitchSteps
		}
		under += n
	}
	return 0
}

// pitchOf gives the number of a pitch in Hz.
func pitchOf(hz float64) uint16 {
	if !(hz > 0) {
		return noPitch
	}
	return uint16(min(max(12*pitchSteps*math.Log2(hz/leastPitch), 0), numPitches-1))
}

// voice remembers what was spoken over the last seconds.
type voice struct {
	short, long pitches
	before      uint16

	nuclei [rateOver]bool // by frame
	spoken [rateOver]bool
	at     int

	syllables syllables
}

func newVoice() voice {
	return voice{short: newPitches(pitchOver), long: newPitches(rangeOver), before: noPitch, syllables: newSyllables()}
}

// uttered is a frame, as far as it matters to a voice.
type uttered struct {
	speech, audible, voiced bool
	hz, strength            float64 // of its tone
	intensity, noise        float64 // dB, where syllables are found
	gap                     int     // inaudible frames before it
}

// hear takes the next frame.
func (v *voice) hear(u uttered) {
	pitch := uint16(noPitch)
	if u.voiced && u.strength >= surelyTone {
		pitch = pitchOf(u.hz)
	}
	slips := pitch == noPitch || v.before == noPitch || math.Abs(float64(pitch)-float64(v.before)) > nextTo
	v.before = pitch
	if slips || !u.speech {
		pitch = noPitch
	}
	v.short.put(pitch)
	v.long.put(pitch)

	v.at = (v.at + 1) % rateOver
	v.nuclei[v.at] = v.syllables.hear(u.intensity, u.noise, u.voiced) && u.speech
	v.spoken[v.at] = u.speech && u.audible
	if v.spoken[v.at] && u.gap <= betweenWords {
		for i := 1; i <= u.gap; i++ {
			v.spoken[(v.at-i+rateOver)%rateOver] = true
		}
	}
}

// rate gives syllables a second of speech, 0 for too little speech.
func (v *voice) rate() float64 {
	nuclei, spoken := 0, 0
	for i := range v.nuclei {
		if v.nuclei[i] {
			nuclei++
		}
		if v.spoken[i] {
			spoken++
		}
	}
	if spoken < rateFrom {
		return 0
	}
	return float64(nuclei) * frameRate / float64(spoken)
}

// pitch gives the median in Hz, 0 for none.
func (v *voice) pitch() float64 {
	if v.short.known() == 0 {
		return 0
	}
	return leastPitch * math.Exp2(v.short.part(0.5)/12)
}

// width gives the pitch's range in semitones.
func (v *voice) width() float64 {
	if v.long.known() == 0 {
		return 0
	}
	return v.long.part(0.9) - v.long.part(0.1)
}
