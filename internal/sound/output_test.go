package sound

import (
	"math"
	"testing"
)

// apart gives the levels of the left and the right while channel 1 plays piano
// over the keyboard and channel 2 holds a pad.
func apart(t *testing.T, piano, bed bool) (left, right float64) {
	t.Helper()
	s, err := New(Config{Rate: 48000, Seed: 1, Apart: 1 << 1})
	if err != nil {
		t.Fatal(err)
	}
	s.Send(0xC1, 89, 0)
	play(s, 0.2)
	for _, key := range []byte{28, 60, 96} {
		if piano {
			s.Send(0x90, key, 90)
		}
		if bed {
			s.Send(0x91, key, 90)
		}
	}
	sides := [2]float64{}
	for i, x := range play(s, 2) {
		sides[i%2] += float64(x) * float64(x)
	}
	return 10 * math.Log10(sides[0]), 10 * math.Log10(sides[1])
}

func TestBedApartIsOnTheRightAlone(t *testing.T) {
	oneGoroutine(t)
	if left, right := apart(t, true, false); !math.IsInf(right, -1) || left < 0 {
		t.Errorf("piano alone: left %.1f dB, right %.1f, want sound and silence", left, right)
	}
	if left, right := apart(t, false, true); !math.IsInf(left, -1) || right < 0 {
		t.Errorf("bed alone: left %.1f dB, right %.1f, want silence and sound", left, right)
	}
}

// Neither hand is lost in mono: what lies to one side in stereo is as loud as
// what lies to the other.
func TestApartHasTheWholeKeyboard(t *testing.T) {
	oneGoroutine(t)
	for _, key := range []byte{24, 40, 60, 80, 100} {
		power := func(c Config) float64 {
			c.Rate, c.Seed = 48000, 1
			s, err := New(c)
			if err != nil {
				t.Fatal(err)
			}
			s.Send(0xB0, 91, 0)
			play(s, 0.2)
			s.Send(0x90, key, 90)
			return levelDB(play(s, 1))
		}
		if off := power(Config{Apart: 1 << 5}) - power(Config{}); math.Abs(off) > 2.5 {
			t.Errorf("key %d alone on the left has %.1f dB of its power in stereo, want ±2.5", key, off)
		}
	}
}
