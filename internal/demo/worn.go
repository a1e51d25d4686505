package demo

import (
	"math"
	"math/rand/v2"
	"time"
)

// Worn is a foot pedal that has seen many stages, as a model: its readings are
// invented, not recorded. The foot's way passes through stiction, the wiper's
// noise, spikes where the track is scratched, and dropouts where it lifts.
type Worn struct {
	Seed     uint64
	Fine     bool    // 14 bits instead of 7
	Stick    float64 // part of the travel that the foot gets ahead before the pedal slips
	Noise    float64 // standard deviation of a reading, as a part of the travel
	Spikes   float64 // a second, each of 1 to 3 ms
	Dropouts float64 // a second, each of 20 to 500 ms, to one of the ends
}

// OldFriend is a pedal that a player still loves: it wanders by two steps of 127
// at the most, sticks a little, and has all the faults now and then.
func OldFriend(seed uint64) Worn {
	return Worn{Seed: seed, Stick: 0.02, Noise: 0.004, Spikes: 1, Dropouts: 0.2}
}

// Reading is what a pedal says at a time, 0…16383; one of 7 bits says multiples
// of 128.
type Reading struct {
	At  time.Duration
	Raw uint16
}

const (
	every   = time.Millisecond // 1,000 readings a second
	slip    = 0.004            // of the travel a reading, once the pedal moves
	quietly = 0.0157           // two steps of 127: noise goes no further
)

// Trace gives the readings while a foot goes a way, 0 heel … 1 toe, for a time.
func (w Worn) Trace(way func(time.Duration) float64, length time.Duration) []Reading {
	random := rand.New(rand.NewPCG(w.Seed, 17))
	often := func(perSecond float64) bool { return random.Float64() < perSecond*every.Seconds() }
	var readings []Reading
	var spikeTo, dropTo float64
	var spike, drop int // readings left
	here, slips := way(0), false
	for at := time.Duration(0); at < length; at += every {
		ahead := way(at) - here
		if slips = math.Abs(ahead) > w.Stick || slips && math.Abs(ahead) > slip; slips {
			here += min(max(ahead, -slip), slip) + ahead/20
		}
		x := here + min(max(random.NormFloat64()*w.Noise, -quietly), quietly)
		if spike == 0 && often(w.Spikes) {
			spike, spikeTo = 1+random.IntN(3), here+0.3*(2*random.Float64()-1)
		}
		if drop == 0 && often(w.Dropouts) {
			drop, dropTo = 20+random.IntN(481), float64(random.IntN(5)/4) // mostly the heel
		}
		if spike > 0 {
			x, spike = spikeTo, spike-1
		}
		if drop > 0 {
			x, drop = dropTo, drop-1
		}
		readings = append(readings, Reading{at, w.raw(min(max(x, 0), 1))})
	}
	return readings
}

func (w Worn) raw(x float64) uint16 {
	if w.Fine {
		return uint16(math.Round(x * 16383))
	}
	return uint16(math.Round(x*127)) << 7
}
