package dynamics

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

const tick = 20 * ms

// rig is an intensity under a plain pedal, and a clock that is made up.
type rig struct {
	Intensity
	now  time.Duration
	here float64
}

func newRig(change func(*Feel, *Balance)) *rig {
	f, b := DefaultFeel(), DefaultBalance()
	if change != nil {
		change(&f, &b)
	}
	r := &rig{Intensity: NewIntensity(plain(), f, b)}
	return r
}

// step puts the foot somewhere at once, in readings that a foot could cause.
func (r *rig) step(to float64) {
	if !r.foot.seen {
		if r.here = to - 0.5; to < 0.5 {
			r.here = to + 0.5
		}
		r.Pedal(r.now, raw(r.here))
	}
	for r.here != to {
		r.here += min(max(to-r.here, -0.035), 0.035)
		r.Pedal(r.now, raw(r.here))
	}
}

func (r *rig) wait(d time.Duration) float64 {
	for end := r.now + d; r.now < end; {
		r.now += tick
		r.Advance(r.now)
	}
	return r.Value()
}

// 8 dB/s up and 5.5 dB/s down on a way of 14 dB.
const up, down = 8.0 / 14, 5.5 / 14

func TestStepResponse(t *testing.T) {
	r := newRig(nil)
	r.step(1)
	for n := 1; n <= 100; n++ {
		if got, want := r.wait(tick), min(up*float64(n)*0.02, 1); !near(got, want) {
			t.Fatalf("%d ticks after a step up: %v, want %v", n, got, want)
		}
	}
	r.step(0)
	for n := 1; n <= 150; n++ {
		if got, want := r.wait(tick), max(1-down*float64(n)*0.02, 0); !near(got, want) {
			t.Fatalf("%d ticks after a step down: %v, want %v", n, got, want)
		}
	}
}

// A ramp that the limits allow is followed exactly; a steeper one at the limit.
func TestRampResponse(t *testing.T) {
	for _, slope := range []float64{0.2, 0.5, 2} {
		r := newRig(nil)
		r.step(0)
		r.wait(time.Second)
		r.here = 0
		for n := 1; n <= 100; n++ {
			foot := min(slope*float64(n)*0.02, 1)
			r.Pedal(r.now+tick, raw(foot))
			exact := float64(raw(foot)) / (127 * 128) // what the reading says
			want := min(exact, up*float64(n)*0.02)
			if got := r.wait(tick); !near(got, want) {
				t.Fatalf("slope %v, tick %d: %v, want %v", slope, n, got, want)
			}
		}
	}
}

// A foot that comes and goes within a tick is not heard at all; one that comes for
// d goes up for d and down for as long as that takes.
func TestImpulseResponse(t *testing.T) {
	r := newRig(nil)
	r.step(0)
	r.wait(time.Second)
	r.step(1)
	r.step(0)
	if got := r.wait(tick); got != 0 {
		t.Errorf("an impulse of no length goes to %v", got)
	}
	r.step(1)
	r.wait(200 * ms)
	r.step(0)
	for n := 0; n <= 20; n++ {
		if got, want := r.Value(), max(up*0.2-down*float64(n)*0.02, 0); !near(got, want) {
			t.Fatalf("%d ticks after an impulse of 0.2 s: %v, want %v", n, got, want)
		}
		r.wait(tick)
	}
}

func (r *rig) check(t *testing.T, what string, want float64, source Source) {
	t.Helper()
	if got, from := r.Target(r.now); math.Abs(got-want) > 1e-4 || from != source {
		t.Errorf("%s: %.4f from %v, want %.4f from %v", what, got, from, want, source)
	}
}

