package dynamics

import (
	"math"
	"testing"
	"time"
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

func TestShape(t *testing.T) {
	s := Shape{From: 0.2, To: 1, Begin: 3 * time.Second, Over: 4 * time.Second}
	for at, want := range map[time.Duration]float64{
		0: 0.2, 3 * time.Second: 0.2, 4 * time.Second: 0.2 + 0.8*(3.0/16-2.0/64),
		5 * time.Second: 0.6, 7 * time.Second: 1, time.Hour: 1,
	} {
		if got := s.At(at); !near(got, want) {
			t.Errorf("at %v: %v, want %v", at, got, want)
		}
	}
	if got := (Shape{From: 0, To: 1}).At(0); got != 1 {
		t.Errorf("a shape that takes no time is at %v", got)
	}
}

func TestPedalPosition(t *testing.T) {
	plain := DefaultPedal()
	plain.Dead = 0
	with := func(change func(*Pedal)) Pedal { p := plain; change(&p); return p }
	ends := func(heel, toe uint16) Pedal { return with(func(p *Pedal) { p.Heel, p.Toe = heel, toe }) }
	curve := func(c Curve) Pedal { return with(func(p *Pedal) { p.Curve, p.Toe = c, 16000 }) }
	for _, c := range []struct {
		pedal Pedal
		raw   uint16
		want  float64
	}{
		{DefaultPedal(), 0, 0}, {DefaultPedal(), 127 << 7, 1}, {DefaultPedal(), MaxRaw, 1},
		{DefaultPedal(), 3 << 7, 0}, {DefaultPedal(), 125 << 7, 1}, // inside the dead zones
		{ends(0, 16000), 8000, 0.5},
		{with(func(p *Pedal) { p.Toe, p.Dead = 16000, 0.25 }), 6000, 0.25},
		{ends(127<<7, 0), 0, 1}, {ends(127<<7, 0), 127 << 7, 0}, {ends(127<<7, 0), 127 << 6, 0.5},
		{ends(1000, 2000), 500, 0}, {ends(1000, 2000), 3000, 1},
		{curve(Gentle), 4000, 0.0625}, {curve(Eager), 4000, 0.5}, {curve(Rounded), 4000, 0.15625}, {curve(3), 8000, 0.125},
		{curve(Gentle), 0, 0}, {curve(Eager), 16000, 1}, {curve(Rounded), 16000, 1},
	} {
		if got := c.pedal.Position(c.raw); !near(got, c.want) {
			t.Errorf("%+v at %d: %v, want %v", c.pedal, c.raw, got, c.want)
		}
	}
	for want, p := range map[string]Pedal{
		"the pedal's heel and toe both read 5":                ends(5, 5),
		"pedal ends 0 and 20000 are out of range 0…16383":     ends(0, 20000),
		"dead zone 0.6 is out of range 0…0.45":                with(func(p *Pedal) { p.Dead = 0.6 }),
		"pedal noise 0.2 is out of range 0…0.1":               with(func(p *Pedal) { p.Noise = 0.2 }),
		"the curve's power 5 is out of range 0.25…4":          curve(5),
		"the curve's power 0.1 is out of range 0.25…4":        curve(0.1),
		"the curve's power NaN is out of range 0.25…4":        curve(Curve(math.NaN())),
		"dead zone NaN is out of range 0…0.45":                with(func(p *Pedal) { p.Dead = math.NaN() }),
		"pedal noise -0.01 is out of range 0…0.1":             with(func(p *Pedal) { p.Noise = -0.01 }),
		"pedal ends 16384 and 16256 are out of range 0…16383": ends(MaxRaw+1, 127<<7),
	} {
		if err := p.Check(); err == nil || err.Error() != want {
			t.Errorf("%+v: %v, want %q", p, err, want)
		}
	}
}

func TestCurvesByName(t *testing.T) {
	for s, want := range map[string]Curve{"even": 1, "eager": 0.5, "gentle": 2, "rounded": 0, "1.5": 1.5, "4": 4} {
		if got, err := ParseCurve(s); err != nil || got != want {
			t.Errorf("%q is %v, %v", s, got, err)
		}
	}
	for s, want := range map[string]string{
		"steep": `curve "steep" is not known: use one of eager, even, gentle, rounded, or a power 0.25…4`,
		"2x":    `curve "2x" is not known: use one of eager, even, gentle, rounded, or a power 0.25…4`,
		"":      `curve "" is not known: use one of eager, even, gentle, rounded, or a power 0.25…4`,
		"0":     "the curve's power 0 is out of range 0.25…4",
		"NaN":   "the curve's power NaN is out of range 0.25…4",
	} {
		if _, err := ParseCurve(s); err == nil || err.Error() != want {
			t.Errorf("%q: %v, want %s", s, err, want)
		}
	}
}
