package sound

import "math"

// timing is what every channel needs of its synth.
type timing struct {
	rate                  float64
	levelShare, toneShare float64 // of the way that a course goes in a tick
	hushShare             float64
	sympathy              *sympathy
}

// sends are a stretch of sound on its way from a channel: what is heard
// directly, what goes to the room and what goes to the chorus, left and right.
type sends struct{ dry, room, wide [2][batch]float64 }

// add adds n frames of other sends.
func (s *sends) add(other *sends, n int) {
	for side := range 2 {
		sum(s.dry[side][:n], other.dry[side][:n])
		sum(s.room[side][:n], other.room[side][:n])
		sum(s.wide[side][:n], other.wide[side][:n])
	}
}

func sum(to, from []float64) {
	from = from[:len(to)]
	for i := range to {
		to[i] += from[i]
	}
}

// clear silences n frames.
func (s *sends) clear(n int) {
	for side := range 2 {
		clear(s.dry[side][:n])
		clear(s.room[side][:n])
		clear(s.wide[side][:n])
	}
}

// aim gives where the channel's courses are going.
func (c *channel) aim() (left, right, reverb, chorus, cutoff, pitch, vibrato float64) {
	share := shares[c.timbre]
	if c.timbre != piano {
		vibrato = vibratoDepth * float64(c.modulation) / 127
	}
	return c.leftTarget, c.rightTarget,
		share.reverb * float64(c.reverb) / defaultReverb,
		min(1, share.chorus+float64(c.chorus)/127),
		// Brightness moves the pads' filters by an octave for 24 steps; 64 is
		// neutral (MMA RP-021).
		(float64(c.brightness) - defaultCentre) / 24,
		float64(c.bend) / 8192 * c.bendRange / 12,
		vibrato
}

// wake makes a resting channel ready for a note: with nothing to be heard, its
// courses need no time to get where they are going.
func (c *channel) wake() {
	if !c.resting {
		return
	}
	c.resting = false
	left, right, reverb, chorus, cutoff, pitch, vibrato := c.aim()
	c.left.set(left)
	c.right.set(right)
	c.reverbSend.set(reverb)
	c.chorSend.set(chorus)
	c.cutoff.set(cutoff)
	c.pitch.set(pitch)
	c.vibrato.set(vibrato)
	c.bendTo(pitch)
}

// bendTo sets the factor on every pitch of the channel, octaves from its own.
func (c *channel) bendTo(octaves float64) {
	if octaves != c.lastPitch {
		c.lastPitch = octaves
		c.pitchFactor = math.Exp2(octaves)
	}
}

// advance starts a tick.
func (c *channel) advance(t timing) {
	left, right, reverb, chorus, cutoff, pitch, vibrato := c.aim()
	c.left.advance(left, t.levelShare)
	c.right.advance(right, t.levelShare)
	c.reverbSend.advance(reverb, t.toneShare)
	c.chorSend.advance(chorus, t.toneShare)
	c.cutoff.advance(cutoff, t.toneShare)
	c.pitch.advance(pitch, t.levelShare)
	c.vibrato.advance(vibrato, t.toneShare)
	octaves := c.pitch.end
	if c.vibrato.end != 0 {
		c.vibratoTurn += vibratoHz * tick / t.rate
		c.vibratoTurn -= math.Floor(c.vibratoTurn)
		octaves += c.vibrato.end * math.Sin(2*math.Pi*c.vibratoTurn)
	}
	c.bendTo(octaves)

	c.resting = true
	for _, v := range c.pads[:c.soundingPads] {
		if v.sounding {
			v.advance(c, t.rate)
			c.resting = c.resting && !v.sounding
		}
	}
	for _, v := range c.pianos[:c.soundingPianos] {
		if v.sounding {
			v.advance(c, t.rate)
			c.resting = c.resting && !v.sounding
		}
	}
	c.bloom.advance(c.damper, t)
	c.resting = c.resting && c.bloom.quiet
}

// run sounds the channel for n frames, from offset frames into the tick, and
// leaves them in its sends. It touches nothing but the channel and its voices.
// Hot path: no allocation; O(n · voices).
func (c *channel) run(offset, n int, t timing) {
	for i := 0; i < n; {
		at := (offset + i) % tick
		if at == 0 && !c.resting {
			c.advance(t)
		}
		m := min(tick-at, n-i)
		c.segment(at, m)
		c.send(i, at, m)
		i += m
	}
}

// segment fills the bus for frames that lie within one tick.
func (c *channel) segment(at, n int) {
	clear(c.bus[0][at : at+n])
	clear(c.bus[1][at : at+n])
	if c.resting {
		return
	}
	for _, v := range c.pianos[:c.soundingPianos] {
		if v.sounding {
			v.add(c, at, n)
		}
	}
	c.bloom.add(&c.bus, at, n)
	for _, v := range c.pads[:c.soundingPads] {
		if v.sounding {
			v.add(c, at, n)
		}
	}
}

// send takes the bus through the channel's levels.
func (c *channel) send(to, at, n int) {
	left, right := c.bus[0][at:at+n], c.bus[1][at:at+n]
	s := &c.sends
	dryL, dryR := s.dry[0][to:to+n], s.dry[1][to:to+n]
	roomL, roomR := s.room[0][to:to+n], s.room[1][to:to+n]
	wideL, wideR := s.wide[0][to:to+n], s.wide[1][to:to+n]
	for k := range left {
		l, r := left[k]*c.left.at(at+k), right[k]*c.right.at(at+k)
		reverb, chorus := c.reverbSend.at(at+k), c.chorSend.at(at+k)
		dryL[k], dryR[k] = l, r
		roomL[k], roomR[k] = l*reverb, r*reverb
		wideL[k], wideR[k] = l*chorus, r*chorus
	}
}
