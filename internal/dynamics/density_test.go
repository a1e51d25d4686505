package dynamics

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestRungs(t *testing.T) {
	d := Density{Thin: 2, Full: 6, Margin: DefaultMargin}
	for _, c := range []struct {
		intensity float64
		want      int
	}{{0, 2}, {0.19, 2}, {0.21, 3}, {0.5, 4}, {0.99, 6}, {1, 6}} {
		if got := d.Rung(c.intensity); got != c.want {
			t.Errorf("Rung(%v) = %d, want %d", c.intensity, got, c.want)
		}
	}
	if n := d.Next(2, 1); n != 3 {
		t.Errorf("from 2 at full intensity to %d, want one step", n)
	}
}

// Readings that wander by two steps of 127 about any place never turn the density
// round, even where nothing smooths them.
func TestDensityDoesNotFlutter(t *testing.T) {
	d := Density{Thin: 2, Full: 6, Margin: DefaultMargin}
	for place := 2; place < 126; place++ {
		for start := 2; start <= 6; start++ {
			now, turns, last := start, 0, 0
			for k := range 400 {
				n := d.Next(now, float64(place+[]int{2, -2, 1, -1}[k%4])/127)
				if step := n - now; step != 0 {
					if last != 0 && step != last {
						turns++
					}
					last = step
				}
				now = n
			}
			if turns > 0 {
				t.Errorf("pedal at %d from rung %d: turns round %d times", place, start, turns)
			}
		}
	}
}

// The whole way from readings to rungs, with any curve, feel and ladder: a pedal
// that wanders by two steps of 127 about a place changes the density at most in
// one direction.
func TestANoisyPedalDoesNotFlutter(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p, f := DefaultPedal(), DefaultFeel()
		p.Curve = rapid.SampledFrom([]Curve{Even, Gentle, Eager, Rounded, 4, 0.25}).Draw(rt, "curve")
		f.Rise, f.Fall = MostRate, MostRate
		i := NewIntensity(p, f, DefaultBalance())
		thin := rapid.IntRange(1, 4).Draw(rt, "thin")
		d := Density{Thin: thin, Full: thin + rapid.IntRange(0, 6).Draw(rt, "more"), Margin: DefaultMargin}
		place, now, last := rapid.IntRange(2, 125).Draw(rt, "place"), thin, 0
		for ms := range 500 {
			at := time.Duration(ms) * time.Millisecond
			i.Pedal(at, uint16(place+rapid.IntRange(-2, 2).Draw(rt, "off"))<<7)
			n := d.Next(now, i.Advance(at))
			if step := n - now; step != 0 {
				if ms > 300 || last != 0 && step != last {
					rt.Fatalf("after %d ms the density goes from %d to %d", ms, now, n)
				}
				last = step
			}
			now = n
		}
	})
}
