package listening

import "math"

const (
	// least is the lowest noise in a band that is believed, power re full scale:
	// −84 dB, with twenty bands −71 dB in all.
	least = 4e-9

	floorPiece  = frameRate / 2 // frames in a piece of the past whose minimum is kept
	floorPieces = 8             // so that the floor is the minimum of the last four seconds
	biased      = 1.6           // by which a minimum lies below the mean of steady noise, here (measured: right to 0.3 dB)
)

// settles is how many frames are summed up before minima are taken.
const settles = frameRate / 8

// floor tells how loud the noise that stays is in each band: the minimum of the
// smoothed powers over the last seconds (Martin 2001, IEEE Transactions on Speech and
// Audio Processing 9: minimum statistics), without its weighting by time.
type floor struct {
	smooth   [numBands]float64
	minima   [floorPieces][numBands]float64
	piece    int
	counted  int // frames in the piece
	begun    bool
	settling int
	noise    [numBands]float64
}

var smoothsFloor = math.Exp(-1.0 / frameRate / 0.08)

// hear takes the powers of the next frame. While holds is set, as in music, the floor
// rises by no more than half a decibel a second.
func (f *floor) hear(powers *[numBands]float64, holds bool) {
	if !f.begun {
		f.begun = true
		for p := range f.minima {
			for b := range f.minima[p] {
				f.minima[p][b] = math.Inf(1)
			}
		}
		f.smooth = *powers
	}
	if f.settling < settles { // one frame says little: the mean of the first begins
		f.settling++
		for b, p := range powers {
			f.smooth[b] += (p - f.smooth[b]) / float64(f.settling)
			f.noise[b] = max(f.smooth[b], least)
		}
		return
	}
	if f.counted++; f.counted > floorPiece {
		f.counted, f.piece = 1, (f.piece+1)%floorPieces
		for b := range powers {
			f.minima[f.piece][b] = math.Inf(1)
		}
	}
	for b, p := range powers {
		f.smooth[b] += (1 - smoothsFloor) * (p + 1e-20 - f.smooth[b]) // never a denormal number
		f.minima[f.piece][b] = min(f.minima[f.piece][b], f.smooth[b])
		lowest := math.Inf(1)
		for _, m := range f.minima {
			lowest = min(lowest, m[b])
		}
		want := max(lowest*biased, least)
		if holds && want > f.noise[b] {
			want = min(want, f.noise[b]*slowRise)
		}
		f.noise[b] = want
	}
}

var slowRise = math.Pow(10, 0.05/frameRate)
