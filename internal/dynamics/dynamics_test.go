package dynamics

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

const ms = time.Millisecond

func near(a, b float64) bool { return math.Abs(a-b) < 1e-9 }

func TestSlew(t *testing.T) {
	for _, c := range []struct {
		value, target, rate float64
		dt                  time.Duration
		want                float64
	}{
		{0, 1, 0.5, 500 * ms, 0.25},
		{0.25, 1, 0.5, 0, 0.25},
		{0.25, 1, 0.5, -time.Second, 0.25}, // the clock went back
		{1, 0, 2, 100 * ms, 0.8},
		{0.9, 1, 1, time.Minute, 1},
		{0.5, 0.5, 1, time.Second, 0.5},
	} {
		if got := Slew(c.value, c.target, c.rate, c.dt); !near(got, c.want) {
			t.Errorf("Slew(%v, %v, %v, %v) = %v, want %v", c.value, c.target, c.rate, c.dt, got, c.want)
		}
	}
}

// Level law of the General MIDI 1 Developer Guidelines, p. 9: the guideline's
// own rounded list (96, 64, 32, 16), and values computed from its formula.
func TestGainDB(t *testing.T) {
	for value, want := range map[uint8]float64{1: -84.152, 16: -35.987, 32: -23.946, 40: -20.070, 64: -11.905,
		80: -8.029, 90: -5.982, 96: -4.861, 100: -4.152, 110: -2.496, 127: 0} {
		if got := GainDB(value); math.Abs(got-want) > 5e-4 {
			t.Errorf("GainDB(%d) = %.3f, want %.3f", value, got, want)
		}
	}
	if got := GainDB(100) + GainDB(64); math.Abs(got+16.057) > 1e-3 {
		t.Errorf("volume 100 and expression 64 give %.3f dB, want -16.057", got)
	}
	if !math.IsInf(GainDB(0), -1) {
		t.Errorf("GainDB(0) = %v", GainDB(0))
	}
}

func TestPedalPosition(t *testing.T) {
	reversed := Pedal{Heel: 127 << 7, Toe: 0}
	for _, c := range []struct {
		pedal Pedal
		raw   uint16
		want  float64
	}{
		{DefaultPedal(), 0, 0}, {DefaultPedal(), 127 << 7, 1}, {DefaultPedal(), MaxRaw, 1},
		{DefaultPedal(), 3 << 7, 0}, {DefaultPedal(), 125 << 7, 1}, // inside the dead zones
		{Pedal{Heel: 0, Toe: 16000}, 8000, 0.5},
		{Pedal{Heel: 0, Toe: 16000, Dead: 0.25}, 6000, 0.25},
		{reversed, 0, 1}, {reversed, 127 << 7, 0}, {reversed, 127 << 6, 0.5},
		{Pedal{Heel: 1000, Toe: 2000}, 500, 0}, {Pedal{Heel: 1000, Toe: 2000}, 3000, 1},
	} {
		if got := c.pedal.Position(c.raw); !near(got, c.want) {
			t.Errorf("%+v at %d: %v, want %v", c.pedal, c.raw, got, c.want)
		}
	}
	for want, p := range map[string]Pedal{
		"the pedal's heel and toe both read 5":            {Heel: 5, Toe: 5},
		"pedal ends 0 and 20000 are out of range 0…16383": {Toe: 20000},
		"dead zone 0.6 is out of range 0…0.45":            {Toe: 100, Dead: 0.6},
	} {
		if err := p.Check(); err == nil || err.Error() != want {
			t.Errorf("%+v: %v, want %q", p, err, want)
		}
	}
}

// The step response of the trend: strikes of one loudness, evenly spaced, give a
// geometric approach, checked against the formula in the documentation computed
// strike by strike.
func TestTrendClosedForm(t *testing.T) {
	trend := Trend{}
	const gap = 500 * ms
	loud := (74.0 - 20) / 90
	want := 0.0
	for i := range 40 {
		trend.Strike(time.Duration(i)*gap, 74)
		if i == 0 {
			want = 0.25 // one strike asks for a quarter at most
		} else {
			want *= math.Exp(-0.5 / 12)
			pull := 1 - math.Exp(-(0.5+0.1)/2)
			want += pull * min(loud-want, 0.25)
		}
		if got := trend.At(time.Duration(i) * gap); !near(got, want) {
			t.Fatalf("strike %d: %v, want %v", i, got, want)
		}
	}
	if want > loud || want < loud-0.08 { // it sinks a little between strikes
		t.Errorf("steady playing of loudness %.3f settles at %.3f", loud, want)
	}
	at := 39*gap + 24*time.Second // two time constants of rest
	if got := trend.At(at); !near(got, want*math.Exp(-2)) {
		t.Errorf("after rest %v, want %v", got, want*math.Exp(-2))
	}
}