// The order of who wins: ceiling, stay, foot, playing, listening, plan.
func TestWhoWins(t *testing.T) {
	r := newRig(func(f *Feel, b *Balance) { b.Ceiling = -1.4 })
	r.Plan(0, 0.3)
	r.check(t, "the plan", 0.3, FromPlan)
	r.Listen(0, 0.5, 0)
	r.check(t, "listening over the plan", 0.5, FromListening)
	for range 100 {
		r.now += 250 * ms
		r.Listen(r.now, 0.5, 0)
		r.Trend.Strike(r.now, 48, 90)
	}
	loud := r.Trend.Strength(r.now)
	r.check(t, "playing over listening", loud, FromPlaying)
	r.step(0.1)
	r.check(t, "the foot over playing", 0.1, FromFoot)
	r.Stay(r.now, true)
	r.step(0.6)
	r.check(t, "stay over the foot", r.Value(), FromStay)
	r.Stay(r.now, false)
	r.check(t, "the foot again", 0.6, FromFoot)
	r.step(1)
	r.check(t, "the ceiling over the foot", 0.9, FromCeiling)
	r.wait(5 * time.Second)
	r.Stay(r.now, true)
	r.check(t, "stay under the ceiling", 0.9, FromStay)
}

// For the words' sake the bed is eased down, whatever asks for more but a foot that
// decides, and stay; and comes back when nothing is listened to any more.
func TestWordsEaseTheBed(t *testing.T) {
	r := newRig(func(f *Feel, b *Balance) { b.Floor = -14; f.Holds, f.HandOver = 20*time.Second, 10*time.Second })
	r.Plan(0, 0.9)
	r.Listen(0, 0.8, 7)
	r.check(t, "7 of 14 dB down, over listening and plan", 0.5, FromListening)
	for range 100 {
		r.now += 250 * ms
		r.Listen(r.now, 0.8, 7)
		r.Trend.Strike(r.now, 48, 100)
	}
	r.check(t, "over the playing", 0.5, FromListening)
	r.Listen(r.now, 0.3, 7)
	r.Trend = Trend{}
	r.check(t, "where listening asks for less", 0.3, FromListening)
	r.step(0.8)
	r.check(t, "the foot over it", 0.8, FromFoot)
	r.wait(5 * time.Second)
	r.Stay(r.now, true)
	r.Listen(r.now, 0.8, 14)
	r.check(t, "stay over it", 0.8, FromStay)
	r.Stay(r.now, false)
	r.Listen(r.now+18*time.Second, 0.8, 7)
	if got, _ := r.Target(r.now + 18*time.Second); got >= 0.8 || got <= 0.5 {
		t.Errorf("while the foot hands over it is %v", got)
	}
	for range 200 {
		r.now += 250 * ms
		r.Listen(r.now, 0.8, 7)
	}
	r.check(t, "when the foot has handed over", 0.5, FromListening)
	r.now += heard + 11*time.Second
	r.check(t, "when nothing is listened to, where the foot left it", 0.8, FromFoot)
	r.Listen(r.now, 1, 100)
	r.check(t, "no lower than the pedal's heel", 0, FromListening)
	r.Listen(r.now, 1, math.NaN())
	r.check(t, "what is no number", 1, FromListening)
}

// The bed gives way to hard playing and comes back; soft playing gets no room.
func TestMakingRoom(t *testing.T) {
	for _, c := range []struct {
		velocity uint8
		room     float64
		least    float64
		most     float64
	}{{110, 0.8, 0.75, 0.8}, {110, 0, 0, 0}, {40, 0.8, 0, 0}} {
		r := newRig(func(f *Feel, b *Balance) { f.Room = c.room })
		r.step(1)
		r.wait(5 * time.Second)
		for range 80 {
			r.Trend.Strike(r.now, 40, c.velocity)
			r.wait(200 * ms)
		}
		if room := 1 - r.Fullness(); r.Value() != 1 || room < c.least || room > c.most {
			t.Errorf("velocity %d, room %v: the intensity is %v, the fullness %v", c.velocity, c.room, r.Value(), r.Fullness())
		}
		r.wait(2 * time.Minute)
		if got := r.Fullness(); got < 0.999 {
			t.Errorf("velocity %d, room %v: after two minutes' rest the fullness is %v", c.velocity, c.room, got)
		}
	}
}

