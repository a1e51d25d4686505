package dynamics

import (
	"math"
	"testing"
	"time"
)

// A pedal that never moved forces no level: not its first reading, nor noise, nor
// a dropout.
func TestAPedalThatNeverMovedDecidesNothing(t *testing.T) {
	r := newRig(nil)
	r.Plan(0, 0.3)
	for i, travel := range []float64{0.9, 0.91, 0.885, 0, 0.9, 0.87, 0.93} {
		r.Pedal(time.Duration(i)*100*ms, raw(travel))
	}
	r.now = time.Second
	r.check(t, "at rest", 0.3, FromPlan)
	r.Pedal(r.now, raw(0.84))
	r.check(t, "moved", 0.84, FromFoot)
}

// Nor does what a pedal says as it wakes: a jump in its first second shows where it
// stands. Later a jump that lasts is a foot's.
func TestAPedalThatWakesDecidesNothing(t *testing.T) {
	r := newRig(nil)
	r.Plan(0, 0.3)
	r.Pedal(0, 0)
	r.Pedal(300*ms, raw(0.7))
	r.now = 5 * time.Second
	r.check(t, "awake", 0.3, FromPlan)
	r.Pedal(r.now, raw(0))
	r.now += 700 * ms
	r.check(t, "put down", 0, FromFoot)
}

// A foot that moved decides for its time, then hands over evenly to the playing,
// and where the hands rest its place holds.
func TestTheFootHandsOver(t *testing.T) {
	r := newRig(func(f *Feel, b *Balance) { f.Holds, f.HandOver = 30*time.Second, 10*time.Second })
	r.Plan(0, 0.2)
	r.step(0.4)
	play := func(d time.Duration) {
		for end := r.now + d; r.now < end; {
			r.Trend.Strike(r.now, 48, 110)
			r.wait(200 * ms)
		}
	}
	play(30 * time.Second)
	r.check(t, "when its time is over", 0.4, FromFoot)
	play(5 * time.Second)
	loud, there := r.Trend.Strength(r.now), r.Trend.Presence(r.now)
	r.check(t, "half way", 0.4+0.5*there*(loud-0.4), FromFoot)
	play(5 * time.Second)
	loud, there = r.Trend.Strength(r.now), r.Trend.Presence(r.now)
	r.check(t, "handed over", 0.4+there*(loud-0.4), FromPlaying)
	r.wait(5 * time.Minute)
	r.check(t, "the hands rest", 0.4, FromFoot)
	r.Plan(r.now, 0.2)
	r.check(t, "a new moment", 0.2, FromPlan)
	r.step(0.8)
	r.Plan(r.now, 0.2)
	r.check(t, "a new moment under a foot that decides", 0.8, FromFoot)
	always := newRig(func(f *Feel, b *Balance) { f.Holds = Always })
	always.step(0.7)
	always.now = 100 * time.Hour
	always.check(t, "always", 0.7, FromFoot)
}

// Swell and settle follow their closed form from wherever the value is, hold as a
// foot does, and give way to a foot that moves.
func TestSwellAndSettle(t *testing.T) {
	r := newRig(func(f *Feel, b *Balance) { f.Swell, f.Settle = Goal{0.9, 8 * time.Second}, Goal{0.1, 6 * time.Second} })
	r.Plan(0, 0.3)
	r.Start(0)
	r.Swell(0)
	for range 200 {
		r.wait(tick)
		u := r.now.Seconds() / 8
		if want := 0.3 + 0.6*u*u*(3-2*u); !near(r.Value(), want) {
			t.Fatalf("swelling, %v: %v, want %v", r.now, r.Value(), want)
		}
	}
	from, begun := r.Value(), r.now
	r.Settle(r.now) // interrupted half way
	for range 300 {
		r.wait(tick)
		u := (r.now - begun).Seconds() / 6
		if want := from + (0.1-from)*u*u*(3-2*u); !near(r.Value(), want) {
			t.Fatalf("settling, %v: %v, want %v", r.now, r.Value(), want)
		}
	}
	r.wait(time.Minute)
	r.check(t, "settled", 0.1, FromFoot)
	r.Settle(r.now)
	r.wait(10 * time.Second)
	r.Swell(r.now)
	r.wait(2 * time.Second)
	r.Pedal(r.now, raw(0.3)) // where it stands
	r.step(0.5)
	r.check(t, "the foot has moved", 0.5, FromFoot)
	if r.moved != r.now {
		t.Errorf("its time began at %v, want %v", r.moved, r.now)
	}
}

