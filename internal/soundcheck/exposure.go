package soundcheck

import "math"

// NIOSHMinutes gives how long, in minutes a day, somebody may be in sound of a level, in
// dB(A): eight hours at 85, and half of it for each 3 dB more (NIOSH publication 98-126,
// 1998, T = 480/2^((L−85)/3)).
func NIOSHMinutes(dBA float64) float64 { return 480 / math.Exp2((dBA-85)/3) }

// NIOSHDose gives what part of a day's dose some minutes at a level are, in percent, by
// the same publication.
func NIOSHDose(dBA, minutes float64) float64 { return 100 * minutes / NIOSHMinutes(dBA) }

// NIOSHAverage gives the level that would make the same dose in eight hours, in dB(A),
// on average over time: TWA = 10·log10(D/100) + 85.
func NIOSHAverage(dose float64) float64 { return 10*math.Log10(dose/100) + 85 }

// Weekly doses through headphones, in Pa²h (ITU-T H.870 by WHO and ITU; the second from
// memory): 80 dB(A) for 40 hours, and 75 for children and other sensitive listeners.
const (
	AdultDose     = 1.6
	SensitiveDose = 0.506
)

// WeeklyHours gives how many hours a week at a level through headphones, in dB(A), make
// a dose in Pa²h: E = p0²·10^(L/10)·t with p0 = 20 µPa.
func WeeklyHours(dBA, dose float64) float64 { return dose / SoundExposure(dBA, 1) }

// SoundExposure gives the exposure of some hours at a level, in Pa²h (IEC 61252).
func SoundExposure(dBA, hours float64) float64 {
	const p0 = 20e-6
	return p0 * p0 * math.Pow(10, dBA/10) * hours
}
