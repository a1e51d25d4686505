package dynamics

import (
	"math"
	"time"
)

// What a foot can do, and what only a worn potentiometer or a loose plug does.
// By ear, on invented traces: a quick foot needs 0.07 s from heel to toe.
const (
	footStep   = 0.04                   // of the travel: always believed, twice what a resting pedal wanders
	footSpeed  = 15.0                   // of the travel a second, on top of that
	footSample = 15 * time.Millisecond  // the longest time between two readings of a pedal that moves
	footEnd    = 0.18                   // of the travel: the farthest from which an end is believed at once
	strayReach = 0.35                   // of the travel: how far a foot may have got during a stray reading
	straySpeed = 2.0                    // of the travel a second, while it lasts
	strayTime  = 600 * time.Millisecond // how long a stray reading is not believed: longer than half a second's dropout
	chatter    = time.Second            // how long after a pedal's first reading a jump is its electronics', not a foot's
)

// Foot is what a pedal's readings tell of where the foot is. A reading no foot
// could have reached since the one before is not believed until it has lasted
// 0.6 s, so that a dropout of half a second changes nothing; readings that wander
// by no more than the pedal's noise change nothing either.
//
//	reading  ─────┐    ┌─────      ──────┐
//	              └────┘ 0.5 s           └────────────
//	position ────────────────      ────────────┐
//	                                    0.6 s  └──────
//
// A foot that stamps is believed at once where the pedal is read every 15 ms or
// more often: its readings pass through the places between. One that is read so
// seldom that they do not is believed after 0.6 s. Times that go back count as
// standing still.
type Foot struct {
	pedal  Pedal
	seen   bool
	travel float64
	at     time.Duration // of the last reading that was believed
	stray  bool          // the last one was not
	said   float64       // what it said
	since  time.Duration // when the stray readings began
	first  time.Duration // when the pedal was first read
	woke   bool          // a jump of the first second was believed, and nobody has asked yet
}

// Read takes a reading.
func (f *Foot) Read(at time.Duration, raw uint16) {
	f.pass(at)
	at = max(at, f.at)
	t := f.pedal.travel(raw)
	switch {
	case !f.seen:
		f.seen, f.first, f.travel, f.at = true, at, t, at
	case f.believable(at, t):
		f.follow(t)
		f.at, f.stray = at, false
	default:
		if !f.stray {
			f.stray, f.since = true, at
		}
		f.said = t
	}
}

// believable reports whether a foot can have got to t.
func (f *Foot) believable(at time.Duration, t float64) bool {
	far, end := math.Abs(t-f.travel), f.pedal.atEnd(t)
	switch {
	case f.stray && end:
		return far <= footStep
	case f.stray:
		return far <= min(footStep+straySpeed*(at-f.since).Seconds(), strayReach)
	case end && far > footEnd:
		return false
	}
	return far <= footStep+footSpeed*min(at-f.at, footSample).Seconds()
}

// follow moves the travel no further than the noise asks for, except to the very
// ends, so that an end is an end without a dead zone too.
func (f *Foot) follow(t float64) {
	if t == 0 || t == 1 {
		f.travel = t
		return
	}
	f.travel = min(max(f.travel, t-f.pedal.Noise), t+f.pedal.Noise)
}

// pass lets time go by: a stray reading that has lasted is believed.
func (f *Foot) pass(at time.Duration) {
	if f.stray && at-f.since > strayTime {
		f.stray, f.at = false, f.since+strayTime
		f.follow(f.said)
		f.woke = f.woke || f.since-f.first < chatter
	}
}

// awoke reports, once, whether the pedal has jumped to where it stands in its first
// second.
func (f *Foot) awoke() bool {
	woke := f.woke
	f.woke = false
	return woke
}

// Position gives what the foot asked for when it was last looked at, 0…1.
func (f *Foot) Position() float64 { return f.pedal.position(f.travel) }
