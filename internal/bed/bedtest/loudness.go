package bedtest

import (
	"math"

	"bedd/internal/bed"
)

// Loudness gives the power of all layers together in dB, −Inf where none is heard:
// a controller's amplitude goes with the square of its value (General MIDI 1
// Developer Guidelines, p. 9), its power with the fourth power.
func Loudness(levels [bed.NumLayers]int) float64 {
	power := 0.0
	for _, v := range levels {
		power += math.Pow(float64(max(v, 0))/127, 4)
	}
	return 10 * math.Log10(power)
}
