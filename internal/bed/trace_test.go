package bed_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/bed/bedtest"
	"bedd/internal/demo"
	"bedd/internal/dynamics"
)

// heard is what a bed sends while a worn pedal is read a thousand times a second.
type heard struct {
	db       []float64 // level of both layers together after each reading
	voices   []int     // how many sound then
	messages []time.Duration
	largest  float64 // step of the level, in dB, where it can be heard
}

// pedalled brings a bed in and plays a trace to it.
func pedalled(t *testing.T, c bed.Config, trace []demo.Reading) heard {
	t.Helper()
	r := newRun(t, c)
	r.foot(dynamics.MaxRaw / 3)
	r.ask(bed.BringIn)
	r.wait(c.BringIn + 10*time.Second)
	start, h := r.now, heard{}
	before := bedtest.Loudness(r.bed.View().Level)
	for _, reading := range trace {
		r.all = r.all[:0]
		r.wait(start + reading.At - r.now)
		r.event(bed.Event{Kind: bed.PedalMoved, Raw: reading.Raw})
		for _, a := range r.all {
			if a.Kind == bed.SetLevel || a.Kind == bed.SetBrightness {
				h.messages = append(h.messages, a.At)
			}
		}
		now := bedtest.Loudness(r.bed.View().Level)
		if min(now, before) >= dynamics.Bottom {
			h.largest = max(h.largest, math.Abs(now-before))
		}
		h.db, before = append(h.db, now), now
		h.voices = append(h.voices, r.bed.View().Density)
	}
	r.end()
	return h
}

// busiest gives the most messages within any second.
func (h heard) busiest() (most int) {
	first := 0
	for i, at := range h.messages {
		for h.messages[first] <= at-time.Second {
			first++
		}
		most = max(most, i-first+1)
	}
	return most
}

// stamps goes from end to end as fast as a foot can, with rests, and wanders.
func stamps(at time.Duration) float64 {
	s := math.Mod(at.Seconds(), 6)
	switch {
	case s < 1:
		return 0
	case s < 1.1:
		return (s - 1) * 10
	case s < 2:
		return 1
	case s < 3:
		return 1 - (s-2)*0.5
	}
	return 0.5 + 0.5*math.Sin(2*math.Pi*s)*math.Min(1, 6-s)
}

// A worn pedal read a thousand times a second: what the dynamics send never takes
// more than a fifth of a MIDI cable (31,250 baud, ten bits a byte, three bytes a
// controller without running status), and no step of the level reaches 1 dB where
// it can be heard, whatever the feel's speed.
func TestWornPedalsAreThinnedAndSmooth(t *testing.T) {
	const aFifth = 208 // messages a second: 31,250/10 · 0.2/3
	for name, change := range map[string]func(*bed.Config){
		"default": func(*bed.Config) {},
		"fast": func(c *bed.Config) {
			c.Feel.Rise, c.Feel.Fall = dynamics.MostRate, dynamics.MostRate
			c.Brightness.Dark, c.Brightness.Bright = 0, 127
		},
		"silent heel": func(c *bed.Config) {
			c.Balance.Floor = math.Inf(-1)
			c.Feel.Rise, c.Feel.Fall = 20, 14
		},
	} {
		for _, fine := range []bool{false, true} {
			worn := demo.Worn{Seed: 3, Fine: fine, Stick: 0.03, Noise: 0.008, Spikes: 5, Dropouts: 0.5}
			c := twoMoments(t)
			change(&c)
			h := pedalled(t, c, worn.Trace(stamps, 30*time.Second))
			t.Logf("%s, fine %v: %d messages in the busiest second (%.1f %% of a cable), largest step %.2f dB", name, fine, h.busiest(), 100*float64(h.busiest())*3/3125, h.largest)
			if h.busiest() > aFifth || h.largest >= 1 {
				t.Errorf("%s, fine %v: %d messages in a second, want %d at most; largest step %.2f dB", name, fine, h.busiest(), aFifth, h.largest)
			}
			if len(h.messages) < 200 {
				t.Errorf("%s, fine %v: only %d messages", name, fine, len(h.messages))
			}
		}
	}
}

// Half a second's dropouts and the noise of a pedal whose foot rests move the level
// by one step of the controller at the most; scratches, of which the smallest look
// like a foot, by less than half a decibel. No voice joins or leaves.
func TestARestingWornPedalIsStill(t *testing.T) {
	for _, place := range []float64{0, 0.3, 0.5, 0.8, 1} {
		for seed := range uint64(6) {
			worn, most := demo.OldFriend(seed), 0.35
			worn.Dropouts, worn.Spikes = 0.7, 0
			if seed%2 == 1 {
				worn.Spikes, most = 5, 0.5
			}
			rest := func(time.Duration) float64 { return place }
			trace := worn.Trace(rest, 40*time.Second)
			quiet := worn
			quiet.Dropouts, quiet.Spikes = 0, 0
			lead := quiet.Trace(rest, 2*time.Second) // where the foot is, to begin with
			for i := range trace {
				trace[i].At += 2 * time.Second
			}
			h := pedalled(t, twoMoments(t), append(lead, trace...))
			settled := h.db[10000]
			if now := h.voices[10000:]; slices.Min(now) != slices.Max(now) {
				t.Errorf("at %v of the travel, seed %d: %d to %d voices", place, seed, slices.Min(now), slices.Max(now))
			}
			for i, db := range h.db[10000:] {
				if math.Abs(db-settled) > most {
					t.Fatalf("at %v of the travel, seed %d: after %d ms the level goes from %.2f to %.2f dB", place, seed, i, settled, db)
				}
			}
		}
	}
}

// While the foot moves, the pedal's faults cost little: against the same foot on a
// pedal without any, the level is off by no more than what 0.6 s of moving is.
func TestFaultsOfAMovingPedalCostLittle(t *testing.T) {
	c := twoMoments(t)
	faulty := demo.OldFriend(5)
	sound := demo.Worn{Seed: 5}
	way := func(at time.Duration) float64 { return 0.5 - 0.4*math.Cos(2*math.Pi*at.Seconds()/8) }
	a := pedalled(t, c, faulty.Trace(way, 60*time.Second))
	b := pedalled(t, c, sound.Trace(way, 60*time.Second))
	worst, sum := 0.0, 0.0
	for i := range a.db {
		d := math.Abs(a.db[i] - b.db[i])
		worst, sum = max(worst, d), sum+d*d
	}
	rms := math.Sqrt(sum / float64(len(a.db)))
	t.Logf("off by %.2f dB at the most, %.2f dB RMS", worst, rms)
	if worst > c.Feel.Rise*0.6+0.5 || rms > 0.6 {
		t.Errorf("off by %.2f dB at the most, %.2f dB RMS", worst, rms)
	}
}
