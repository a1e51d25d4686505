package dynamics

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

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
	if step := GainDB(19) - GainDB(18); step >= 1 || GainDB(18)-GainDB(17) < 0.99 {
		t.Errorf("a step up from %.1f dB is %.2f dB", Bottom, step)
	}
}

func TestLevelsByTheLaw(t *testing.T) {
	audible, silent := DefaultBalance(), DefaultBalance()
	audible.NoAir, silent.NoAir = true, true
	silent.Floor = math.Inf(-1)
	for _, c := range []struct {
		b         Balance
		intensity float64
		db        float64
	}{
		{audible, 0, -14}, {audible, 0.5, -7}, {audible, 1, 0}, {audible, 0.25, -10.5},
		{silent, 0, math.Inf(-1)}, {silent, 0.1, Bottom}, {silent, 0.55, Bottom / 2}, {silent, 1, 0}, {silent, 0.05, Bottom + 40*math.Log10(0.5)},
	} {
		got := c.b.DB(c.intensity)
		if !near(got, c.db) && got != c.db {
			t.Errorf("floor %v at %v: %v dB, want %v", c.b.Floor, c.intensity, got, c.db)
		}
		// What the controller says, by the published law, is that level or a step less.
		warm, _ := c.b.Levels(c.intensity, c.intensity)
		v := Controller(warm)
		if GainDB(v) > c.db+1e-6 || v < 127 && GainDB(v+1) < c.db {
			t.Errorf("floor %v at %v: controller %d says %v dB for %v", c.b.Floor, c.intensity, v, GainDB(v), c.db)
		}
	}
	for level, want := range map[float64]uint8{-1: 0, 0: 0, 0.5: 63, 64.0 / 127: 64, 1: 127, 2: 127} {
		if got := Controller(level); got != want {
			t.Errorf("Controller(%v) = %d, want %d", level, got, want)
		}
	}
}

// Warm and air together have the power of warm alone, whatever the fullness; air
// begins where it should, and stands against warm as it should at the end.
func TestAirComesInAtEqualLoudness(t *testing.T) {
	amplitude := func(level float64) float64 { return level * level } // 40·log10 on 20·log10
	rapid.Check(t, func(rt *rapid.T) {
		b := Balance{
			Floor:   rapid.Float64Range(-30, -3).Draw(rt, "floor"),
			AirFrom: rapid.Float64Range(0, 0.95).Draw(rt, "from"),
			AirTop:  rapid.Float64Range(-40, 0).Draw(rt, "top"),
		}
		intensity, fullness := rapid.Float64Range(0, 1).Draw(rt, "intensity"), rapid.Float64Range(0, 1).Draw(rt, "fullness")
		warm, air := b.Levels(intensity, fullness)
		if got := 10 * math.Log10(amplitude(warm)*amplitude(warm)+amplitude(air)*amplitude(air)); !near(got, b.DB(intensity)) {
			rt.Fatalf("together %v dB, want %v", got, b.DB(intensity))
		}
		if air > 0 && fullness <= b.AirFrom || air == 0 && fullness > b.AirFrom+1e-6 {
			rt.Fatalf("air is at %v", air)
		}
		warm, air = b.Levels(1, 1)
		if got := 40 * math.Log10(air/warm); !near(got, b.AirTop) {
			rt.Fatalf("air is %v dB against warm, want %v", got, b.AirTop)
		}
		b.NoAir = true
		if warm, air = b.Levels(intensity, fullness); air != 0 || !near(40*math.Log10(warm), b.DB(intensity)) {
			rt.Fatalf("without air: %v, %v", warm, air)
		}
	})
}

func TestCeilingAsIntensity(t *testing.T) {
	for _, floor := range []float64{-14, -30, math.Inf(-1)} {
		for _, ceiling := range []float64{0, -3, -13.9} {
			b := Balance{Floor: floor, Ceiling: ceiling}
			if got := b.DB(b.Most()); !near(got, ceiling) {
				t.Errorf("floor %v: the ceiling of %v dB is at %v dB", floor, ceiling, got)
			}
		}
	}
}

func TestBalanceErrors(t *testing.T) {
	for want, b := range map[string]Balance{
		"floor -2 dB is out of range -34…-3 dB":         {Floor: -2},
		"floor -50 dB is out of range -34…-3 dB":        {Floor: -50},
		"floor NaN dB is out of range -34…-3 dB":        {Floor: math.NaN()},
		"ceiling 1 dB is out of range -34…0 dB":         {Floor: -14, Ceiling: 1},
		"ceiling -15 dB lies below the floor of -14 dB": {Floor: -14, Ceiling: -15},
		"air from 1.5 is out of range 0…1":              {Floor: -14, AirFrom: 1.5},
		"air at 1 dB is out of range -40…0 dB":          {Floor: -14, AirTop: 1},
	} {
		if err := b.Check(); err == nil || err.Error() != want {
			t.Errorf("%+v: %v, want %q", b, err, want)
		}
	}
	for _, b := range []Balance{DefaultBalance(), {Floor: math.Inf(-1)}} {
		if err := b.Check(); err != nil {
			t.Errorf("%+v: %v", b, err)
		}
	}
}

func TestBrightness(t *testing.T) {
	for _, c := range []struct {
		b        Brightness
		fullness float64
		want     uint8
	}{
		{Brightness{Dark: 50, Bright: 80}, 0, 50}, {Brightness{Dark: 50, Bright: 80}, 0.5, 65}, {Brightness{Dark: 50, Bright: 80}, 1, 80},
		{Brightness{Dark: 80, Bright: 50}, 0.1, 77}, {Brightness{Dark: 0, Bright: 127}, 2, 127},
	} {
		if got := c.b.At(c.fullness); got != c.want {
			t.Errorf("%+v at %v: %d, want %d", c.b, c.fullness, got, c.want)
		}
	}
}
