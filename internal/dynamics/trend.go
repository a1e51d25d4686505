package dynamics

import (
	"math"
	"time"
)

// Time constants of the playing's trend, and what spreads over 0…1. By ear: a
// phrase of a few seconds should lead, a single note should not, and a slow song
// with a chord every three seconds is playing, not resting.
const (
	trendPull    = 2 * time.Second        // how long an older strike counts against a new one
	trendWeight  = 100 * time.Millisecond // what a strike weighs at least, as time
	trendStep    = 0.25                   // the most that one strike may ask for beyond the trend
	trendShare   = 0.25                   // how much of the way to full presence one strike goes
	trendWait    = 3 * time.Second        // how long hands may lie still before they count as resting
	trendRest    = 12 * time.Second       // how fast their presence fades then
	trendRecent  = 4 * time.Second        // how long an onset or a low key counts
	trendOnset   = 40 * time.Millisecond  // strikes closer together are one chord
	softest      = 20.0                   // velocity that counts as 0
	loudest      = 110.0                  // velocity that counts as 1
	busiest      = 4.0                    // onsets a second that count as 1
	highest      = 60.0                   // key, C4, from which the left hand counts as 0
	lowest       = 36.0                   // key, C2, that counts as 1
	velocityPart = 0.7
	onsetPart    = 0.2
	registerPart = 0.1
)

// Trend is how strongly the player has been playing of late, 0…1, and how far
// the hands are there at all. The zero value is a player who has not begun.
//
// A strike of velocity V on key n, Δt after the last one, with v = (V−20)/90 and
// r = (60−n)/24, each held to 0…1, does this to loudness x, onsets o a second,
// the left hand's register l and presence p:
//
//	x ← x + (1−e^(−(Δt+0.1 s)/2 s))·clamp(v−x, ±0.25/p)
//	o ← o·e^(−Δt/4 s) + 1/(4 s), once a chord
//	l ← max(l·e^(−Δt/4 s), r)
//	p ← p + (1−p)/4
//
// so one hard note moves it little and a run of them moves it all the way.
// Between strikes o and l fade by themselves, and so does presence once the
// hands have lain still for 3 s:
//
//	p(t) = p₀·e^(−max(0, t−t₀−3 s)/12 s)
//
// The strength is 0.7·x + 0.2·min(o/4, 1) + 0.1·l, and what the playing asks for
// is floor + p·(strength−floor): it sinks, or rises, to the floor when the hands
// rest. Times that go back count as standing still.
type Trend struct {
	loudness, onsets, register float64
	presence                   float64
	at                         time.Duration // of the last strike
	chord                      time.Duration // when its chord began
	any                        bool
}

// Strike notes a key 0…127 going down with velocity 1…127.
func (t *Trend) Strike(at time.Duration, key, velocity uint8) {
	at = max(at, t.at)
	loud := unit((float64(velocity) - softest) / (loudest - softest))
	low := unit((highest - float64(key)) / (highest - lowest))
	fade := t.fade(at)
	t.onsets, t.register, t.presence = t.onsets*fade, max(t.register*fade, low), t.Presence(at)
	if !t.any || at-t.chord > trendOnset {
		t.chord = at
		t.onsets += 1 / trendRecent.Seconds()
	}
	if !t.any {
		t.any, t.loudness = true, loud
	} else {
		most := trendStep / max(t.presence, trendStep)
		pull := 1 - math.Exp(-(at-t.at+trendWeight).Seconds()/trendPull.Seconds())
		t.loudness += pull * min(max(loud-t.loudness, -most), most)
	}
	t.presence += trendShare * (1 - t.presence)
	t.at = at
}

// fade gives what is left of what counted at the last strike.
func (t *Trend) fade(at time.Duration) float64 {
	return math.Exp(-max(at-t.at, 0).Seconds() / trendRecent.Seconds())
}

// Strength gives how strongly the hands play, or played before they came to
// rest, 0…1.
func (t *Trend) Strength(at time.Duration) float64 {
	fade := t.fade(at)
	return velocityPart*t.loudness + onsetPart*min(t.onsets*fade/busiest, 1) + registerPart*t.register*fade
}

// Presence gives how far the hands are there, 0 resting … 1 playing.
func (t *Trend) Presence(at time.Duration) float64 {
	return t.presence * math.Exp(-max(at-t.at-trendWait, 0).Seconds()/trendRest.Seconds())
}
