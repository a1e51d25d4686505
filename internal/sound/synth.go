// Package sound is the built-in voices, rendering, loudness, the audio
// device.
package sound

import (
	"fmt"
	"math/rand/v2"
)

const (
	// DefaultCeilingDB is the highest true peak of a synth, in dBTP (EBU
	// R 128 v4: −1 at most).
	DefaultCeilingDB = -1.0
)

// Config is what a Synth is made with.
type Config struct {
	Rate      int     // frames a second: 44100 or 48000
	Seed      uint64  // of everything that varies; the same seed plays the same sound
	CeilingDB float64 // highest true peak, dBTP, −24…−0.5; 0 means DefaultCeilingDB

	// Apart has a bit for each channel (1<<channel) that is to sound from the
	// right output alone, in mono, and the others from the left: a desk can
	// then mix them. 0 is stereo.
	Apart uint16
}

// Synth turns MIDI channel messages into stereo sound: a piano and two pads
// on 16 channels, as General MIDI programs 0…7 and 88…95.
//
// Its sound depends on the messages, the frames between them and the seed,
// never on the block lengths asked for. A Synth belongs to one goroutine at
// a time.
type Synth struct {
	rate      float64
	random    *rand.Rand
	channels  [numChannels]channel
	pads      [padSlots]padVoice
	pianos    [pianoSlots]pianoVoice
	padSounds [air + 1]padSound
	keys      [128]pianoKey
	timing    timing
	offset    int // frames into the running tick

	wet     ramp // of chorus and reverb
	hushing bool

	passage *passage // on its way from the voices to the outputs
	outputs []output // one in stereo, or the left and the right
	start   fade
}

// New makes a synth. It takes some milliseconds for the tables.
func New(c Config) (*Synth, error) {
	ceilingDB, err := checkSound(c.Rate, c.CeilingDB)
	if err != nil {
		return nil, err
	}
	rate := float64(c.Rate)
	s := &Synth{
		rate:    rate,
		random:  rand.New(rand.NewPCG(c.Seed, 1)),
		start:   newFade(c.Rate),
		passage: new(passage),
		outputs: make([]output, 1),
	}
	s.padSounds = newPadSounds(rate, s.random)
	for key := range s.keys {
		s.keys[key] = newPianoKey(byte(key), rate, s.random)
	}
	s.timing = timing{
		rate:       rate,
		levelShare: shareFor(levelSmoothing, rate),
		toneShare:  shareFor(toneSmoothing, rate),
		hushShare:  shareFor(fadeSeconds/3, rate),
		sympathy:   newSympathy(rate, rand.New(rand.NewPCG(c.Seed, 2))),
	}
	if c.Apart != 0 {
		s.outputs = make([]output, 2)
	}
	for i := range s.channels {
		s.channels[i].init(byte(i), int(c.Apart>>i&1))
	}
	for i := range s.outputs {
		s.outputs[i].init(rate, ceilingDB, c.Apart != 0)
	}
	s.wet.set(1)
	return s, nil
}

// checkSound refuses rates and ceilings that are not kept, and gives the ceiling
// meant.
func checkSound(rate int, ceilingDB float64) (float64, error) {
	if rate != 44100 && rate != 48000 {
		return 0, fmt.Errorf("synth at %d Hz: 44100 and 48000 are played", rate)
	}
	if ceilingDB == 0 {
		ceilingDB = DefaultCeilingDB
	}
	if !(ceilingDB >= -24 && ceilingDB <= -0.5) {
		return 0, fmt.Errorf("synth with a ceiling of %g dBTP: −24…−0.5 can be kept", ceilingDB)
	}
	return ceilingDB, nil
}

// Rate gives the frames a second.
func (s *Synth) Rate() int { return int(s.rate) }

// FadeIn makes the sound rise from silence again, as at the start.
func (s *Synth) FadeIn() { s.start.again() }

