// Package clarity tells how clear speech stays over a bed.
package clarity

import "math"

// Bands is how many third-octave bands count for speech.
const Bands = 18

// Levels are spectrum levels by band: decibels in a band 1 Hz wide. What they
// are relative to is the caller's business; [Index] wants dB SPL. −Inf is
// silence.
type Levels [Bands]float64

// Centres are the bands' nominal middles in Hz (ANSI S3.5-1997, Table 3).
var Centres = [Bands]float64{160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150, 4000, 5000, 6300, 8000}

// importance is how much each band contributes to understanding (ANSI
// S3.5-1997, Table 3).
var importance = [Bands]float64{
	.0083, .0095, .0150, .0289, .0440, .0578, .0653, .0711, .0818,
	.0844, .0882, .0898, .0868, .0844, .0771, .0527, .0364, .0185,
}

// internalNoise is what a healthy ear hears in silence, as the spectrum level of
// a noise (ANSI S3.5-1997, Table 3).
var internalNoise = Levels{
	0.6, -1.7, -3.9, -6.1, -8.2, -9.7, -10.8, -11.9, -12.5,
	-13.5, -15.4, -17.7, -21.2, -24.2, -25.9, -23.6, -15.8, -7.1,
}

// Effort is how loud somebody speaks.
type Effort int

// The efforts.
const (
	Normal Effort = iota
	Raised
	Loud

	NumEfforts
)

func (e Effort) String() string { return [...]string{"normal", "raised", "loud"}[e] }

// standard are the speech spectra of ANSI S3.5-1997, Table 3, a metre in front of
// the speaker.
var standard = [NumEfforts]Levels{
	Normal: {
		32.41, 34.48, 34.75, 33.98, 34.59, 34.27, 32.06, 28.30, 25.01,
		23.00, 20.15, 17.32, 13.18, 11.55, 9.33, 5.31, 2.59, 1.13,
	},
	Raised: {
		33.81, 33.92, 38.98, 38.57, 39.11, 40.15, 38.78, 36.37, 33.86,
		31.89, 28.58, 25.32, 22.35, 20.15, 16.78, 11.47, 7.67, 5.07,
	},
	Loud: { // 400 Hz: one transcription of the table has 43.40
		35.29, 37.76, 41.55, 43.78, 43.30, 44.85, 45.55, 44.05, 42.16,
		40.53, 37.70, 34.39, 30.98, 28.21, 25.41, 18.35, 13.87, 11.39,
	},
}

// StandardSpeech gives the standard's speech spectrum of an effort, in dB SPL.
func StandardSpeech(e Effort) Levels { return standard[e] }

// bandwidthDB gives ten times the logarithm of a band's width in Hz (ANSI
// S3.5-1997, Table 3): 15.65 for the first, and a decibel more for each.
func bandwidthDB(band int) float64 { return 15.65 + float64(band) }

// Overall gives the level of all bands together, in the decibels of the bands.
func (l Levels) Overall() float64 {
	sum := 0.0
	for i, db := range l {
		sum += power(db + bandwidthDB(i))
	}
	return decibels(sum)
}

// Plus gives the levels by some decibels higher.
func (l Levels) Plus(db float64) Levels {
	for i := range l {
		l[i] += db
	}
	return l
}

// With gives the levels of two sounds together, which have nothing to do with
// each other.
func (l Levels) With(other Levels) Levels {
	for i := range l {
		l[i] = decibels(power(l[i]) + power(other[i]))
	}
	return l
}

// Silence is what sounds where nothing does.
func Silence() (l Levels) {
	for i := range l {
		l[i] = math.Inf(-1)
	}
	return l
}

func power(db float64) float64 { return math.Pow(10, db/10) }

func decibels(power float64) float64 { return 10 * math.Log10(power) }
