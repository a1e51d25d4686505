package listening

// What a frame must have to count for something, measured on synthetic speech,
// singing, pads, applause and pink noise, where they stand apart as said.
const (
	// audible is by how many dB the bands must stand over the noise, on average.
	// Pink noise reaches 0.5 in one frame of twenty; speech 10 dB over it lies at 3.
	audible      = 1.0
	stillAudible = 0.9 // right behind what was audible
	// clearly is what a noise without a voice must have to count for anything.
	clearly     = 1.5
	dyingAway   = 20.0             // dB under the loudest, where it counts no more; by ear
	forgetsLoud = 30.0 / frameRate // dB by which the loudest falls each frame; by ear
	// voiced is how much of a frame must repeat. Applause reaches 0.3 in one frame of
	// twenty; speech 10 dB over noise has 0.8, and 0.45 at least in nineteen of twenty.
	voiced = 0.5
	// A frame is steady by how alike its tones are to those of a tenth of a second
	// before, less by a tenth for each dB that its bands have changed: speech has −1,
	// 10 dB over noise −0.6, one who sings +0.1, a pad +0.8. That spectra change less
	// in music is after Scheirer & Slaney 1997 (ICASSP: spectral flux).
	sings, speaks = -0.15, -0.35
	unsure        = -0.45 // where what begins starts from
	// bursty is how much, in dB, the level must change in a twentieth of a second, on
	// average over the last half, for noise to be applause: pink noise changes by 0.6,
	// the applause of forty by 2.6, and by 1.6 at least.
	bursty = 1.2
)

// How long things last, in frames.
const (
	betweenWords   = frameRate / 5        // a shorter pause belongs to the speech (Campione & Véronis 2002: 200 ms)
	betweenClaps   = frameRate / 2        // by ear
	betweenNotes   = frameRate / 2        // by ear
	withinBurst    = 6                    // a shorter hole does not end a burst; by ear
	longestBurst   = frameRate / 4        // a voice sounds by then; longer than a fricative
	longestCough   = frameRate / 2        // noise that lasts longer is no knock; longer than a cough
	voicelessWords = frameRate * 45 / 100 // the longest that speech goes on without a voiced sound; by ear
	rememberedFor  = frameRate * 3 / 2    // in which bursts are counted
	applauseFrom   = 3                    // bursts
	steadyOver     = 0.5                  // s: time constant
	voiceFrom      = 3                    // voiced frames that are a voice
)

// hearing tells what is heard from what frames are like.
type hearing struct {
	kind        Kind
	steady      float64
	jumps       float64 // mean change of the level, dB
	loudest     float64 // dB, of late
	sinceSound  int     // frames since the last audible one
	sinceVoiced int
	voicing     int               // voiced frames of late, up to voiceFrom
	voiceless   int               // audible frames since the last voiced one
	burst       int               // frames since a burst without a voice has begun, 0 for none
	bursts      [applauseFrom]int // frames since the last ones began
}

func newHearing() hearing {
	h := hearing{steady: unsure, loudest: -120, sinceSound: rememberedFor, sinceVoiced: rememberedFor}
	h.forgetBursts()
	return h
}

func (h *hearing) forgetBursts() {
	for i := range h.bursts {
		h.bursts[i] = rememberedFor
	}
}

// look is what a frame is like.
type look struct {
	active   float64 // dB over the noise
	strength float64 // of its tone, 0…1
	alike    float64 // to the frame a tenth of a second before, −1…1
	changed  float64 // dB
	level    float64 // dB
	jump     float64 // dB by which the level has changed in a twentieth of a second
}

// hear takes the next frame.
func (h *hearing) hear(l look) {
	sounds := h.sounds(l)
	hasVoice := sounds && l.strength >= voiced
	h.loudest = max(h.loudest-forgetsLoud, l.level)
	h.jumps += (min(l.jump, 6) - h.jumps) / (frameRate / 2)
	for i := range h.bursts {
		h.bursts[i] = min(h.bursts[i]+1, rememberedFor)
	}
	switch {
	case sounds:
		h.sinceSound = 0
	default:
		if h.sinceSound = min(h.sinceSound+1, rememberedFor); h.sinceSound > betweenClaps {
			h.voiceless = 0
		}
	}
	h.heardVoice(l, hasVoice)
	h.heardBurst(l, hasVoice)
	h.kind = h.judge()
}

// sounds reports whether the frame is audible.
func (h *hearing) sounds(l look) bool {
	return l.active >= audible || l.active >= stillAudible && h.sinceSound <= betweenWords
}

func (h *hearing) heardVoice(l look, hasVoice bool) {
	if hasVoice {
		if h.sinceVoiced > betweenNotes {
			h.steady, h.voicing = unsure, 0
		}
		h.sinceVoiced, h.voiceless = 0, 0
		if h.voicing = min(h.voicing+1, voiceFrom); h.voicing == voiceFrom {
			h.forgetBursts() // they were consonants
		}
		now := min(max(l.alike-l.changed/10, -1), 1)
		h.steady += (now - h.steady) / (steadyOver * frameRate)
		return
	}
	h.sinceVoiced = min(h.sinceVoiced+1, rememberedFor)
	if h.stands(l) {
		h.voiceless = min(h.voiceless+1, rememberedFor)
	}
}

// stands reports whether a frame without a voice counts: a noise that dies away in
// a quiet room does not.
func (h *hearing) stands(l look) bool { return l.active >= clearly && l.level > h.loudest-dyingAway }

func (h *hearing) heardBurst(l look, hasVoice bool) {
	switch {
	case hasVoice || h.sinceSound > withinBurst:
		h.burst = 0
	case h.burst > 0:
		h.burst = min(h.burst+1, rememberedFor)
	case h.stands(l) && h.sinceVoiced > withinBurst:
		h.burst = 1
		copy(h.bursts[1:], h.bursts[:])
		h.bursts[0] = 0
	}
}

// judge says what is heard. A voice that is not steady is speech; what has no voice
// is nothing until the burst is over or has lasted longer than a consonant, since
// speech may begin like that.
func (h *hearing) judge() Kind {
	voice := h.voicing == voiceFrom && h.sinceVoiced <= voicelessWords
	switch {
	case voice && h.kind == Singing && h.steady > speaks, voice && h.steady > sings:
		return Singing
	case voice && h.sinceSound <= betweenWords && h.voiceless <= voicelessWords:
		return Speech
	}
	switch h.kind {
	case Singing:
		if h.sinceSound <= betweenNotes && h.sinceVoiced <= betweenNotes {
			return Singing
		}
	case Speech:
		if h.sinceSound <= betweenWords && h.sinceVoiced <= voicelessWords {
			return Speech
		}
	}
	applauds := h.jumps > bursty && (h.bursts[applauseFrom-1] < rememberedFor || h.voiceless > longestCough && h.burst > 0)
	switch {
	case h.sinceVoiced <= withinBurst:
		return h.kind
	case applauds && h.sinceSound <= betweenClaps:
		return Clapping
	case h.kind == Clapping && h.sinceSound <= betweenClaps:
		return Clapping
	case h.bursts[0] < rememberedFor && h.sinceSound > withinBurst && h.sinceSound <= betweenWords,
		h.burst > longestBurst:
		return Knock
	case h.kind == Knock && h.burst > 0:
		return Knock
	}
	return Silence
}

// holdsFloor reports whether the noise must not be learned from what is heard.
func (h *hearing) holdsFloor() bool {
	return h.kind == Singing || h.kind == Clapping
}
