package sound

import (
	"math"
	"math/rand/v2"
)

const (
	maxPrompt  = 64 // partials of the strings
	maxAfter   = 8  // of which the lowest have a slow aftersound
	numKnocks  = 8  // modes of the case and soundboard that a blow sets off
	maxModes   = maxPrompt + maxAfter + numKnocks
	topPartial = 9000 // Hz; softer than the ear follows at any force

	firstUndamped = 90 // F♯6: the strings above have no dampers (common practice, no source)
)

// mode is one decaying sine of a key: what it starts with and how it goes.
type mode struct {
	turn  float64 // radians a frame
	decay float64 // factor a frame
	level float64 // amplitude before force and brightness
	kilo  float64 // kHz above the fundamental: what brightness takes off
}

// pianoKey is the model of one key's strings, made once.
type pianoKey struct {
	modes                   []mode // aftersound, strings upwards, knocks: about the longest-lived first
	damp                    float64
	aLeft, aRight           float64 // where one half of the modes lies
	bLeft, bRight           float64 // and the other
	brightness, contact     float64 // factors on the hammer's
	loudest, loudestPerTick float64 // for stealing: start level and decay
}

// stretchCents gives how far the first partial of a key is tuned from equal
// temperament, in cents: little in the middle, so that a pad on the same
// keys agrees, sharp at the top and flat at the bottom as ears ask of a
// piano (direction after Railsback 1938, from memory; size by ear).
func stretchCents(key byte) float64 {
	if k := float64(key) - 60; k > 0 {
		return 18 * math.Pow(k/48, 3)
	} else {
		return -12 * math.Pow(-k/39, 3)
	}
}

// inharmonicity gives B of f_n = n·f0·√(1 + B·n²) (Young 1952; Fletcher
// 1964). The two slopes are Rigaud, David & Daudet's (2013), from memory.
func inharmonicity(key byte) float64 {
	m := float64(key)
	return math.Exp(0.0926*m-13.64) + math.Exp(-0.0847*m-5.82)
}

// decayDB gives the first, fast decay of a key's fundamental in dB/s: T60 is
// 14 s at A0, 7.5 s at C4, 2.2 s at C6 and 0.64 s at C8 (order of magnitude
// after Martin 1947, from memory).
func decayDB(key byte) float64 {
	k := float64(key) - 60
	if k < 0 {
		return 60 / (7.5 - k/6)
	}
	return 8 * math.Exp2(k/13.5)
}

// strikePoint gives d/L: an eighth, less in the treble (Conklin 1990).
func strikePoint(key byte) float64 {
	return 1.0/8 - (1.0/8-1.0/14)*max(0, float64(key)-69)/39
}

// hammerSlope gives the dB that each kHz above the fundamental is weaker at
// a force of 0…1: hard blows are bright. By ear.
func hammerSlope(force float64) float64 { return 19 - 11*math.Pow(force, 0.8) }

func newPianoKey(key byte, rate float64, random *rand.Rand) pianoKey {
	var (
		b      = inharmonicity(key)
		first  = keyHz(key) * math.Exp2(stretchCents(key)/1200)
		ideal  = first / math.Sqrt(1+b)
		strike = strikePoint(key)
		base   = decayDB(key)
		top    = min(topPartial, topShare*rate)
		k      = pianoKey{brightness: 1 - 0.45*max(0, float64(key)-60)/48}
		after  []mode
		upward []mode
		energy float64
	)
	add := func(modes []mode, hz, perSecond, level float64) []mode {
		return append(modes, mode{
			turn:  2 * math.Pi * hz / rate,
			decay: math.Pow(10, -perSecond/20/rate),
			level: level,
			kilo:  (hz - first) / 1000,
		})
	}
	for n := 1; n <= maxPrompt; n++ {
		x := float64(n)
		hz := x * ideal * math.Sqrt(1+b*x*x)
		if hz > top && n > 1 {
			break
		}
		// A string struck at a node lacks that partial, though never quite.
		level := max(0.12, math.Abs(math.Sin(math.Pi*x*strike)))
		// The soundboard hardly radiates the lowest notes' fundamentals.
		level /= 1 + (70/hz)*(70/hz)
		// No two strings have the same voice: ±2 dB, fixed for each key.
		level *= math.Pow(10, (2*random.Float64()-1)*2/20)
		kilo := (hz - first) / 1000
		perSecond := base + 9*kilo + 2*kilo*kilo
		upward = add(upward, hz, perSecond, level)
		if n <= maxAfter {
			// Two strings of a choir end up in opposite phase and ring on
			// (Weinreich 1977: 8 dB/s, then 2 dB/s), a fraction of a cent
			// off pitch.
			off := 0.2 + 0.4*random.Float64()
			after = add(after, hz*math.Exp2(off/1200), perSecond/3.5, level*0.2)
		}
		sounding := level * math.Pow(10, -hammerSlope(0.6)*k.brightness*kilo/20)
		energy += sounding * sounding
	}
	even := 1 / math.Sqrt(energy)
	k.modes = append(after, upward...)
	for i := range k.modes {
		k.modes[i].level *= even
	}
	// Knocks are heard more the less string there is: level by ear.
	for i, hz := range [numKnocks]float64{92, 148, 225, 370, 610, 980, 1640, 2700} {
		hz *= 0.9 + 0.2*random.Float64()
		level := 0.055 * math.Exp2((float64(key)-60)/40)
		k.modes = add(k.modes, hz, 2400*math.Sqrt(hz/370), level/(1+float64(i)/4))
		k.modes[len(k.modes)-1].kilo = hz / 1000
	}
	k.loudest, k.loudestPerTick = 1, math.Pow(10, -base/20/rate*tick)

	if key < firstUndamped {
		seconds := max(0.15, min(0.9, 0.32*math.Exp2((60-float64(key))/22)))
		k.damp = math.Pow(10, -3*tick/(seconds*rate))
	} else {
		k.damp = 1
	}
	k.contact = math.Exp2((60 - float64(key)) / 40)
	place := (float64(key) - 64) / 64 * 0.45 // as the player sits: bass to the left
	k.aLeft, k.aRight = equalPower(place - 0.22)
	k.bLeft, k.bRight = equalPower(place + 0.22)
	return k
}

// equalPower gives the gains of a place from −1 (left) to 1 (right).
func equalPower(place float64) (left, right float64) {
	turn := math.Pi / 4 * (1 + max(-1, min(1, place)))
	return math.Cos(turn), math.Sin(turn)
}
