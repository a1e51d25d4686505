package soundcheck

import (
	"math"
	"testing"
)

func within(a, b, by float64) bool { return math.Abs(a-b) <= by }

// NIOSH 98-126, the table as published.
func TestNIOSHTable(t *testing.T) {
	for level, minutes := range map[float64]float64{82: 960, 85: 480, 88: 240, 91: 120, 94: 60, 97: 30, 100: 15, 103: 7.5, 106: 3.75} {
		if got := NIOSHMinutes(level); !within(got, minutes, 1e-9) {
			t.Errorf("%v dB(A): %v minutes, the table has %v", level, got, minutes)
		}
		if got := NIOSHDose(level, minutes); !within(got, 100, 1e-9) {
			t.Errorf("%v dB(A) for %v minutes is a dose of %v %%", level, minutes, got)
		}
	}
	// An hour at 91 is half a day's dose, as 81.99 over eight hours (formula from
	// memory, computed).
	if dose := NIOSHDose(91, 60); !within(dose, 50, 1e-9) || !within(NIOSHAverage(dose), 81.99, 0.005) {
		t.Errorf("an hour at 91 is %v %%, %v dB(A)", dose, NIOSHAverage(dose))
	}
}

// WHO–ITU H.870: 80 dB(A) for 40 hours a week are 1.6 Pa²h, and 3 dB halve the time: to
// a hundredth, since half the energy is 3.01 dB.
func TestH870Table(t *testing.T) {
	for level, hours := range map[float64]float64{80: 40, 83: 20, 86: 10, 89: 5, 100: 0.4} {
		if got := WeeklyHours(level, AdultDose); !within(got/hours, 1, 0.01) {
			t.Errorf("%v dB(A): %v hours, the table has %v", level, got, hours)
		}
	}
	if got := SoundExposure(80, 40); !within(got, AdultDose, 1e-9) {
		t.Errorf("80 dB(A) for 40 hours are %v Pa²h", got)
	}
	if got := WeeklyHours(75, SensitiveDose); !within(got, 40, 0.05) {
		t.Errorf("75 dB(A): %v hours for sensitive listeners", got)
	}
	// IEC 61252: 3.2 Pa²h are eight hours at 90 dB.
	if got := SoundExposure(90, 8); !within(got, 3.2, 1e-9) {
		t.Errorf("90 dB for 8 hours are %v Pa²h", got)
	}
}
