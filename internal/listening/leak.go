package listening

import "math"

const (
	mostDelay = frameRate / 2 // frames: what bedd plays comes back within half a second
	probes    = 90            // bins that the delay is looked for in
	probeFrom = 8             // 125 Hz
	probeStep = 2

	// betray is how coherent a bin must be with the known output, 0…1, to count as
	// leak. By ear: sounds that have nothing to do with each other then share 5 % at
	// most (measured: speech and a pad).
	betray = 0.2
	// atFirst makes it more as long as there are few frames: any two spectra are fully
	// coherent in one. By ear.
	atFirst = 5.0
	// remains is what of the leak one gain for a bin does not explain, in power: the
	// room's echoes, and how wrong the gain is while somebody speaks. By ear.
	remains = 0.3
	// rings is what is left of an echo after one frame, in power: −60 dB in a second.
	rings = 0.871
)

// leak finds what the known output explains of the signal: a complex gain for each
// bin, the known output being delayed by as many frames as fit best, by recursive
// least squares that forget. Frames in which something else is heard weigh less, by
// how strong that is. The bin's coherence tells whether there is a leak at all.
type leak struct {
	past   [mostDelay + 1][numBins]complex128
	newest int

	delay     int
	cross     [mostDelay + 1][probes]complex128
	own       [mostDelay + 1][probes]float64
	mic       [probes]float64
	sinceLook int
	sxk       [numBins]complex128
	skk, sxx  [numBins]float64
	other     [numBins]float64 // power that is not explained, smoothed
	heard     int              // frames
	tail      [numBins]float64 // power that may be leak beyond that, of the last hear
	explained [numBins]float64 // power that is leak, of the last hear
	share     float64          // of the signal, power, that is leak, 0…1
}

var (
	forgetsGain  = math.Exp(-1.0 / frameRate / 1.0) // in a second
	forgetsDelay = math.Exp(-1.0 / frameRate / 4.0) // in four
	smoothsOther = math.Exp(-1.0 / frameRate / 0.1)
)

// rest is for frames without any known output.
func (l *leak) rest() {
	if l.share == 0 {
		return
	}
	l.tail, l.explained, l.share = [numBins]float64{}, [numBins]float64{}, 0
}

// hear takes the next spectra of the signal and of what is known, and takes the leak
// out of the signal's powers.
func (l *leak) hear(signal, known []complex128, powers *[numBins]float64) {
	l.newest = (l.newest + 1) % len(l.past)
	copy(l.past[l.newest][:], known)
	l.heard++
	l.look(signal)
	from := &l.past[(l.newest-l.delay+len(l.past))%len(l.past)]
	all, leaks, betrays := 1e-20, 0.0, betray+atFirst/float64(l.heard)
	for k := firstBin; k < numBins; k++ {
		l.explained[k] = l.bin(k, signal[k], from[k], betrays, powers)
		all, leaks = all+power(signal[k]), leaks+l.explained[k]
	}
	l.share = leaks / all
}

// bin takes the leak out of one bin.
func (l *leak) bin(k int, x, known complex128, betrays float64, powers *[numBins]float64) (explained float64) {
	px, pk := power(x), power(known)
	weight := 1 / (l.other[k] + 1e-3*px + 1e-14)
	l.sxk[k] = complex(forgetsGain, 0)*l.sxk[k] + complex(weight, 0)*x*complex(real(known), -imag(known))
	l.skk[k] = forgetsGain*l.skk[k] + weight*pk
	l.sxx[k] = forgetsGain*l.sxx[k] + weight*px
	left := px
	l.tail[k] *= rings
	if c := power(l.sxk[k]); l.skk[k] > 0 && c > betrays*l.skk[k]*l.sxx[k] {
		gain := complex(real(l.sxk[k])/l.skk[k], imag(l.sxk[k])/l.skk[k])
		leaks := gain * known
		explained = min(power(leaks), px)
		left = power(x - leaks)
		l.tail[k] = max(l.tail[k], remains*power(leaks))
	}
	l.other[k] += (1 - smoothsOther) * (left - l.other[k])
	powers[k] = max(left-l.tail[k], 0)
	return explained
}

// look goes on looking for the delay.
func (l *leak) look(signal []complex128) {
	for i := range probes {
		l.mic[i] = forgetsDelay*l.mic[i] + power(signal[probeFrom+i*probeStep])
	}
	best, most, now := l.delay, 0.0, 0.0
	for d := range l.cross {
		past, cross, own := &l.past[(l.newest-d+len(l.past))%len(l.past)], &l.cross[d], &l.own[d]
		sum := 0.0
		for i := range probes {
			k := probeFrom + i*probeStep
			known := past[k]
			own[i] = forgetsDelay*own[i] + power(known)
			cross[i] = complex(forgetsDelay, 0)*cross[i] + signal[k]*complex(real(known), -imag(known))
			if own[i] > 0 && l.mic[i] > 0 {
				sum += power(cross[i]) / (own[i] * l.mic[i])
			}
		}
		if sum > most {
			best, most = d, sum
		}
		if d == l.delay {
			now = sum
		}
	}
	// Steady tones fit as well at any delay: it changes only for what is clearly better.
	if l.sinceLook++; best != l.delay && most > 1.1*now && l.sinceLook > frameRate/4 {
		l.delay, l.sinceLook = best, 0
		l.sxk, l.skk, l.sxx = [numBins]complex128{}, [numBins]float64{}, [numBins]float64{}
	}
}
