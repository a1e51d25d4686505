package sound

import "math"

const (
	// limitAhead is how far the limiter looks ahead, in frames: 1 ms, short
	// enough not to be felt under the fingers.
	limitAhead   = 48
	limitDelay   = limitAhead - 1 + interDelay
	limitRelease = 0.150 // seconds to let go, by ear: quicker and a bass note modulates the chord
	limitMargin  = 0.3   // dB kept for what 4× oversampling and the moving gain may miss
)

// limiter keeps the true peak of stereo sound under a ceiling. Sound under
// the ceiling passes unchanged, limitDelay frames later.
//
//	peak ──▶ gain needed ──▶ lowest of the next 48 ──▶ slow release ──▶ mean of 48 ──▶ ×
//
// The mean of 48 gains that are each low enough for a frame 48 later is low
// enough for it, and moves smoothly.
type limiter struct {
	ceiling float64
	release float64 // share of the way back to 1 in a frame
	peaks   [2]interpolator
	before  float64 // peak of the stretch before
	delay   [limitDelay][2]float64
	at      int

	needed [limitAhead]float64 // gains of the last frames
	lowest float64             // of needed
	gains  [limitAhead]float64 // after the release
	gain   float64
	sum    float64 // of gains
	turn   int
	open   int // frames since it last had anything to do
}

func (l *limiter) init(rate, ceilingDB float64) {
	l.ceiling = math.Pow(10, (ceilingDB-limitMargin)/20)
	l.release = 1 - math.Exp(-1/(limitRelease*rate))
	l.lowest, l.gain, l.sum = 1, 1, limitAhead
	for i := range limitAhead {
		l.needed[i], l.gains[i] = 1, 1
	}
}

// render takes some frames through in their place.
// Hot path: no allocation; O(limitAhead) a frame while limiting, else O(1).
func (l *limiter) render(left, right []float64) {
	floor := l.ceiling / 2 // see Loudness.watch
	if l.open > limitAhead && l.peaks[0].quiet(left, floor) && l.peaks[1].quiet(right, floor) {
		l.peaks[0].take(left)
		l.peaks[1].take(right)
		l.before = 0 // or anything else under the ceiling
		for i := range left {
			frame := &l.delay[l.at]
			left[i], right[i], frame[0], frame[1] = frame[0], frame[1], left[i], right[i]
			if l.at++; l.at == limitDelay {
				l.at = 0
			}
		}
		return
	}
	for i := range left {
		left[i], right[i] = l.next(left[i], right[i])
	}
}

// next takes a frame and gives the one from limitDelay frames ago, limited.
// Hot path: no allocation; O(limitAhead) while limiting, else O(1).
func (l *limiter) next(left, right float64) (float64, float64) {
	// Nothing upstream makes NaN or infinite values; if it ever did, the
	// filters must not keep it.
	if !(math.Abs(left)+math.Abs(right) < 1e6) {
		left, right = 0, 0
	}
	floor := l.ceiling / 2 // see Loudness.Add
	peak := max(l.peaks[0].push(left, floor), l.peaks[1].push(right, floor))
	peak, l.before = max(peak, l.before), peak // the stretches on both sides of a frame
	need := 1.0
	if peak > l.ceiling {
		need = l.ceiling / peak
		l.open = 0
	}
	frame := l.delay[l.at]
	l.delay[l.at] = [2]float64{left, right}
	if l.at++; l.at == limitDelay {
		l.at = 0
	}
	if l.open > limitAhead { // every gain it keeps is 1
		return frame[0], frame[1]
	}
	if l.gain == 1 && need == 1 {
		l.open++
	} else {
		l.open = 0
	}
	gain := l.follow(need)
	return frame[0] * gain, frame[1] * gain
}

// follow takes the gain that a frame needs and gives that of the frame
// limitAhead before.
func (l *limiter) follow(need float64) float64 {
	old := l.needed[l.turn]
	l.needed[l.turn] = need
	if need <= l.lowest {
		l.lowest = need
	} else if old <= l.lowest { // the lowest has just left
		l.lowest = 1
		for _, n := range l.needed {
			l.lowest = min(l.lowest, n)
		}
	}
	l.gain = min(l.lowest, l.gain+l.release*(1-l.gain))
	if l.gain > 1-1e-9 {
		l.gain = 1
	}
	l.sum += l.gain - l.gains[l.turn]
	l.gains[l.turn] = l.gain
	if l.turn++; l.turn == limitAhead {
		l.turn = 0
		l.sum = 0 // added up afresh, so that rounding cannot pile up
		for _, g := range l.gains {
			l.sum += g
		}
	}
	return l.sum / limitAhead
}
