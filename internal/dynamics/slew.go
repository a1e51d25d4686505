// Package dynamics goes from raw controls to one smooth intensity, and from intensity to density, register and levels.
package dynamics

import "time"

// Slew moves a value towards a target by at most rate per second.
//
// Rate is positive. A dt of zero or less leaves the value alone, so a late or
// stepped clock cannot make it jump.
func Slew(value, target, rate float64, dt time.Duration) float64 {
	if dt <= 0 {
		return value
	}
	step := rate * dt.Seconds()
	return value + min(max(target-value, -step), step)
}
