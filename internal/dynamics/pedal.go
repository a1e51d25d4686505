package dynamics

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// MaxRaw is the largest reading of a pedal: 14 bits, as a pair of controllers
// gives them. A pedal that sends 7 bits reaches 127·128.
const MaxRaw = 127<<7 | 127

// Pedal says how a continuous pedal's readings map to positions. The zero value
// is not usable; start from [DefaultPedal].
type Pedal struct {
	Heel, Toe uint16  // readings 0…MaxRaw at the two ends; Heel above Toe for reversed wiring
	Dead      float64 // part of the travel at each end that counts as the end, 0…0.45
	Noise     float64 // part of the travel by which a resting pedal's readings wander, to either side, 0…0.1
	Curve     Curve
}

// Curve shapes the way between the ends: position x of the travel, 0…1, counts
// as x to this power; 0 stands for [Rounded].
type Curve float64

// The curves that have a name. By ear.
const (
	Rounded Curve = 0   // 3x² − 2x³: unhurried at both ends
	Eager   Curve = 0.5 // most happens near the heel
	Even    Curve = 1   // equal ways are equal steps of loudness
	Gentle  Curve = 2   // most happens near the toe
)

// LeastPower and MostPower bound the power of a curve.
const (
	LeastPower = 0.25
	MostPower  = 4
)

var curveNames = map[string]Curve{"rounded": Rounded, "eager": Eager, "even": Even, "gentle": Gentle}

// ParseCurve reads a curve by its name, or by its power.
func ParseCurve(s string) (Curve, error) {
	if c, ok := curveNames[s]; ok {
		return c, nil
	}
	var power float64
	var rest string
	if n, _ := fmt.Sscanf(s, "%g%s", &power, &rest); n != 1 {
		return 0, fmt.Errorf("curve %q is not known: use one of %s, or a power %v…%v", s, strings.Join(CurveNames(), ", "), LeastPower, MostPower)
	}
	c := Curve(power)
	if !(power >= LeastPower && power <= MostPower) {
		return 0, fmt.Errorf("the curve's power %v is out of range %v…%v", power, LeastPower, MostPower)
	}
	return c, nil
}

// CurveNames lists the names that ParseCurve reads.
func CurveNames() []string {
	names := make([]string, 0, len(curveNames))
	for n := range curveNames {
		names = append(names, n)
	}
	slices.Sort(names)
	return names
}

// at gives what x of the travel, 0…1, counts as.
func (c Curve) at(x float64) float64 {
	switch c {
	case Even:
		return x
	case Rounded:
		return smooth(x)
	}
	return math.Pow(x, float64(c))
}

// DefaultPedal fits a pedal that was never calibrated: it reaches both ends a
// little early, since many do not quite get there, and wanders by two steps of a
// 7-bit controller and a half for rounding (common practice, no source).
func DefaultPedal() Pedal {
	return Pedal{Heel: 0, Toe: 127 << 7, Dead: 0.03, Noise: 0.02, Curve: Even}
}

// Check says what is wrong with the pedal's figures, if anything.
func (p Pedal) Check() error {
	switch {
	case p.Heel > MaxRaw || p.Toe > MaxRaw:
		return fmt.Errorf("pedal ends %d and %d are out of range 0…%d", p.Heel, p.Toe, MaxRaw)
	case p.Heel == p.Toe:
		return fmt.Errorf("the pedal's heel and toe both read %d", p.Heel)
	case !(p.Dead >= 0 && p.Dead <= 0.45):
		return fmt.Errorf("dead zone %v is out of range 0…0.45", p.Dead)
	case !(p.Noise >= 0 && p.Noise <= 0.1):
		return fmt.Errorf("pedal noise %v is out of range 0…0.1", p.Noise)
	case p.Curve != Rounded && !(p.Curve >= LeastPower && p.Curve <= MostPower):
		return fmt.Errorf("the curve's power %v is out of range %v…%v", float64(p.Curve), LeastPower, MostPower)
	}
	return nil
}

// Position gives what a reading asks for, 0 heel … 1 toe.
func (p Pedal) Position(raw uint16) float64 { return p.position(p.travel(raw)) }

// travel gives how much of the way from heel to toe a reading stands for, 0…1.
func (p Pedal) travel(raw uint16) float64 {
	return unit((float64(raw) - float64(p.Heel)) / (float64(p.Toe) - float64(p.Heel)))
}

func (p Pedal) position(travel float64) float64 {
	return p.Curve.at(unit((travel - p.Dead) / (1 - 2*p.Dead)))
}

// atEnd reports whether a part of the travel counts as one of the ends.
func (p Pedal) atEnd(travel float64) bool { return travel <= p.Dead || travel >= 1-p.Dead }

// unit holds x to 0…1.
func unit(x float64) float64 { return min(max(x, 0), 1) }