// does draws anything that may happen to an intensity.
func (r *rig) does(rt *rapid.T) {
	switch rapid.IntRange(0, 8).Draw(rt, "what") {
	case 0, 1:
		r.Pedal(r.now, rapid.Uint16Range(0, MaxRaw).Draw(rt, "raw"))
	case 2:
		r.Trend.Strike(r.now, rapid.Uint8Range(21, 108).Draw(rt, "key"), rapid.Uint8Range(1, 127).Draw(rt, "velocity"))
	case 3:
		r.Nudge(r.now, rapid.Float64Range(-1, 1).Draw(rt, "nudge"))
	case 4:
		r.Listen(r.now, rapid.Float64Range(0, 1).Draw(rt, "voice"), rapid.SampledFrom([]float64{0, 0, 3, 20}).Draw(rt, "eased"))
	case 5:
		r.Stay(r.now, rapid.Bool().Draw(rt, "stay"))
	case 6:
		r.Swell(r.now)
	case 7:
		r.Settle(r.now)
	case 8:
		r.Plan(r.now, rapid.Float64Range(0, 1).Draw(rt, "plan"))
	}
}

func drawRig(rt *rapid.T) (*rig, Feel, Balance) {
	f, b := DefaultFeel(), DefaultBalance()
	f.Rise, f.Fall = rapid.Float64Range(LeastRate, MostRate).Draw(rt, "rise"), rapid.Float64Range(LeastRate, MostRate).Draw(rt, "fall")
	f.Room, f.Playing = rapid.Float64Range(0, 1).Draw(rt, "room"), rapid.Float64Range(0, 1).Draw(rt, "playing")
	f.Holds = rapid.SampledFrom([]time.Duration{0, time.Second, time.Minute, Always}).Draw(rt, "holds")
	b.Floor = rapid.SampledFrom([]float64{-3, -14, -33, math.Inf(-1)}).Draw(rt, "floor")
	b.Ceiling = rapid.SampledFrom([]float64{0, 0, -2}).Draw(rt, "ceiling")
	b.NoAir = true
	return &rig{Intensity: NewIntensity(DefaultPedal(), f, b)}, f, b
}

// Whatever is asked for, the level moves no faster than the feel allows, in dB/s,
// where it can be heard, and never passes the ceiling; a swell or a settling never
// jumps.
func TestTheLevelMovesAtABoundedRate(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r, f, b := drawRig(rt)
		last := b.DB(r.Value())
		for range rapid.IntRange(1, 80).Draw(rt, "steps") {
			r.does(rt)
			dt := time.Duration(rapid.IntRange(-50, 400).Draw(rt, "ms")) * ms
			db := b.DB(r.Advance(r.now + dt))
			long := max(dt, 0).Seconds()
			if db > b.Ceiling+1e-9 {
				rt.Fatalf("%v dB with a ceiling of %v", db, b.Ceiling)
			}
			if low := min(last, db); low >= Bottom && (db-last > f.Rise*long+1e-9 || last-db > f.Fall*long+1e-9) {
				rt.Fatalf("from %v to %v dB in %v", last, db, dt)
			}
			if got := r.Fullness(); got < 0 || got > r.Value() {
				rt.Fatalf("fullness %v at intensity %v", got, r.Value())
			}
			r.now, last = max(r.now, r.now+dt), db
		}
	})
}

