package sound

import (
	"math"
	"testing"
)

func newLimiter(ceilingDB float64) *limiter {
	l := new(limiter)
	l.init(48000, ceilingDB)
	return l
}

func TestLimiterLeavesQuietSoundAlone(t *testing.T) {
	l := newLimiter(-1)
	sound := func(i int) float64 { return 0.8 * math.Sin(float64(i)*0.05) }
	for i := range 5000 {
		left, right := l.next(sound(i), -sound(i))
		want := 0.0
		if i >= limitDelay {
			want = sound(i - limitDelay)
		}
		if math.Abs(left-want) > 1e-12 || left != -right {
			t.Fatalf("frame %d = %v %v, want ±%v, the one %d frames ago", i, left, right, want, limitDelay)
		}
	}
}

func TestLimiterHoldsSuddenPeaks(t *testing.T) {
	meter, err := NewLoudness(48000)
	if err != nil {
		t.Fatal(err)
	}
	l := newLimiter(-1)
	frame := make([]float32, 2)
	for i := range 48000 {
		x := 0.5 * math.Sin(float64(i)*0.3)
		switch {
		case i%4800 == 0:
			x = 8 // one frame
		case i > 24000 && i < 30000:
			x *= 30
		}
		left, right := l.next(x, 0.3*x)
		frame[0], frame[1] = float32(left), float32(right)
		meter.Add(frame)
	}
	if got := meter.PeakDB(); got > -1 {
		t.Errorf("true peak %.2f dBTP, want at most -1", got)
	}
}

func TestLimiterLetsGo(t *testing.T) {
	l := newLimiter(-1)
	for range 100 {
		l.next(20, 20)
	}
	last := 0.0
	for range 48000 * 4 {
		last, _ = l.next(0.5, 0.5)
	}
	if last != 0.5 {
		t.Errorf("4 s after a peak, 0.5 comes out as %v", last)
	}
}

func TestLimiterStopsWhatIsNoSound(t *testing.T) {
	l := newLimiter(-1)
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e300} {
		l.next(bad, 0)
		for range 200 {
			if left, right := l.next(0.1, 0.1); !(math.Abs(left) <= 1 && math.Abs(right) <= 1) {
				t.Fatalf("after %v comes %v %v", bad, left, right)
			}
		}
	}
}
