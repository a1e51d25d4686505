package listening

import (
	"fmt"
	"math"
	"time"

	"bedd/internal/loudness"
)

// EarConfig is what an [Ear] listens to.
type EarConfig struct {
	Rate     int // Hz, 8000…192000
	Channels int // 1…8
}

// MostChannels is how many channels an ear takes.
const MostChannels = 8

// Ear measures a signal. Loudness is that of all channels together, each with the
// weight 1 of ITU-R BS.1770-4 (the channels of a desk have no places in a room); all
// else is measured of their mean, so that two channels that cancel out are silence to
// it. Create it with [NewEar]; it is for one goroutine.
type Ear struct {
	rate, channels int
	frames         int64 // of samples, heard so far

	shelf, highPass [MostChannels]loudness.Biquad
	stepFrames      int     // in a step of the loudness
	filled          int     // in the step that is being gathered
	energy          float64 // of that step, all channels
	loud            loudness.Recent

	mix, ref   *resampler // the signal, and what is known
	mixes      *spectra
	refs       *spectra
	untilFrame int // samples at the inner rate
	known      int // samples at the inner rate until the known output no longer matters

	work    work
	past    [lookBack + 1]past
	newest  int
	leak    leak
	floor   floor
	tone    *tone
	bands   bands
	weight  [numBins]float64
	hearing hearing
	voice   voice

	shares  [energySteps]share
	sharing int
	at      int64 // frames of 10 ms so far
	spoke   int64 // the last audible one of speech; −1 for none
}

// work is what is measured of one frame.
type work struct {
	powers [numBins]float64  // without the leak
	bands  [numBands]float64 // of these
	tails  [numBands]float64 // what may be leak besides
	tones  [numBins]float64  // dB
}

// past is what is kept of a frame.
type past struct {
	levels [numBands]float64 // dB, at least a little over the noise
	tones  [numBins]float64  // dB by which bins stand over their neighbours
	level  float64           // of all bands, dB
}

// share is what parts of 10 ms of the signal are: K-weighted mean squares.
type share struct {
	all, leak, speech float64
	speaks            bool
}

// lookBack is how many frames lie between those that are compared.
const lookBack = frameRate / 10

// NewEar makes an ear that has heard nothing.
func NewEar(c EarConfig) (*Ear, error) {
	if err := loudness.Check(c.Rate); err != nil {
		return nil, fmt.Errorf("listening at %d Hz: 8000…192000 can be heard", c.Rate)
	}
	if c.Channels < 1 || c.Channels > MostChannels {
		return nil, fmt.Errorf("listening to %d channels: 1…%d can be heard", c.Channels, MostChannels)
	}
	e := &Ear{
		rate: c.Rate, channels: c.Channels,
		stepFrames: loudness.StepFrames(c.Rate),
		mix:        newResampler(float64(c.Rate)), ref: newResampler(float64(c.Rate)),
		mixes: newSpectra(), refs: newSpectra(),
		untilFrame: hop,
		tone:       newTone(), bands: newBands(), weight: kWeights(),
		hearing: newHearing(), voice: newVoice(), spoke: -1,
	}
	for ch := range c.Channels {
		e.shelf[ch], e.highPass[ch] = loudness.Shelf(float64(c.Rate)), loudness.HighPass(float64(c.Rate))
	}
	return e, nil
}

// loudest is the largest sample that is taken as it is, 24 dB over full scale.
const loudest = 16

// sane gives the sample, 0 for what is no number.
func sane(x float32) float32 {
	switch {
	case x >= -loudest && x <= loudest:
		return x
	case x > loudest && !math.IsInf(float64(x), 0):
		return loudest
	case x < -loudest && !math.IsInf(float64(x), 0):
		return -loudest
	}
	return 0
}

