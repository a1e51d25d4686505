package listening

import (
	"math"
	"testing"
)

// steadyInput is half a second of a harmonic sound, and a known output.
func steadyInput(rate, channels int) (samples, known []float32) {
	for i := range rate / 2 {
		at := float64(i) / float64(rate)
		x := 0.0
		for h := 1.0; h < 20; h++ {
			x += 0.05 / h * math.Sin(2*math.Pi*140*h*at)
		}
		x *= 1 + 0.9*math.Sin(2*math.Pi*4*at)
		for range channels {
			samples = append(samples, float32(x))
		}
		known = append(known, float32(0.1*math.Sin(2*math.Pi*220*at)))
	}
	return samples, known
}

// BenchmarkEar tells how many times faster than real time the ear listens, with a
// known output: 20 times is 5 % of a core.
func BenchmarkEar(b *testing.B) {
	for _, c := range []struct {
		name           string
		rate, channels int
		leak           bool
	}{{"48kHz", 48000, 1, false}, {"48kHz-known", 48000, 1, true}, {"48kHz-stereo-known", 48000, 2, true}, {"192kHz-8-known", 192000, 8, true}} {
		b.Run(c.name, func(b *testing.B) {
			e, err := NewEar(EarConfig{c.rate, c.channels})
			if err != nil {
				b.Fatal(err)
			}
			samples, known := steadyInput(c.rate, c.channels)
			if !c.leak {
				known = nil
			}
			const block = 480
			b.ReportAllocs()
			for b.Loop() {
				for i := 0; i+block <= c.rate/2; i += block {
					var k []float32
					if known != nil {
						k = known[i : i+block]
					}
					e.Hear(samples[i*c.channels:(i+block)*c.channels], k)
					e.Features()
				}
			}
			b.ReportMetric(0.5*float64(b.N)/b.Elapsed().Seconds(), "×real-time")
			b.ReportMetric(100*b.Elapsed().Seconds()/(0.5*float64(b.N)), "%core")
		})
	}
}

func TestTheEarAllocatesNothing(t *testing.T) {
	for _, block := range []int{256, 480} {
		e, _ := NewEar(EarConfig{48000, 2})
		samples, known := steadyInput(48000, 2)
		i := 0
		n := testing.AllocsPerRun(300, func() {
			e.Hear(samples[2*i:2*(i+block)], known[i:i+block])
			e.Features()
			if i += block; i+block > 24000 {
				i = 0
			}
		})
		if n != 0 {
			t.Errorf("blocks of %d frames: %v allocations each, want 0", block, n)
		}
	}
}