// A foot that takes over while the bed sounds comes in where it meets it, or where
// it turns round.
func TestAFootComesInWhereItMeetsTheBed(t *testing.T) {
	type step struct{ foot, want float64 }
	for name, steps := range map[string][]step{
		"up from below":               {{0.2, 0.6}, {0.5, 0.6}, {0.48, 0.6}, {0.7, 0.7}, {0.4, 0.4}},
		"up from below, turning":      {{0.3, 0.6}, {0.4, 0.6}, {0.35, 0.35}, {0.4, 0.4}},
		"down from below":             {{0, 0}, {0.3, 0.3}},
		"up from below and past":      {{0.9, 0.9}, {0.5, 0.5}},
		"a shift of weight is no way": {{0.13, 0.6}, {0.07, 0.6}},
	} {
		r := newRig(nil)
		r.Plan(0, 0.6)
		r.Pedal(0, raw(0.1))
		r.here = 0.1
		r.Start(0)
		for n, s := range steps {
			r.step(s.foot)
			if got, _ := r.Target(0); math.Abs(got-s.want) > 1e-4 {
				t.Errorf("%s, step %d: the foot at %v asks for %.3f, want %v", name, n+1, s.foot, got, s.want)
			}
		}
		mirror := newRig(nil)
		mirror.Plan(0, 0.4)
		mirror.Pedal(0, raw(0.9))
		mirror.here = 0.9
		mirror.Start(0)
		for n, s := range steps {
			mirror.step(1 - s.foot)
			if got, _ := mirror.Target(0); math.Abs(got-(1-s.want)) > 1e-4 {
				t.Errorf("%s, upside down, step %d: the foot at %v asks for %.3f, want %v", name, n+1, 1-s.foot, got, 1-s.want)
			}
		}
	}
	silent := newRig(nil)
	silent.Plan(0, 0.6)
	silent.step(0.3)
	silent.check(t, "in silence", 0.3, FromFoot)
}

// What follows a silence does not begin where a swell led, but from the plan, or
// from a foot that still has time.
func TestASwellEndsWithTheBed(t *testing.T) {
	r := newRig(nil)
	r.Plan(0, 0.3)
	r.Swell(0)
	r.wait(10 * time.Second)
	r.Rest(r.now)
	r.check(t, "no pedal", 0.3, FromPlan)
	r.step(0.4)
	r.Swell(r.now)
	r.wait(20 * time.Second)
	r.Rest(r.now)
	r.check(t, "the foot still has time", 0.4, FromFoot)
	r.Swell(r.now)
	r.wait(2 * time.Minute)
	r.Rest(r.now)
	r.check(t, "the foot's time is over", 0.3, FromPlan)
	r.step(0.6)
	r.wait(10 * time.Minute)
	r.Rest(r.now)
	r.check(t, "no swell", 0.6, FromFoot)
}

func TestStayHoldsASwell(t *testing.T) {
	r := newRig(func(f *Feel, b *Balance) { f.Swell = Goal{1, 8 * time.Second} })
	r.Start(0)
	r.Swell(0)
	r.wait(4 * time.Second)
	half := r.Value()
	r.Stay(r.now, true)
	if got := r.wait(time.Minute); got != half {
		t.Errorf("stay lets it go from %v to %v", half, got)
	}
	r.Stay(r.now, false)
	r.wait(2 * time.Second)
	if got, want := r.Value(), 0.75*0.75*1.5; !near(got, want) {
		t.Errorf("after stay it goes on to %v, want %v", got, want)
	}
}

// Stay stops the time that a foot has left to decide.
func TestStayStopsTheFootsTime(t *testing.T) {
	r := newRig(func(f *Feel, b *Balance) { f.Holds = 30 * time.Second })
	r.step(0.4)
	r.wait(20 * time.Second)
	r.Stay(r.now, true)
	r.wait(5 * time.Minute)
	r.Stay(r.now, false)
	if got, want := r.moved+r.feel.Holds-r.now, 10*time.Second; got != want {
		t.Errorf("after stay the foot has %v left, want %v", got, want)
	}
	r.Stay(r.now, true)
	r.wait(time.Minute)
	r.step(0.8)
	r.wait(time.Minute)
	r.Stay(r.now, false)
	if got, want := r.moved+r.feel.Holds-r.now, 30*time.Second; got != want {
		t.Errorf("after a stay in which it moved the foot has %v left, want %v", got, want)
	}
}

func TestNudges(t *testing.T) {
	r := newRig(nil)
	r.step(0.8)
	r.Nudge(0, 0.1)
	r.check(t, "a nudge", 0.9, FromFoot)
	for range 15 {
		r.Nudge(0, 0.1)
	}
	r.check(t, "many", 1, FromFoot)
	r.Nudge(0, -0.1)
	r.check(t, "what could not be heard was not stored up", 0.9, FromFoot)
	r.Pedal(0, raw(0.78))
	r.check(t, "a foot that shifts its weight", 0.88, FromFoot)
	r.here = 0.78
	r.step(0)
	r.check(t, "the heel is the heel", 0, FromFoot)
}
