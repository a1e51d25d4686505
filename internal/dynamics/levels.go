package dynamics

import (
	"fmt"
	"math"
)

// Bottom is the quietest level, in dB, at which one step of a 7-bit controller is
// less than 1 dB: controller value 18 (computed from the law of [GainDB]). What is
// below is on its way to silence.
var Bottom = GainDB(18)

// bottomPart is how much of the intensity leads from silence to Bottom where
// heel down is silence. By ear.
const bottomPart = 0.1

// Balance says how loud the layers are as intensity grows, in dB below the
// loudest. Equal steps of intensity are equal steps in dB.
type Balance struct {
	Floor   float64 // level at intensity 0: the quietest audible level, Bottom…−3, or −Inf where heel down is silence
	Ceiling float64 // level that is never exceeded, Bottom…0
	AirFrom float64 // intensity at which air begins to be heard, 0…1
	AirTop  float64 // air against warm at intensity 1, −40…0
	NoAir   bool    // leave air out
}

// LeastAir is the quietest that air can be against warm, in dB.
const LeastAir = -40.0

// LeastRange is how far apart floor and ceiling of the level are at least, in dB:
// a pedal needs somewhere to go.
const LeastRange = 3.0

// DefaultBalance is by ear.
func DefaultBalance() Balance { return Balance{Floor: -14, AirFrom: 0.35, AirTop: -4} }

// Check says what is wrong with the balance, if anything.
func (b Balance) Check() error {
	switch {
	case !math.IsInf(b.Floor, -1) && !(b.Floor >= Bottom && b.Floor <= -LeastRange):
		return fmt.Errorf("floor %v dB is out of range %.0f…%v dB", b.Floor, Bottom, -LeastRange)
	case !(b.Ceiling >= Bottom && b.Ceiling <= 0):
		return fmt.Errorf("ceiling %v dB is out of range %.0f…0 dB", b.Ceiling, Bottom)
	case b.Ceiling < b.Floor:
		return fmt.Errorf("ceiling %v dB lies below the floor of %v dB", b.Ceiling, b.Floor)
	case !(b.AirFrom >= 0 && b.AirFrom <= 1):
		return fmt.Errorf("air from %v is out of range 0…1", b.AirFrom)
	case !(b.AirTop >= LeastAir && b.AirTop <= 0):
		return fmt.Errorf("air at %v dB is out of range %v…0 dB", b.AirTop, LeastAir)
	}
	return nil
}

// audible gives the level, in dB, from which it grows evenly, and the intensity
// there.
func (b Balance) audible() (level, from float64) {
	if math.IsInf(b.Floor, -1) {
		return Bottom, bottomPart
	}
	return b.Floor, 0
}

// slope gives how many dB a whole unit of intensity would be.
func (b Balance) slope() float64 {
	level, from := b.audible()
	return -level / (1 - from)
}

// DB gives the level of both layers together for an intensity 0…1, before any
// ceiling:
//
//	dB = floor·(1 − intensity)
//
// Where heel down is silence the line starts from [Bottom] at a tenth of the
// intensity; below it the controller goes to 0 evenly.
func (b Balance) DB(intensity float64) float64 {
	level, from := b.audible()
	if intensity < from {
		return level + 40*math.Log10(intensity/from)
	}
	return level * (1 - intensity) / (1 - from)
}

// Most gives the intensity at which the level reaches the ceiling.
func (b Balance) Most() float64 { return 1 + b.Ceiling/b.slope() }

// Levels gives warm's and air's level on the controller's scale, 0…1 for 0…127,
// for an intensity and a fullness 0…1. Both together are as loud as warm alone
// would be, if the two sounds are unlike enough for their powers to add: with a
// the part of the amplitude that is air's,
//
//	warm² + air² = whole²,  air = a·whole,  a = m·u²
//
// where u is how far the fullness has got from AirFrom to 1 and m makes air stand
// AirTop dB against warm at the end. Controllers go with the root of the
// amplitude, so air's rises evenly.
func (b Balance) Levels(intensity, fullness float64) (warm, air float64) {
	whole := math.Pow(10, b.DB(intensity)/40)
	if b.NoAir || fullness <= b.AirFrom {
		return whole, 0
	}
	ratio := math.Pow(10, b.AirTop/20)
	u := (fullness - b.AirFrom) / (1 - b.AirFrom)
	part := ratio / math.Sqrt(1+ratio*ratio) * u * u
	return whole * math.Sqrt(math.Sqrt(1-part*part)), whole * math.Sqrt(part)
}

// Brightness is how controller 74 goes with the fullness; 64 is the sound as it
// was made (MMA RP-021).
type Brightness struct {
	Off          bool // leave the controller alone
	Dark, Bright uint8
}

// DefaultBrightness is by ear.
func DefaultBrightness() Brightness { return Brightness{Dark: 56, Bright: 76} }

// At gives the controller's value for a fullness 0…1.
func (b Brightness) At(fullness float64) uint8 {
	return uint8(math.Round(float64(b.Dark) + (float64(b.Bright)-float64(b.Dark))*unit(fullness)))
}

// Controller gives the largest controller value 0…127 that is not louder than a
// level 0…1, so that a ceiling holds whatever is rounded.
func Controller(level float64) uint8 {
	const exact = 1e-9 // what a level that is a controller's own may have lost
	return uint8(127*unit(level) + exact)
}

// GainDB gives what a controller 7 or 11 value means in decibels,
// 40·log10(value/127), −Inf for 0 (General MIDI 1 Developer Guidelines, p. 9;
// General MIDI 2, 1.2a, p. 8).
func GainDB(value uint8) float64 {
	return 40 * math.Log10(float64(value)/127)
}
