package sound

import (
	"testing"
	"testing/synctest"
	"time"
)

// synctestSleep lets the bubble's clock run on; no real time passes.
func synctestSleep() { time.Sleep(10 * time.Millisecond) }

func TestClockedKeepsRealTime(t *testing.T) {
	for _, c := range []struct{ rate, frames int }{{48000, 128}, {44100, 128}, {44100, 1024}, {48000, 16}} {
		synctest.Test(t, func(t *testing.T) {
			blocks := 0
			clock, err := NewClocked(c.rate, c.frames, func(out []float32) {
				if len(out) != 2*c.frames {
					t.Errorf("block of %d samples, want %d", len(out), 2*c.frames)
				}
				blocks++
			})
			if err != nil {
				t.Fatal(err)
			}
			const seconds = 100
			time.Sleep(seconds * time.Second)
			clock.Close()
			want := seconds * c.rate / c.frames
			if blocks < want-2 || blocks > want {
				t.Errorf("%d Hz, %d frames: %d blocks in %d s, want %d", c.rate, c.frames, blocks, seconds, want)
			}
		})
	}
}

func TestClockedSkipsWhatIsTooLate(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		blocks := 0
		clock, err := NewClocked(48000, 480, func([]float32) {
			if blocks++; blocks == 1 {
				time.Sleep(time.Minute) // the machine slept
			}
		})
		if err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Minute + 15*time.Millisecond)
		clock.Close()
		if blocks > 2+maxCatchUp || blocks < maxCatchUp {
			t.Errorf("%d blocks after a minute's gap, want about %d", blocks, maxCatchUp)
		}
	})
}

func TestBlocksDue(t *testing.T) {
	for _, c := range []struct {
		elapsed      time.Duration
		rate, frames int
		want         int64
	}{
		{0, 48000, 128, 0},
		{time.Second, 48000, 128, 375},
		{time.Second - 1, 48000, 128, 374},
		{time.Hour, 44100, 128, 44100 * 3600 / 128},
		{10 * 365 * 24 * time.Hour, 48000, 16, 10 * 365 * 24 * 3600 * 3000},
	} {
		if got := blocksDue(c.elapsed, c.rate, c.frames); got != c.want {
			t.Errorf("blocksDue(%v, %d, %d) = %d, want %d", c.elapsed, c.rate, c.frames, got, c.want)
		}
	}
}

func TestClockedRefusesNonsense(t *testing.T) {
	_, err := NewClocked(0, 128, func([]float32) {})
	if want := "clocked sound: 128 frames at 0 Hz: both must be positive"; err == nil || err.Error() != want {
		t.Errorf("error = %v, want %q", err, want)
	}
}
