package dynamics

import "math"

// Balance says how loud the layers are as intensity grows. Levels are on the
// controller's scale, 0…1 for 0…127; what that is in decibels, see [GainDB].
type Balance struct {
	Floor   float64 // warm's level at intensity 0: the quietest audible level, or 0 where heel down is silence
	AirFrom float64 // intensity at which air begins to be heard, 0…1
	AirTop  float64 // air's level at intensity 1
}

// DefaultBalance is by ear.
func DefaultBalance() Balance { return Balance{Floor: 0.45, AirFrom: 0.35, AirTop: 0.8} }

// Levels gives the level of warm and of air, 0…1, for an intensity 0…1.
func (b Balance) Levels(intensity float64) (warm, air float64) {
	warm = b.Floor + (1-b.Floor)*intensity
	if intensity > b.AirFrom && b.AirFrom < 1 {
		air = b.AirTop * (intensity - b.AirFrom) / (1 - b.AirFrom)
	}
	return warm, air
}

// Controller gives the controller value 0…127 nearest to a level 0…1.
func Controller(level float64) uint8 {
	return uint8(math.Round(127 * min(max(level, 0), 1)))
}

// GainDB gives what a controller 7 or 11 value means in decibels,
// 40·log10(value/127), −Inf for 0 (General MIDI 1 Developer Guidelines, p. 9;
// General MIDI 2, 1.2a, p. 8).
func GainDB(value uint8) float64 {
	return 40 * math.Log10(float64(value)/127)
}
