package sound

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

// BenchmarkKeyToSound presses keys at any time while the clock asks for blocks,
// as a null device does, and reports how long after the key its first frame lies
// in what is asked for. A sound card plays that frame one device buffer later.
func BenchmarkKeyToSound(b *testing.B) {
	for _, frames := range []int{64, 128, 256, 512} {
		b.Run(fmt.Sprintf("frames=%d", frames), func(b *testing.B) {
			synth := newSynth(b, 48000)
			synth.Send(0xB0, 91, 0)
			live, err := NewLive(synth, nil)
			if err != nil {
				b.Fatal(err)
			}
			heard := make(chan time.Time, 1)
			silent := true
			clock, err := NewClocked(48000, frames, func(out []float32) {
				asked := time.Now()
				live.Fill(out)
				first := slices.IndexFunc(out, func(x float32) bool { return math.Abs(float64(x)) > 1e-5 })
				if silent && first >= 0 {
					select {
					case heard <- asked.Add(time.Duration(first/2) * time.Second / 48000):
					default:
					}
				}
				silent = first < 0
			})
			if err != nil {
				b.Fatal(err)
			}
			defer clock.Close()
			var took []float64
			for b.Loop() {
				time.Sleep(time.Duration(30+rand.IntN(20_000)) * time.Microsecond)
				pressed := time.Now()
				live.Push(0x90, 60, 127)
				took = append(took, (<-heard).Sub(pressed).Seconds()*1000)
				live.Push(0xB0, 120, 0)
				time.Sleep(500 * time.Millisecond) // until it is silent again
			}
			slices.Sort(took)
			b.ReportMetric(1000*float64(frames)/48000, "block-ms")
			b.ReportMetric(took[len(took)/2], "median-ms")
			b.ReportMetric(took[len(took)-1], "most-ms")
			b.ReportMetric(0, "ns/op")
		})
	}
}
