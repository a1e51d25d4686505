package soundcheck

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

// stoi is the Short-Time Objective Intelligibility of Taal, Hendriks, Heusdens and Jensen
// (IEEE Transactions on Audio, Speech, and Language Processing 19(7), 2011), from memory,
// at the recording's rate instead of 10 kHz: 15 third octaves from 150 Hz, segments of
// 384 ms, normalised, clipped at −15 dB, correlated. It knows nothing of levels in SPL,
// masking or hearing, and has nothing in common with the index but its purpose.
func stoi(clean, mixed []float64) float64 {
	const size, hop, segment, bands = 512, 256, 33, 15
	fft := fourier.NewFFT(size)
	spectra := func(x []float64) (out [][bands]float64) {
		frame := make([]float64, size)
		for at := 0; at+size <= len(x); at += hop {
			for i := range frame {
				frame[i] = x[at+i] * math.Pow(math.Sin(math.Pi*(float64(i)+0.5)/size), 2)
			}
			var b [bands]float64
			for k, c := range fft.Coefficients(nil, frame) {
				hz := float64(k) * speechRate / size
				if band := int(math.Round(3 * math.Log2(hz/150))); hz > 0 && band >= 0 && band < bands {
					b[band] += math.Pow(cmplx.Abs(c), 2)
				}
			}
			for i := range b {
				b[i] = math.Sqrt(b[i])
			}
			out = append(out, b)
		}
		return out
	}
	x, y := spectra(clean), spectra(mixed)
	loudest := 0.0
	energy := func(b [bands]float64) (sum float64) {
		for _, v := range b {
			sum += v * v
		}
		return sum
	}
	for _, b := range x {
		loudest = max(loudest, energy(b))
	}
	var xs, ys [][bands]float64 // without frames 40 dB under the loudest
	for i := range x {
		if energy(x[i]) > 1e-4*loudest {
			xs, ys = append(xs, x[i]), append(ys, y[i])
		}
	}
	sum, n := 0.0, 0.0
	for m := segment; m <= len(xs); m++ {
		for j := range bands {
			var a, b [segment]float64
			ea, eb := 0.0, 0.0
			for i := range segment {
				a[i], b[i] = xs[m-segment+i][j], ys[m-segment+i][j]
				ea, eb = ea+a[i]*a[i], eb+b[i]*b[i]
			}
			if eb == 0 {
				continue
			}
			ma, mb := 0.0, 0.0
			for i := range segment {
				b[i] = min(b[i]*math.Sqrt(ea/eb), a[i]*(1+math.Pow(10, 15.0/20)))
				ma, mb = ma+a[i]/segment, mb+b[i]/segment
			}
			ab, aa, bb := 0.0, 0.0, 0.0
			for i := range segment {
				ab, aa, bb = ab+(a[i]-ma)*(b[i]-mb), aa+(a[i]-ma)*(a[i]-ma), bb+(b[i]-mb)*(b[i]-mb)
			}
			if aa > 0 && bb > 0 {
				sum, n = sum+ab/math.Sqrt(aa*bb), n+1
			}
		}
	}
	return sum / n
}

// ranks gives each value's place, the mean of the places for equal ones.
func ranks(x []float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		for j, w := range x {
			switch {
			case w < v:
				out[i]++
			case w == v && j != i:
				out[i] += 0.5
			}
		}
	}
	return out
}

func correlation(x, y []float64) float64 {
	mx, my := 0.0, 0.0
	for i := range x {
		mx, my = mx+x[i]/float64(len(x)), my+y[i]/float64(len(y))
	}
	xy, xx, yy := 0.0, 0.0, 0.0
	for i := range x {
		xy, xx, yy = xy+(x[i]-mx)*(y[i]-my), xx+(x[i]-mx)*(x[i]-mx), yy+(y[i]-my)*(y[i]-my)
	}
	return xy / math.Sqrt(xx*yy)
}
