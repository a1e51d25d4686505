package bedtest

import (
	"math"

	"bedd/internal/bed"
	"bedd/internal/dynamics"
)

// Loudness gives the power of all layers together, in dB, by the published law of
// their controllers: −Inf where none is heard.
func Loudness(levels [bed.NumLayers]int) float64 {
	power := 0.0
	for _, v := range levels {
		power += math.Pow(10, dynamics.GainDB(uint8(max(v, 0)))/10)
	}
	return 10 * math.Log10(power)
}