// What is asked for moves only when something happens, or slowly: from one tick to
// the next no source hands over with a jump.
func TestHandingOverNeverJumps(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r, f, _ := drawRig(rt)
		// handing over, the hands' presence and onsets, a shape's steepest slope
		steepest := 1/f.HandOver.Seconds() + 2.0/12 + 0.3/4 + 1.5/min(f.Swell.Over, f.Settle.Over).Seconds()
		for range rapid.IntRange(1, 30).Draw(rt, "steps") {
			r.does(rt)
			before, _ := r.Target(r.now)
			stray := r.foot.stray
			for range rapid.SampledFrom([]int{1, 10, 100, 4000}).Draw(rt, "ticks") {
				r.wait(tick)
				after, _ := r.Target(r.now)
				if d := math.Abs(after - before); d > steepest*tick.Seconds()+1e-9 && !stray {
					rt.Fatalf("at %v the target goes from %v to %v by itself", r.now, before, after)
				}
				before, stray = after, r.foot.stray
			}
		}
	})
}

// A value that has settled stays where it is until the time that Next gives.
func TestSettledIsStill(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r, _, _ := drawRig(rt)
		for range rapid.IntRange(1, 20).Draw(rt, "steps") {
			r.does(rt)
			r.wait(rapid.SampledFrom([]time.Duration{0, time.Second, time.Minute}).Draw(rt, "wait"))
		}
		if !r.Settled(r.now) {
			return
		}
		value, fullness := r.Value(), r.Fullness()
		until := r.now + 10*time.Minute
		if next, ok := r.Next(r.now); ok {
			until = min(until, next)
		}
		for r.now+tick <= until {
			r.wait(tick)
			if math.Abs(r.Value()-value) > 2*settled || math.Abs(r.Fullness()-fullness) > 3*settled {
				rt.Fatalf("settled at %v, %v, then at %v, %v", value, fullness, r.Value(), r.Fullness())
			}
		}
	})
}

func TestFeelErrors(t *testing.T) {
	for want, change := range map[string]func(*Feel){
		"a level that moves by 0 dB/s is out of range 1…24 dB/s":                      func(f *Feel) { f.Rise = 0 },
		"a level that moves by 25 dB/s is out of range 1…24 dB/s":                     func(f *Feel) { f.Fall = 25 },
		"a foot cannot hold for -1s":                                                  func(f *Feel) { f.Holds = -time.Second },
		"handing over in 0s is too fast: it takes at least 100ms":                     func(f *Feel) { f.HandOver = 0 },
		"playing 2, room 0, a swell to 0.85 or a settling to 0.2 is out of range 0…1": func(f *Feel) { f.Playing = 2 },
		"a swell in 0s or a settling in 12s is too fast: each takes at least 100ms":   func(f *Feel) { f.Swell.Over = 0 },
	} {
		f := DefaultFeel()
		change(&f)
		if err := f.Check(); err == nil || err.Error() != want {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

func TestAnEventAllocatesNothing(t *testing.T) {
	r := newRig(nil)
	if n := testing.AllocsPerRun(1000, func() {
		r.now += ms
		r.Pedal(r.now, raw(math.Abs(math.Sin(r.now.Seconds()))))
		r.Trend.Strike(r.now, 60, 70)
		r.Listen(r.now, 0.5, 0)
		r.Advance(r.now)
		r.Settled(r.now)
	}); n != 0 {
		t.Errorf("an event allocates %v times", n)
	}
}

func BenchmarkPedal(b *testing.B) {
	r := newRig(nil)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		r.Pedal(time.Duration(i)*ms, uint16(i*13%16384))
	}
}

func BenchmarkStrike(b *testing.B) {
	r := newRig(nil)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		r.Trend.Strike(time.Duration(i)*100*ms, uint8(40+i%40), uint8(40+i%80))
	}
}

func BenchmarkAdvance(b *testing.B) {
	r := newRig(func(f *Feel, _ *Balance) { f.Room, f.Holds = 0.5, 0 })
	r.step(0.5)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		if i%50 == 0 {
			r.Trend.Strike(time.Duration(i)*tick, 60, 80)
		}
		r.Advance(time.Duration(i) * tick)
	}
}
