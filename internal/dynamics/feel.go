package dynamics

import (
	"fmt"
	"time"
)

// Always as [Feel].Holds lets the foot decide for good.
const Always = time.Duration(1<<63 - 1)

// Goal is where a swell or a settling leads, and how long it takes.
type Goal struct {
	To   float64 // intensity 0…1
	Over time.Duration
}

// Feel is how intensity answers to all that asks for more or less. Start from
// [DefaultFeel].
type Feel struct {
	Rise, Fall float64       // the most that the level moves, in dB/s, LeastRate…MostRate
	Holds      time.Duration // how long a foot that has moved decides alone, or Always
	HandOver   time.Duration // how long it takes to hand over then, at least 0.1 s
	Playing    float64       // how far the playing counts where no foot decides, 0 not at all … 1
	Room       float64       // how much thinner the bed gets while the player plays hard, 0 not at all … 1
	Swell      Goal
	Settle     Goal
}

// DefaultFeel is by ear: fast enough for a speaker's turn of voice, too slow to
// be noticed as a move.
func DefaultFeel() Feel {
	return Feel{
		Rise: 8, Fall: 5.5,
		Holds: 2 * time.Minute, HandOver: 10 * time.Second,
		Playing: 1,
		Swell:   Goal{0.85, 8 * time.Second},
		Settle:  Goal{0.2, 12 * time.Second},
	}
}

// LeastRate and MostRate bound how fast a level may move, in dB/s. A level that
// moves every 20 ms, in steps of a 7-bit controller, then never steps by 1 dB
// where it can be heard: half a decibel a move is at most one controller step
// more than that.
const (
	LeastRate = 1.0
	MostRate  = 24.0
)

// MinHandOver and MinGoal are the shortest times of handing over and of a swell
// or a settling.
const (
	MinHandOver = 100 * time.Millisecond
	MinGoal     = 100 * time.Millisecond
)

// Check says what is wrong with the feel, if anything.
func (f Feel) Check() error {
	for _, rate := range []float64{f.Rise, f.Fall} {
		if !(rate >= LeastRate && rate <= MostRate) {
			return fmt.Errorf("a level that moves by %v dB/s is out of range %v…%v dB/s", rate, LeastRate, MostRate)
		}
	}
	for _, part := range []float64{f.Playing, f.Room, f.Swell.To, f.Settle.To} {
		if !(part >= 0 && part <= 1) {
			return fmt.Errorf("playing %v, room %v, a swell to %v or a settling to %v is out of range 0…1", f.Playing, f.Room, f.Swell.To, f.Settle.To)
		}
	}
	switch {
	case f.Holds < 0:
		return fmt.Errorf("a foot cannot hold for %v", f.Holds)
	case f.HandOver < MinHandOver:
		return fmt.Errorf("handing over in %v is too fast: it takes at least %v", f.HandOver, MinHandOver)
	case f.Swell.Over < MinGoal || f.Settle.Over < MinGoal:
		return fmt.Errorf("a swell in %v or a settling in %v is too fast: each takes at least %v", f.Swell.Over, f.Settle.Over, MinGoal)
	}
	return nil
}
