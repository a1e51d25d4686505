package dynamics

import "time"

// Shape is a swell or a settling: from one value to another in a given time,
// unhurried at both ends,
//
//	x(t) = from + (to − from)·(3u² − 2u³), u = (t − begin)/over, held to 0…1
type Shape struct {
	From, To float64
	Begin    time.Duration
	Over     time.Duration
}

// At gives the shape's value at a time.
func (s Shape) At(at time.Duration) float64 {
	if s.Over <= 0 {
		return s.To
	}
	return s.From + (s.To-s.From)*smooth(unit((at-s.Begin).Seconds()/s.Over.Seconds()))
}

// End gives when the shape has arrived.
func (s Shape) End() time.Duration { return s.Begin + s.Over }

// smooth is the cubic from 0 to 1 with level ends, for u 0…1; its steepest
// slope, half way, is 1.5.
func smooth(u float64) float64 { return u * u * (3 - 2*u) }
