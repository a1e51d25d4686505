package dynamics

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// raw gives the reading of a default pedal at a part of its travel.
func raw(travel float64) uint16 { return uint16(math.Round(travel * 127 * 128)) }

// plain is a pedal whose position is its travel.
func plain() Pedal {
	p := DefaultPedal()
	p.Dead, p.Noise = 0, 0
	return p
}

// Readings at made-up times, and where the foot is taken to be after each.
func TestFootByReadings(t *testing.T) {
	type step struct {
		at   time.Duration
		says float64
		want float64
	}
	for name, steps := range map[string][]step{
		"half a second's dropout to the heel, at rest":     {{0, 0.6, 0.6}, {5000 * ms, 0, 0.6}, {5300 * ms, 0, 0.6}, {5500 * ms, 0.6, 0.6}, {7000 * ms, 0.6, 0.6}},
		"the same to the toe":                              {{0, 0.3, 0.3}, {5000 * ms, 1, 0.3}, {5500 * ms, 0.3, 0.3}, {7000 * ms, 0.3, 0.3}},
		"a jump that lasts is believed after 0.6 s":        {{0, 0.6, 0.6}, {5000 * ms, 0, 0.6}, {5600 * ms, 0, 0.6}, {5601 * ms, 0, 0}},
		"and needs no further reading":                     {{0, 0.6, 0.6}, {5000 * ms, 0, 0.6}, {6000 * ms, 0.01, 0.01}},
		"a scratch into the middle":                        {{0, 0.6, 0.6}, {5000 * ms, 0.3, 0.6}, {5002 * ms, 0.6, 0.6}},
		"a stamp, sent every 10 ms":                        {{0, 0.9, 0.9}, {3000 * ms, 0.8, 0.8}, {3010 * ms, 0.65, 0.65}, {3020 * ms, 0.5, 0.5}, {3030 * ms, 0.35, 0.35}, {3040 * ms, 0.24, 0.24}, {3050 * ms, 0.13, 0.13}, {3060 * ms, 0, 0}},
		"a foot that goes on during a dropout":             {{0, 0.5, 0.5}, {1000 * ms, 0, 0.5}, {1150 * ms, 0.75, 0.75}},
		"a jump no foot makes, a dropout that comes twice": {{0, 0.5, 0.5}, {1000 * ms, 0, 0.5}, {1400 * ms, 0.5, 0.5}, {1410 * ms, 0, 0.5}, {1900 * ms, 0.5, 0.5}},
		"the clock goes back":                              {{time.Second, 0.5, 0.5}, {0, 0.53, 0.53}, {time.Second, 0.56, 0.56}},
	} {
		f := Foot{pedal: plain()}
		for i, s := range steps {
			f.Read(s.at, raw(s.says))
			if got := f.Position(); math.Abs(got-s.want) > 1e-4 {
				t.Errorf("%s, step %d: at %v the foot is at %.4f, want %.4f", name, i+1, s.at, got, s.want)
			}
		}
	}
}

// At the ends the foot rests exactly there, without a dead zone too.
func TestAnEndIsAnEnd(t *testing.T) {
	for _, dead := range []float64{0, 0.03} {
		for _, end := range []float64{0, 1} {
			p := DefaultPedal()
			p.Dead = dead
			f := Foot{pedal: p}
			for i := range 51 {
				f.Read(time.Duration(i)*10*ms, raw(0.5+(end-0.5)*float64(i)/50))
			}
			if got := f.Position(); got != end {
				t.Errorf("dead zone %v: the foot at the end is at %v, want %v", dead, got, end)
			}
		}
	}
}

// A foot as fast as it gets, 0.1 s from end to end, is believed reading by reading
// whatever the pedal's rate down to one in 15 ms; at rest it is then exactly at
// the end.
func TestAStampIsBelievedAtOnce(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		every := time.Duration(rapid.IntRange(1, 15).Draw(rt, "ms")) * ms
		from, to := rapid.Float64Range(0, 1).Draw(rt, "from"), rapid.SampledFrom([]float64{0, 1}).Draw(rt, "to")
		f := Foot{pedal: DefaultPedal()}
		f.Read(0, raw(from))
		at := 10 * time.Second
		for here := from; here != to; at += every {
			here += min(max(to-here, -every.Seconds()/0.1), every.Seconds()/0.1)
			f.Read(at, raw(here))
			if f.stray {
				rt.Fatalf("at %v of the travel the foot is not believed", here)
			}
		}
		if got := f.Position(); got != to {
			rt.Fatalf("it rests at %v, want %v", got, to)
		}
	})
}

// A pedal that rests and wanders by two steps of 127 stands still, with any curve.
func TestNoiseMovesNothing(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := DefaultPedal()
		p.Curve = rapid.SampledFrom([]Curve{Even, Gentle, Eager, Rounded, 4, 0.25}).Draw(rt, "curve")
		f := Foot{pedal: p}
		place := rapid.IntRange(0, 127).Draw(rt, "place")
		say := func(at time.Duration, off int) { f.Read(at, uint16(min(max(place+off, 0), 127))<<7) }
		for i, off := range []int{0, 2, -2} { // it has wandered all the way
			say(time.Duration(i)*ms, off)
		}
		rest := f.Position()
		for i := range 200 {
			say(time.Duration(i+3)*ms, rapid.IntRange(-2, 2).Draw(rt, "off"))
			if got := f.Position(); got != rest {
				rt.Fatalf("around %d it moves from %v to %v", place, rest, got)
			}
		}
		if place == 0 && rest != 0 || place == 127 && rest != 1 {
			rt.Fatalf("at the end %d it rests at %v", place, rest)
		}
	})
}
