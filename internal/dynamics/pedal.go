package dynamics

import "fmt"

// MaxRaw is the largest reading of a pedal: 14 bits, as a pair of controllers
// gives them. A pedal that sends 7 bits reaches 127·128.
const MaxRaw = 127<<7 | 127

// Pedal says how a continuous pedal's readings map to positions. The zero value
// is not usable; start from [DefaultPedal].
type Pedal struct {
	Heel, Toe uint16  // readings 0…MaxRaw at the two ends; Heel above Toe for reversed wiring
	Dead      float64 // part of the travel at each end that counts as the end, 0…0.45
}

// DefaultPedal fits a pedal that was never calibrated: it reaches both ends a
// little early, since many do not quite get there (common practice, no source).
func DefaultPedal() Pedal { return Pedal{Heel: 0, Toe: 127 << 7, Dead: 0.03} }

// Check says what is wrong with the pedal's figures, if anything.
func (p Pedal) Check() error {
	switch {
	case p.Heel > MaxRaw || p.Toe > MaxRaw:
		return fmt.Errorf("pedal ends %d and %d are out of range 0…%d", p.Heel, p.Toe, MaxRaw)
	case p.Heel == p.Toe:
		return fmt.Errorf("the pedal's heel and toe both read %d", p.Heel)
	case !(p.Dead >= 0 && p.Dead <= 0.45):
		return fmt.Errorf("dead zone %v is out of range 0…0.45", p.Dead)
	}
	return nil
}

// Position gives where the pedal stands, 0 heel … 1 toe.
func (p Pedal) Position(raw uint16) float64 {
	travel := (float64(raw) - float64(p.Heel)) / (float64(p.Toe) - float64(p.Heel))
	return min(max((travel-p.Dead)/(1-2*p.Dead), 0), 1)
}