// Hear takes the next samples, the channels of a frame in turn, full scale ±1, and
// what bedd itself played in the same frames, one channel; nil where that is not
// known. Samples that are no numbers count as silence, an incomplete last frame is
// left out, and frames of the known output that are missing count as silence. The
// features do not depend on how the signal is cut. Hot path: no allocation.
func (e *Ear) Hear(samples, known []float32) {
	for i := 0; i+e.channels <= len(samples); i += e.channels {
		mix := float32(0)
		for ch, x := range samples[i : i+e.channels] {
			x = sane(x)
			mix += x
			y := e.highPass[ch].Next(e.shelf[ch].Next(float64(x)))
			e.energy += y * y
		}
		if e.filled++; e.filled == e.stepFrames {
			e.step()
		}
		ref := float32(0)
		if n := i / e.channels; n < len(known) {
			ref = sane(known[n])
		}
		e.frames++
		e.mix.put(mix / float32(e.channels))
		e.ref.put(ref)
		for y, due := e.mix.take(); due; y, due = e.mix.take() {
			z, _ := e.ref.take()
			e.mixes.put(float64(y))
			e.refs.put(float64(z))
			if e.known--; z > inaudible || z < -inaudible {
				e.known = knownFor
			}
			if e.untilFrame--; e.untilFrame == 0 {
				e.untilFrame = hop
				e.frame()
			}
		}
	}
}

const (
	inaudible = 1e-5          // full scale 1: −100 dB
	knownFor  = 2 * innerRate // samples: the longest delay and the room's echo
)

// step closes 10 ms of loudness.
func (e *Ear) step() {
	e.loud.Add(e.energy / float64(e.stepFrames))
	e.energy, e.filled = 0, 0
	for ch := range e.channels {
		e.shelf[ch].Rest()
		e.highPass[ch].Rest()
	}
}

// warmUp is how many frames pass until the first is full.
const warmUp = (frameSize + hop - 1) / hop

// frame measures the last 64 ms. It is due every 10 ms.
func (e *Ear) frame() {
	w := &e.work
	signal := e.mixes.spectrum()
	for k := firstBin; k < numBins; k++ {
		w.powers[k] = power(signal[k])
	}
	if e.known = max(e.known, 0); e.known > 0 {
		e.leak.hear(signal, e.refs.spectrum(), &w.powers)
	} else {
		e.leak.rest()
	}
	w.bands, w.tails = e.bands.sum(&w.powers), e.bands.sum(&e.leak.tail)
	if e.at++; e.at <= warmUp {
		return
	}
	e.floor.hear(&w.bands, e.hearing.holdsFloor())
	l := e.look()
	hz, strength := e.tone.find(&w.powers)
	l.strength = strength
	gap, sounds := e.hearing.sinceSound, e.hearing.sounds(l)
	e.hearing.hear(l)
	speech := e.hearing.kind == Speech
	if speech && sounds {
		e.spoke = e.at
	}
	if e.leak.share > 0.5 { // the tone may be the leak's
		strength = 0
	}
	u := uttered{speech: speech, audible: sounds, voiced: sounds && strength >= voiced, hz: hz, strength: strength, gap: gap}
	u.intensity, u.noise = e.intensity()
	e.voice.hear(u)
	e.share(signal, speech && sounds)
}

// noise gives the power in a band that is nothing to listen to.
func (e *Ear) noise(band int) float64 { return e.floor.noise[band] + e.work.tails[band] }

// look compares the frame with the noise and with the past.
func (e *Ear) look() (l look) {
	w := &e.work
	e.newest = (e.newest + 1) % len(e.past)
	now, before := &e.past[e.newest], &e.past[(e.newest+1)%len(e.past)]
	total, changed, compared := 0.0, 0.0, 1e-9
	for b, p := range w.bands {
		noise := e.noise(b)
		over := decibels(p/noise + 1e-9)
		l.active += min(max(over-2, 0), 20) / numBands
		total += p
		lowest := decibels(2 * noise)
		now.levels[b] = max(over+decibels(noise), lowest)
		if was := max(before.levels[b], lowest); max(now.levels[b], was) > lowest+1 {
			changed += math.Abs(now.levels[b] - was)
			compared++
		}
	}
	l.changed = changed / compared
	now.level = decibels(total + 1e-12)
	l.level = now.level
	l.jump = math.Abs(now.level - e.past[(e.newest+len(e.past)-lookBack/2)%len(e.past)].level)
	l.alike = e.alike(now, before)
	return l
}

