package listening

import (
	"fmt"
	"math"
	"time"
)

// Heard is what a [Listener] has made of what it heard.
type Heard struct {
	Features
	Intensity float64 // of the speaker, 0…1
	Known     bool    // enough is known of the speaker to say so
	Why       Hold    // whether the intensity follows the voice, and if not why
	Eased     float64 // dB under its loudest that the bed is to stay for the words' sake, 0 for no limit
}

// Words say for a glance what is heard and what comes of it.
func (h Heard) Words() string {
	words := ""
	switch {
	case h.Why == Learns || h.Why == Follows && !h.Known:
		words = "hears: a voice, not known yet"
	case !h.Known && (h.Why == InSilence || h.Why == Settles):
		return "hears: nobody yet"
	case h.Why == Follows:
		words = fmt.Sprintf("hears: speech, %.1f", h.Intensity)
	case h.Why == Settles:
		words = fmt.Sprintf("hears: silence, settles, %.1f", h.Intensity)
	default:
		words = fmt.Sprintf("holds: %v", h.Why)
	}
	if h.Eased >= 1 {
		words += fmt.Sprintf(", eased %.0f dB for the words", h.Eased)
	}
	return words
}

// hopsPerSecond is how often a listener looks at what its ear has heard.
const hopsPerSecond = 20

// Listener is an ear, a speaker and a clearance. Create it with [NewListener]; it is
// for one goroutine.
type Listener struct {
	ear     *Ear
	speaker *Speaker
	ease    ease
	hop     int
	last    Features      // that the ear has heard
	missed  time.Duration // since then
}

// NewListener makes a listener to a signal of some channels at rate Hz, as [NewEar]
// takes them.
func NewListener(rate, channels int, m Manner, c Clearance) (*Listener, error) {
	ear, err := NewEar(EarConfig{Rate: rate, Channels: channels})
	if err != nil {
		return nil, err
	}
	speaker, err := NewSpeaker(m)
	if err != nil {
		return nil, err
	}
	if err := c.Check(); err != nil {
		return nil, err
	}
	return &Listener{ear: ear, speaker: speaker, ease: ease{Clearance: c}, hop: rate / hopsPerSecond}, nil
}

// Hop gives how many frames [Listener.Hear] takes at a time, a twentieth of a second.
func (l *Listener) Hop() int { return l.hop }

// Hear takes the next hop of interleaved samples, what bedd itself played in that time
// (mono; nil where it is not known), the bed's intensity and how loud it is, in dB
// under its loudest, −Inf while it is silent. Hot path: no allocation.
func (l *Listener) Hear(samples, known []float32, bedIntensity, bedDB float64) Heard {
	l.ear.Hear(samples, known)
	f := l.ear.Features()
	l.speaker.Begin(bedIntensity)
	l.speaker.Hear(f)
	l.ease.hear(f, bedDB)
	l.last, l.missed = f, 0
	return l.heard(f)
}

// Miss takes it that for a while nothing arrived, up to a quarter of a second a call. It
// holds, and after a rest of that the intensity settles as it does in silence. What is
// eased stays: nobody knows whether somebody speaks on. Hot path: no allocation.
func (l *Listener) Miss(d time.Duration) Heard {
	l.missed += max(d, 0)
	f := Features{At: l.last.At + l.missed, Pause: l.last.Pause + l.missed, Loudness: math.Inf(-1), Momentary: math.Inf(-1), Speech: math.Inf(-1)}
	l.speaker.Hear(f)
	return l.heard(f)
}

func (l *Listener) heard(f Features) Heard {
	h := Heard{Features: f, Why: l.speaker.Why(), Eased: l.ease.db}
	h.Intensity, h.Known = l.speaker.Intensity()
	return h
}

// How often the bed is told of a voice: at most, as long as nothing changes, and what
// counts as a change. A bed believes for four seconds what it was told.
const (
	tellLeast = 250 * time.Millisecond
	tellMost  = 2 * time.Second
	tellStep  = 0.01
	tellEase  = 0.25 // dB
)

// Teller thins what a bed is told of what was heard. The zero value has told nothing.
type Teller struct {
	told             bool
	at               time.Duration
	intensity, eased float64
}

// Tell reports whether the bed is to be told now, and takes it that it is.
func (t *Teller) Tell(at time.Duration, h Heard) bool {
	if !h.Known {
		return false
	}
	since := at - t.at
	moved := math.Abs(h.Intensity-t.intensity) >= tellStep || math.Abs(h.Eased-t.eased) >= tellEase
	if t.told && since < tellMost && !(moved && since >= tellLeast) {
		return false
	}
	t.told, t.at, t.intensity, t.eased = true, at, h.Intensity, h.Eased
	return true
}
