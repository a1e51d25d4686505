package sound

import (
	"math"
	"math/rand/v2"
)

const (
	bloomStrings = 48 // open strings that answer, from bloomLowest up
	bloomLowest  = 41 // F2
	bloomEvery   = 4  // frames of sound in one of theirs: they go up to 1.5 kHz
	bloomFrames  = tick / bloomEvery

	bloomLevel = 0.05 // of a string that is held at its own pitch; by ear
)

// sympathy is the strings that ring by themselves while the damper pedal is
// up, as two-pole resonators, open and with the dampers down.
type sympathy struct {
	gain         [bloomStrings]float64 // on the way in
	c, d         [bloomStrings]float64 // y[n] = x·gain + c·y[n−1] − d·y[n−2]
	cDamp, dDamp [bloomStrings]float64
}

func newSympathy(rate float64, random *rand.Rand) *sympathy {
	s := new(sympathy)
	slow := rate / bloomEvery
	for i := range s.c {
		key := byte(bloomLowest + i)
		cents := stretchCents(key) + 3*(2*random.Float64()-1) // no two in tune
		cos := math.Cos(2 * math.Pi * keyHz(key) * math.Exp2(cents/1200) / slow)
		open := math.Pow(10, -decayDB(key)/2/20/slow)
		damped := math.Pow(10, -60/0.25/20/slow)
		s.c[i], s.d[i] = 2*open*cos, open*open
		s.cDamp[i], s.dDamp[i] = 2*damped*cos, damped*damped
		s.gain[i] = bloomLevel * (1 - open) * math.Sqrt2
	}
	return s
}

// bloom is one channel's answering strings. They hear a tick late, and a
// quarter of the frames, which costs little and is not missed.
type bloom struct {
	y1, y2  [bloomStrings]float64
	heard   [tick]float64
	sound   [2][tick]float64
	last    [2]float64
	pedal   ramp // 0…1
	gain    ramp // 0 when cut short
	wet     bool // something sounds in this tick
	quiet   bool
	hushing bool
}

// advance starts a tick with what was heard in the one before.
func (b *bloom) advance(open bool, t timing) {
	up := 0.0
	if open {
		up = 1
	}
	b.pedal.advance(up, t.toneShare)
	if b.hushing {
		b.gain.advance(0, t.hushShare)
		if b.gain.end < 1e-4 {
			b.y1, b.y2 = [bloomStrings]float64{}, [bloomStrings]float64{}
			b.hushing = false
		}
	} else {
		b.gain.advance(1, t.hushShare)
	}
	in, struck := b.listen()
	if b.wet = struck || !b.quiet; !b.wet {
		return
	}
	sides := b.ring(&in, open, t.sympathy)
	b.quiet = !struck && b.silent()
	for side := range b.sound {
		last := b.last[side]
		for i, to := range sides[side] { // on the line between two of their frames
			step := (to - last) / bloomEvery
			for k := range bloomEvery {
				b.sound[side][i*bloomEvery+k] = (last + step*float64(k)) * b.gain.at(i*bloomEvery+k)
			}
			last = to
		}
		b.last[side] = last
	}
}

// listen gives what of the tick before comes to the strings.
func (b *bloom) listen() (in [bloomFrames]float64, struck bool) {
	for i := range in {
		h := b.heard[i*bloomEvery : i*bloomEvery+bloomEvery]
		in[i] = (h[0] + h[1] + h[2] + h[3]) * (1.0 / bloomEvery) * b.pedal.at(i*bloomEvery)
		struck = struck || in[i] != 0
	}
	b.heard = [tick]float64{}
	return in, struck
}

// ring lets the strings answer; every other one lies to the left.
func (b *bloom) ring(in *[bloomFrames]float64, open bool, s *sympathy) (sides [2][bloomFrames]float64) {
	c, d := &s.c, &s.d
	if !open {
		c, d = &s.cDamp, &s.dDamp
	}
	for i := 0; i < bloomStrings; i += 2 {
		c0, d0, g0, p0, q0 := c[i], d[i], s.gain[i], b.y1[i], b.y2[i]
		c1, d1, g1, p1, q1 := c[i+1], d[i+1], s.gain[i+1], b.y1[i+1], b.y2[i+1]
		for k := 0; k < bloomFrames; k += 2 { // as in pianoVoice.add
			q0 = in[k]*g0 + c0*p0 - d0*q0
			q1 = in[k]*g1 + c1*p1 - d1*q1
			sides[0][k] += q0
			sides[1][k] += q1
			p0 = in[k+1]*g0 + c0*q0 - d0*p0
			p1 = in[k+1]*g1 + c1*q1 - d1*p1
			sides[0][k+1] += p0
			sides[1][k+1] += p1
		}
		b.y1[i], b.y2[i] = p0, q0
		b.y1[i+1], b.y2[i+1] = p1, q1
	}
	return sides
}

// silent reports whether no string is heard any more, and stills them.
func (b *bloom) silent() bool {
	for i := range b.y1 {
		if math.Abs(b.y1[i])+math.Abs(b.y2[i]) > 1e-6 {
			return false
		}
	}
	b.y1, b.y2 = [bloomStrings]float64{}, [bloomStrings]float64{}
	return true
}

// add hears what the hammers made of the frames from at on, and sounds.
// Hot path: no allocation.
func (b *bloom) add(bus *[2][tick]float64, at, n int) {
	for k := at; k < at+n; k++ {
		b.heard[k] = bus[0][k] + bus[1][k]
	}
	if b.wet {
		for k := at; k < at+n; k++ {
			bus[0][k] += b.sound[0][k]
			bus[1][k] += b.sound[1][k]
		}
	}
}
