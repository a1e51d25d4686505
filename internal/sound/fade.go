package sound

// fadeLength is how long sound takes to rise from nothing, and to end.
const fadeLength = 0.080 // seconds

// fade takes sound from nothing, or to it, without a step.
type fade struct{ done, length int } // frames

func newFade(rate int) fade { return fade{length: int(fadeLength * float64(rate))} }

// again begins it anew.
func (f *fade) again() { f.done = 0 }

// in lets interleaved stereo rise.
func (f *fade) in(part []float32) {
	for k := 0; k+1 < len(part) && f.done < f.length; k += 2 {
		g := float32(smoothStep(float64(f.done) / float64(f.length)))
		part[k], part[k+1] = g*part[k], g*part[k+1]
		f.done++
	}
}

// out lets it fall, to be silent for good.
func (f *fade) out(part []float32) {
	for k := 0; k+1 < len(part); k += 2 {
		g := float32(1 - smoothStep(float64(f.done)/float64(f.length)))
		part[k], part[k+1] = g*part[k], g*part[k+1]
		f.done = min(f.done+1, f.length)
	}
}
