package sound

import (
	"math"
	"testing"
)

// ISO 3382-1: the decay curve is the backward integral of the squared
// response (Schroeder); T30 is twice the time from −5 to −35 dB.
func TestReverbTime(t *testing.T) {
	oneGoroutine(t)
	for _, rate := range []float64{44100, 48000} {
		var r reverb
		r.init(rate)
		n := int(6 * rate)
		energy := make([]float64, n)
		for i := range n {
			x := 0.0
			if i == 0 {
				x = 1
			}
			if i%tick == 0 {
				r.advance()
			}
			left, right := oneFrame(r.render, i%tick, x)
			energy[i] = left*left + right*right
		}
		for i := n - 2; i >= 0; i-- {
			energy[i] += energy[i+1]
		}
		at := func(db float64) float64 {
			for i := range n {
				if 10*math.Log10(energy[i]/energy[0]) <= db {
					return float64(i) / rate
				}
			}
			return math.Inf(1)
		}
		// Lossy treble makes the whole a little shorter than the lines' own T60.
		if got := 2 * (at(-35) - at(-5)); got < 0.6*reverbSeconds || got > 1.05*reverbSeconds {
			t.Errorf("at %g Hz T30 = %.2f s, want %.2f…%.2f", rate, got, 0.6*reverbSeconds, 1.05*reverbSeconds)
		}
		if early := at(-1); early > 0.2 {
			t.Errorf("at %g Hz the first dB takes %.3f s, want the room to answer within 0.2", rate, early)
		}
	}
}

// A room that answers itself at even distances flutters and whistles: no lag
// of its tail may look like the tail.
func TestReverbDoesNotFlutter(t *testing.T) {
	oneGoroutine(t)
	const rate = 48000
	var r reverb
	r.init(rate)
	tail := make([]float64, rate)
	for i := range rate/5 + len(tail) {
		if i%tick == 0 {
			r.advance()
		}
		x := 0.0
		if i == 0 {
			x = 1
		}
		left, _ := oneFrame(r.render, i%tick, x)
		if at := i - rate/5; at >= 0 {
			tail[at] = left * math.Pow(10, 3*float64(at)/rate/reverbSeconds) // the decay taken out
		}
	}
	worst, worstLag := 0.0, 0
	for lag := rate / 100; lag < rate/10; lag += 3 {
		both, power := 0.0, 0.0
		for i := lag; i < len(tail); i++ {
			both += tail[i] * tail[i-lag]
			power += tail[i] * tail[i]
		}
		if c := math.Abs(both / power); c > worst {
			worst, worstLag = c, lag
		}
	}
	if worst > 0.4 {
		t.Errorf("the tail resembles itself by %.2f after %.1f ms, want at most 0.4", worst, float64(worstLag)/rate*1000)
	}
}

func TestHadamardKeepsEnergy(t *testing.T) {
	y := [reverbLines]float64{3, -1, 4, 1, -5, 9, 2, -6}
	want := 0.0
	for _, v := range y {
		want += v * v
	}
	y[0], y[1], y[2], y[3], y[4], y[5], y[6], y[7] = hadamard(y[0], y[1], y[2], y[3], y[4], y[5], y[6], y[7])
	got := 0.0
	for _, v := range y {
		got += v * v
	}
	if math.Abs(got-want) > 1e-9 {
		t.Errorf("energy %v after mixing, want %v", got, want)
	}
}

// g = 10^(−3·d/T60): computed for common pairs.
func TestFeedbackGainGivesTheReverbTime(t *testing.T) {
	for _, c := range []struct{ seconds, t60, want float64 }{
		{0.0297, 2, 0.902506}, {0.0371, 2, 0.879731}, {0.05, 3, 0.891251}, {0.1, 1, 0.501187},
	} {
		if got := feedback(c.seconds, c.t60); math.Abs(got-c.want) > 5e-7 {
			t.Errorf("feedback(%g, %g) = %.6f, want %g", c.seconds, c.t60, got, c.want)
		}
	}
}

func TestAllPassKeepsEnergy(t *testing.T) {
	a := allPass{frames: make([]float64, 113)}
	energy := 0.0
	for i := range 20000 / tick {
		var x [tick]float64
		if i == 0 {
			x[0] = 1
		}
		a.render(x[:])
		for _, y := range x {
			energy += y * y
		}
	}
	if math.Abs(energy-1) > 1e-9 {
		t.Errorf("energy of the answer to 1 is %v", energy)
	}
}