// Send applies one channel message now, between the frames rendered and
// those to come. Messages for the whole system, and what a synth like this
// has no use for, do nothing.
// Hot path: no allocation; O(voices).
func (s *Synth) Send(status, data1, data2 byte) {
	data1, data2 = data1&0x7F, data2&0x7F
	n := status & 0x0F
	c := &s.channels[n]
	switch status & 0xF0 {
	case 0x80:
		s.noteOff(n, data1)
	case 0x90:
		if data2 == 0 {
			s.noteOff(n, data1)
		} else {
			s.noteOn(n, data1, data2)
		}
	case 0xB0:
		s.control(n, data1, data2)
	case 0xC0:
		c.timbre = timbreOf(data1)
	case 0xE0:
		c.bend = int(data2)<<7 + int(data1) - 8192
	}
}

func (s *Synth) noteOn(channel, key, velocity byte) {
	c := &s.channels[channel]
	c.wake()
	if c.timbre != piano {
		v := s.padOf(channel, key)
		if v == nil || v.sound != &s.padSounds[c.timbre] {
			v = claim(s.pads[:], padVoices)
			v.note = note{channel: channel, key: key}
		}
		v.strike(&s.padSounds[c.timbre], c, velocity, s.rate, s.random)
		return
	}
	latched := false
	for i := range s.pianos {
		if old := &s.pianos[i]; old.sounding && !old.fading && old.channel == channel && old.key == key {
			// The hammer meets the string again; and sostenuto holds a
			// damper, not a sound.
			old.fading = true
			latched = latched || old.latched
		}
	}
	v := claim(s.pianos[:], pianoVoices)
	v.note = note{channel: channel, key: key, latched: latched}
	v.strike(&s.keys[key], velocity, c.soft, s.rate)
}

// padOf finds the voice that plays a key, so that a note struck again goes
// on from where it is.
func (s *Synth) padOf(channel, key byte) *padVoice {
	for i := range s.pads {
		if v := &s.pads[i]; v.sounding && !v.fading && v.channel == channel && v.key == key {
			return v
		}
	}
	return nil
}

func (s *Synth) noteOff(channel, key byte) {
	damperUp := s.channels[channel].damper
	s.eachNote(channel, func(n *note) {
		if n.key == key && n.held {
			n.letGo(damperUp)
		}
	})
}

// eachNote calls f for every sounding note of a channel.
func (s *Synth) eachNote(channel byte, f func(*note)) {
	for i := range s.pads {
		if n := &s.pads[i].note; n.sounding && n.channel == channel {
			f(n)
		}
	}
	for i := range s.pianos {
		if n := &s.pianos[i].note; n.sounding && n.channel == channel {
			f(n)
		}
	}
}

// control applies a controller; those that move notes are here, the rest in
// channel.
func (s *Synth) control(channel, number, value byte) {
	c := &s.channels[channel]
	on := value >= 64
	switch number {
	case 64:
		s.setDamper(channel, on)
	case 66:
		s.setSostenuto(channel, on)
	case 120:
		s.silence(channel)
	case 121:
		s.setSostenuto(channel, false)
		s.setDamper(channel, false)
		c.resetControllers()
	case 123, 124, 125, 126, 127: // the modes act as all notes off too
		s.eachNote(channel, func(n *note) { n.letGo(c.damper) })
	default:
		c.control(number, value)
	}
}

func (s *Synth) setDamper(channel byte, up bool) {
	c := &s.channels[channel]
	if c.damper && !up {
		s.eachNote(channel, (*note).damperFell)
	}
	c.damper = up
}

func (s *Synth) setSostenuto(channel byte, on bool) {
	c := &s.channels[channel]
	switch {
	case on && !c.sostenuto:
		s.eachNote(channel, func(n *note) { n.latched = n.latched || n.held })
	case !on && c.sostenuto:
		s.eachNote(channel, func(n *note) { n.unlatch(c.damper) })
	}
	c.sostenuto = on
}

// silence ends a channel's notes at once, whatever the pedals, and the room
// with them when no other channel sounds.
func (s *Synth) silence(channel byte) {
	s.eachNote(channel, func(n *note) {
		n.held, n.latched, n.fading = false, false, true
	})
	s.channels[channel].bloom.hushing = true
	s.hushing = true
	for i := range s.pads {
		s.hushing = s.hushing && (!s.pads[i].sounding || s.pads[i].fading)
	}
	for i := range s.pianos {
		s.hushing = s.hushing && (!s.pianos[i].sounding || s.pianos[i].fading)
	}
}