func TestOneHardNoteMovesTheTrendLittle(t *testing.T) {
	trend := Trend{}
	for i := range 40 {
		trend.Strike(time.Duration(i)*500*ms, 50)
	}
	before := trend.At(20 * time.Second)
	trend.Strike(20*time.Second, 127)
	if got := trend.At(20*time.Second) - before; got < 0 || got > 0.08 {
		t.Errorf("one hard note moves the trend by %.3f", got)
	}
}

func TestWhoWins(t *testing.T) {
	var i Intensity
	i.Plan(0.3)
	check := func(at time.Duration, want float64, source Source) {
		t.Helper()
		if got, from := i.Target(at); !near(got, want) || from != source {
			t.Errorf("at %v: %v from %v, want %v from %v", at, got, from, want, source)
		}
	}
	check(0, 0.3, FromPlan)
	i.Trend.Strike(0, 110)
	check(0, 0.55, FromPlaying) // a quarter above the plan at most, at once
	check(time.Hour, 0.3, FromPlaying)
	i.Foot(0.8)
	check(0, 0.8, FromFoot)
	i.Nudge(0, 0.1)
	check(0, 0.9, FromFoot)
	for range 15 {
		i.Nudge(0, 0.1)
	}
	check(0, 1, FromFoot)
	i.Nudge(0, -0.1) // what could not be heard was not stored up
	check(0, 0.9, FromFoot)
	i.Nudge(0, 0.1)
	i.Start(0)
	i.Stay(true)
	i.Foot(0)
	check(time.Second, 1, FromStay)
	i.Stay(false)
	i.Nudge(time.Second, -5)
	check(time.Second, 0, FromFoot)
}

func TestIntensityMovesAtABoundedRate(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var i Intensity
		at, last := time.Duration(0), 0.0
		for range rapid.IntRange(1, 60).Draw(rt, "steps") {
			switch rapid.IntRange(0, 3).Draw(rt, "what") {
			case 0:
				i.Foot(rapid.Float64Range(0, 1).Draw(rt, "foot"))
			case 1:
				i.Trend.Strike(at, rapid.Uint8Range(1, 127).Draw(rt, "velocity"))
			case 2:
				i.Nudge(at, rapid.Float64Range(-1, 1).Draw(rt, "nudge"))
			}
			dt := time.Duration(rapid.IntRange(-50, 400).Draw(rt, "ms")) * ms
			got := i.Advance(at + dt)
			if got < 0 || got > 1 {
				rt.Fatalf("intensity %v", got)
			}
			if rise := got - last; rise > RiseRate*max(dt, 0).Seconds()+1e-9 || rise < -FallRate*max(dt, 0).Seconds()-1e-9 {
				rt.Fatalf("intensity moves by %v in %v", rise, dt)
			}
			at, last = max(at, at+dt), got
		}
	})
}

func TestDensityDoesNotFlutter(t *testing.T) {
	d := Density{Thin: 2, Full: 6, Margin: DefaultMargin}
	for _, c := range []struct {
		intensity float64
		want      int
	}{{0, 2}, {0.19, 2}, {0.21, 3}, {0.5, 4}, {0.99, 6}, {1, 6}} {
		if got := d.Rung(c.intensity); got != c.want {
			t.Errorf("Rung(%v) = %d, want %d", c.intensity, got, c.want)
		}
	}
	// ±2 steps of a 7-bit pedal about any place never change the rung to and fro.
	for raw := 2; raw < 126; raw++ {
		for start := 2; start <= 6; start++ {
			now, changes, last := start, 0, 0
			for k := range 400 {
				n := d.Next(now, float64(raw+[]int{2, -2, 1, -1}[k%4])/127)
				if n != now {
					if step := n - now; last != 0 && step != last {
						changes++
					} else {
						last = step
					}
				}
				now = n
			}
			if changes > 0 {
				t.Errorf("pedal at %d from rung %d: turns round %d times", raw, start, changes)
			}
		}
	}
	if n := d.Next(2, 1); n != 3 {
		t.Errorf("from 2 at full intensity to %d, want one step", n)
	}
}

func TestLevels(t *testing.T) {
	b := Balance{Floor: 0.4, AirFrom: 0.5, AirTop: 0.8}
	for _, c := range []struct{ intensity, warm, air float64 }{
		{0, 0.4, 0}, {0.5, 0.7, 0}, {0.75, 0.85, 0.4}, {1, 1, 0.8},
	} {
		if warm, air := b.Levels(c.intensity); !near(warm, c.warm) || !near(air, c.air) {
			t.Errorf("Levels(%v) = %v, %v, want %v, %v", c.intensity, warm, air, c.warm, c.air)
		}
	}
	for level, want := range map[float64]uint8{-1: 0, 0: 0, 0.5: 64, 1: 127, 2: 127} {
		if got := Controller(level); got != want {
			t.Errorf("Controller(%v) = %d, want %d", level, got, want)
		}
	}
}
