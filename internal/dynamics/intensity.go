package dynamics

import (
	"math"
	"time"
)

// Source is what an intensity comes from.
type Source uint8

// The sources, the weakest first: a stronger one wins while it has something to
// say.
const (
	FromPlan Source = iota
	FromPlaying
	FromFoot
	FromStay
)

func (s Source) String() string {
	switch s {
	case FromPlan:
		return "moment"
	case FromPlaying:
		return "playing"
	case FromFoot:
		return "foot"
	case FromStay:
		return "stay"
	}
	return "unknown"
}

// How fast the intensity may move, per second. By ear: fast enough for a
// speaker's turn of voice, too slow to be noticed as a move.
const (
	RiseRate = 0.6
	FallRate = 0.4
)

// settled is how near is there: under half a step of a 7-bit controller.
const settled = 0.002

// Intensity joins everything that asks for more or less into one smooth number
// 0…1: how much the moment asks for. The zero value asks for nothing; times
// that go back count as standing still.
type Intensity struct {
	Trend  Trend
	plan   float64
	foot   float64
	moved  bool
	offset float64
	stay   bool
	value  float64
	at     time.Duration
}

// Plan sets what the plan asks for, 0…1. It is also where the playing's trend
// sinks or rises to when the hands rest.
func (i *Intensity) Plan(want float64) { i.plan, i.Trend.Floor = want, want }

// Foot notes the pedal's position, 0…1. Once a pedal has moved it speaks for
// the player: its place is a wish, also when it rests.
func (i *Intensity) Foot(position float64) { i.foot, i.moved = position, true }

// Nudge adds to whatever the other sources ask for at a time, as far as there is
// room: what cannot be heard is not stored up.
func (i *Intensity) Nudge(at time.Duration, by float64) {
	base, _ := i.asked(at)
	i.offset = min(max(base+i.offset+by, 0), 1) - base
}

// Stay holds the intensity where it is, or lets it go.
func (i *Intensity) Stay(on bool) { i.stay = on }

// Start puts the value straight to what is asked for: only while nothing sounds.
func (i *Intensity) Start(at time.Duration) {
	i.at = max(at, i.at)
	if !i.stay {
		i.value, _ = i.Target(i.at)
	}
}

// Target gives what is asked for at a time, and by whom.
func (i *Intensity) Target(at time.Duration) (float64, Source) {
	if i.stay {
		return i.value, FromStay
	}
	want, source := i.asked(at)
	return min(max(want+i.offset, 0), 1), source
}

// asked gives what the strongest source asks for, before any nudge.
func (i *Intensity) asked(at time.Duration) (float64, Source) {
	switch {
	case i.moved:
		return i.foot, FromFoot
	case i.Trend.Heard():
		return i.Trend.At(at), FromPlaying
	}
	return i.plan, FromPlan
}

// Advance moves the value on to a time and gives it.
func (i *Intensity) Advance(at time.Duration) float64 {
	target, _ := i.Target(at)
	rate := RiseRate
	if target < i.value {
		rate = FallRate
	}
	i.value = Slew(i.value, target, rate, at-i.at)
	i.at = max(at, i.at)
	return i.value
}

// Value gives the intensity as it last was.
func (i *Intensity) Value() float64 { return i.value }

// Settled reports whether the value has arrived and will stay where it is
// unless something new happens.
func (i *Intensity) Settled(at time.Duration) bool {
	target, source := i.Target(at)
	if math.Abs(target-i.value) > settled {
		return false
	}
	return source != FromPlaying || math.Abs(i.Trend.At(at)-i.Trend.Floor) < settled
}
