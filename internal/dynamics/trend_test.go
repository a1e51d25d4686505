package dynamics

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// The step response: strikes of one loudness, evenly spaced, from rest. By the
// formula in the documentation, summed up: loudness is there at once, onsets and
// presence approach geometrically.
func TestTrendStepFromRest(t *testing.T) {
	var trend Trend
	const gap, velocity, key = 0.5, 74, 48
	loud, low := (74.0-20)/90, (60.0-48)/24
	q := math.Exp(-gap / 4)
	for n := 1; n <= 40; n++ {
		at := time.Duration(n-1) * 500 * ms
		trend.Strike(at, key, velocity)
		onsets := 0.25 * (1 - math.Pow(q, float64(n))) / (1 - q)
		strength, presence := 0.7*loud+0.2*onsets/4+0.1*low, 1-math.Pow(0.75, float64(n))
		if got := trend.Strength(at); !near(got, strength) {
			t.Fatalf("strike %d: strength %v, want %v", n, got, strength)
		}
		if got := trend.Presence(at); !near(got, presence) {
			t.Fatalf("strike %d: presence %v, want %v", n, got, presence)
		}
	}
}

// From one loudness to another, less than a quarter away: the old one fades with a
// time constant of 2 s, counted with 0.1 s more a strike.
func TestTrendStepBetweenLoudnesses(t *testing.T) {
	var trend Trend
	for i := range 60 { // until the hands are there
		trend.Strike(time.Duration(i)*250*ms, 60, 50)
	}
	from, to := (50.0-20)/90, (70.0-20)/90
	start := 60 * 250 * ms
	for n := 1; n <= 40; n++ {
		at := start + time.Duration(n-1)*250*ms
		trend.Strike(at, 60, 70)
		loud := to + (from-to)*math.Exp(-float64(n)*0.35/2)
		onsets := 0.25 * (1 - math.Exp(-float64(60+n)*0.25/4)) / (1 - math.Exp(-0.25/4))
		if got, want := trend.Strength(at), 0.7*loud+0.2*min(onsets/4, 1); !near(got, want) {
			t.Fatalf("strike %d: %v, want %v", n, got, want)
		}
	}
}

func TestTrendFadesWhenTheHandsRest(t *testing.T) {
	var trend Trend
	for i := range 40 {
		trend.Strike(time.Duration(i)*500*ms, 60, 80)
	}
	last := 39 * 500 * ms
	there := trend.Presence(last)
	for after, want := range map[time.Duration]float64{
		-time.Hour: there, 0: there, 3 * time.Second: there, 15 * time.Second: there * math.Exp(-1), 27 * time.Second: there * math.Exp(-2),
	} {
		if got := trend.Presence(last + after); !near(got, want) {
			t.Errorf("%v later: presence %v, want %v", after, got, want)
		}
	}
}

func TestAChordIsOneOnset(t *testing.T) {
	var chord, note Trend
	for i := range 4 {
		chord.Strike(time.Duration(9*i)*ms, 60+uint8(i), 60)
	}
	note.Strike(0, 60, 60)
	if a, b := chord.Strength(27*ms), note.Strength(27*ms); !near(a, b) {
		t.Errorf("a rolled chord has strength %v, a note %v", a, b)
	}
}

// One note, however hard, after any playing at all, moves what the playing asks
// for by less than a third, and by less than a fifth once the hands are there.
func TestOneHardNoteMovesTheTrendLittle(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		i := NewIntensity(DefaultPedal(), DefaultFeel(), DefaultBalance())
		i.Plan(0, rapid.Float64Range(0, 1).Draw(rt, "plan"))
		at := time.Duration(0)
		n := rapid.IntRange(0, 60).Draw(rt, "strikes")
		for range n {
			at += time.Duration(rapid.IntRange(0, 1500).Draw(rt, "gap")) * ms
			i.Trend.Strike(at, rapid.Uint8Range(21, 108).Draw(rt, "key"), rapid.Uint8Range(1, 127).Draw(rt, "velocity"))
		}
		at += time.Duration(rapid.IntRange(0, 2000).Draw(rt, "gap")) * ms
		there := i.Trend.Presence(at) > 0.9
		before, _ := i.Target(at)
		i.Trend.Strike(at, rapid.Uint8Range(60, 108).Draw(rt, "key"), rapid.Uint8Range(1, 127).Draw(rt, "velocity"))
		after, _ := i.Target(at)
		most := 1.0 / 3
		if there {
			most = 0.2
		}
		if d := math.Abs(after - before); d > most {
			rt.Fatalf("one note moves the trend by %.3f", d)
		}
	})
	var trend Trend
	for i := range 40 {
		trend.Strike(time.Duration(i)*500*ms, 60, 50)
	}
	before := trend.Strength(20 * time.Second)
	trend.Strike(20*time.Second, 60, 127)
	if got := trend.Strength(20*time.Second) - before; got < 0 || got > 0.07 {
		t.Errorf("one hard note in soft playing moves the trend by %.3f", got)
	}
}
