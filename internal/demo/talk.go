package demo

import (
	"math"
	"math/rand/v2"
	"sort"
	"time"
)

// Script is how intensely somebody speaks: points in order of time, with smooth
// ways between. Invented, like the speakers.
type Script []Point

// Point is an intensity 0…1 at a time.
type Point struct {
	At        time.Duration
	Intensity float64
}

// Intensity gives the script's intensity at a time.
func (s Script) Intensity(at time.Duration) float64 {
	i := sort.Search(len(s), func(i int) bool { return s[i].At > at })
	switch {
	case i == 0:
		return s[0].Intensity
	case i == len(s):
		return s[i-1].Intensity
	}
	a, b := s[i-1], s[i]
	x := (at - a.At).Seconds() / (b.At - a.At).Seconds()
	return a.Intensity + (b.Intensity-a.Intensity)*(1-math.Cos(math.Pi*x))/2
}

// Speaker is how intensely Maud Terrick speaks during [Performance].
func Speaker() Script {
	second := func(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
	return Script{{second(0), 0.15}, {second(15.8), 0.12}, {second(19.6), 0.85}, {second(28.6), 0.8}, {second(30.8), 0.35}, {second(46), 0.35}, {second(50), 0.42}}
}

// Cue is one message of the player's at a time.
type Cue struct {
	At   time.Duration
	Data []byte
}

// Talk makes a talk of three minutes and a player who accompanies it: a foot on a
// worn pedal that follows the speaker about half a second late, on controller 11,
// and hands that play a chord every second or two, harder as the speaker
// grows. Without a pedal there are only the hands.
func Talk(seed uint64, pedal bool) (Script, []Cue) {
	const length = 3 * time.Minute
	random := rand.New(rand.NewPCG(seed, 5))
	script := Script{{0, 0.2}}
	for at := 8 * time.Second; at < length; at += time.Duration(4000+random.IntN(14000)) * time.Millisecond {
		script = append(script, Point{at, 0.05 + 0.9*random.Float64()})
	}
	late := time.Duration(300+random.IntN(400)) * time.Millisecond
	follows := func(at time.Duration) float64 { return script.Intensity(at - late) }
	var cues []Cue
	if pedal {
		for _, r := range OldFriend(seed).Trace(func(at time.Duration) float64 {
			return 0.06 + 0.9*follows(at) + 0.03*math.Sin(at.Seconds()) // a foot is no ruler
		}, length) {
			cues = append(cues, Cue{r.At, []byte{0xB0, 11, byte(r.Raw >> 7)}})
		}
	}
	for at := time.Second; at < length; {
		x := follows(at)
		for _, key := range []byte{48 - byte(12*x), 60, 64, 67} {
			velocity := byte(30 + 70*x + 8*random.Float64())
			cues = append(cues, Cue{at, []byte{0x90, key, velocity}}, Cue{at + 400*time.Millisecond, []byte{0x80, key, 0}})
		}
		at += time.Duration(float64(2*time.Second) * (1 - 0.7*x) * (0.8 + 0.4*random.Float64()))
	}
	sort.SliceStable(cues, func(i, j int) bool { return cues[i].At < cues[j].At })
	return script, cues
}