// Where tones are compared, in bins, and how far around each its neighbours reach.
const (
	tonesFrom  = 20  // 310 Hz
	tonesTo    = 200 // 3.1 kHz
	neighbours = 8
)

// alike finds how a frame's tones stand over their surroundings, and how well that
// goes with a frame before: the correlation, −1…1.
func (e *Ear) alike(now, before *past) float64 {
	levels := &e.work.tones
	for k := tonesFrom - neighbours; k < tonesTo+neighbours; k++ {
		levels[k] = decibels(e.work.powers[k] + 1e-13)
	}
	around := 0.0
	for k := tonesFrom - neighbours; k < tonesFrom+neighbours; k++ {
		around += levels[k]
	}
	both, one, other := 0.0, 1e-9, 1e-9
	for k := tonesFrom; k < tonesTo; k++ {
		around += levels[k+neighbours]
		x := levels[k] - around/(2*neighbours+1)
		around -= levels[k-neighbours]
		if 4*e.leak.explained[k] > e.work.powers[k] { // what is left of a leak's tone
			x = 0
		}
		now.tones[k] = x
		y := before.tones[k]
		both, one, other = both+x*y, one+x*x, other+y*y
	}
	return both / math.Sqrt(one*other)
}

// intensity gives what the syllables are found in, the signal from 300 to 3,000 Hz,
// and the noise there, dB.
func (e *Ear) intensity() (signal, noise float64) {
	signal, noise = 1e-9, 1e-9
	for b := 6; b <= 16; b++ { // third octaves 315…3,150 Hz
		n := e.noise(b)
		signal, noise = signal+max(e.work.bands[b], n), noise+n
	}
	return decibels(signal), decibels(noise)
}

// share says what the last 10 ms of the signal consist of.
func (e *Ear) share(signal []complex128, speaks bool) {
	all, leaks, speech := 1e-20, 0.0, 0.0
	for k := firstBin; k < numBins; k++ {
		all += e.weight[k] * power(signal[k])
		leaks += e.weight[k] * e.leak.explained[k]
	}
	for b, p := range e.work.bands {
		speech += e.weight[e.bands[b].middle] * max(p-e.noise(b), 0)
	}
	heard := e.loud.Mean(frameSize / hop) // as many have passed while the ear warmed up
	e.sharing = (e.sharing + 1) % energySteps
	e.shares[e.sharing] = share{heard, heard * min(leaks/all, 1), heard * min(speech/all, 1), speaks}
}

// Features gives what is heard as of the last sample. No allocation; O(1,000).
func (e *Ear) Features() Features {
	f := Features{
		At:       time.Duration(float64(e.frames) / float64(e.rate) * float64(time.Second)),
		Sound:    e.hearing.kind,
		Loudness: e.loud.ShortTerm(), Momentary: e.loud.Momentary(), Speech: math.Inf(-1),
		Syllables: e.voice.rate(), Pitch: e.voice.pitch(), Range: e.voice.width(),
	}
	f.Voice = f.Sound == Speech
	if !f.Voice {
		f.Pause = f.At
		if e.spoke >= 0 {
			f.Pause = time.Duration(e.at-e.spoke) * time.Second / frameRate
		}
	}
	all, leaks, speech, frames := 0.0, 0.0, 0.0, 0
	for _, s := range e.shares {
		all, leaks = all+s.all, leaks+s.leak
		if s.speaks {
			speech, frames = speech+s.speech, frames+1
		}
	}
	if all > 0 {
		f.Leak = min(leaks/all, 1)
	}
	if frames > 0 {
		f.Speech = loudness.LUFS(speech / float64(frames))
	}
	return f
}
