package dynamics

import (
	"math"
	"time"
)

// Time constants of the playing's trend, and the range of key velocities it
// spreads over 0…1. By ear: a phrase of a few seconds should lead, a single
// note should not.
const (
	trendAttack = 2 * time.Second        // how long an older strike counts against a new one
	trendWeight = 100 * time.Millisecond // what a strike weighs at least, as time
	trendRest   = 12 * time.Second       // how fast it sinks when the hands rest
	trendStep   = 0.25                   // the most that one strike may ask for beyond the trend
	softest     = 20                     // velocity that counts as 0
	loudest     = 110                    // velocity that counts as 1
)

// Trend is how strongly the player has been playing of late, 0…1.
//
// Between strikes it goes back to the floor, from above or from below,
//
//	x(t) = floor + (x(t₀)−floor)·e^(−(t−t₀)/12 s)
//
// and a strike of loudness v = (velocity−20)/90, held to 0…1, Δt after the last
// one pulls it by
//
//	x ← x + (1−e^(−(Δt+0.1 s)/2 s))·clamp(v−x, ±0.25)
//
// so one hard note moves it little and a run of them moves it all the way.
// Times that go back count as standing still.
type Trend struct {
	Floor  float64
	x      float64
	at     time.Duration
	struck time.Duration
	any    bool
}

// Strike notes a key going down with velocity 1…127.
func (t *Trend) Strike(at time.Duration, velocity uint8) {
	at = max(at, t.at)
	loudness := min(max((float64(velocity)-softest)/(loudest-softest), 0), 1)
	if !t.any {
		t.any, t.x = true, t.Floor+min(max(loudness-t.Floor, -trendStep), trendStep)
		t.at, t.struck = at, at
		return
	}
	t.x = t.At(at)
	gap := at - t.struck + trendWeight
	pull := 1 - math.Exp(-gap.Seconds()/trendAttack.Seconds())
	t.x += pull * min(max(loudness-t.x, -trendStep), trendStep)
	t.at, t.struck = at, at
}

// At gives the trend at a time.
func (t *Trend) At(at time.Duration) float64 {
	dt := max(at-t.at, 0)
	return t.Floor + (t.x-t.Floor)*math.Exp(-dt.Seconds()/trendRest.Seconds())
}

// Heard reports whether the player has struck a note at all.
func (t *Trend) Heard() bool { return t.any }
