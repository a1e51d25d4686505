package bed

import (
	"time"

	"bedd/internal/harmony"
	"bedd/internal/voicing"
)

// capture takes the chord the player holds; in silence it also brings it in.
func (b *Bed) capture(at time.Duration, out []Action) []Action {
	c, ok := b.identify(b.hands.taken(at))
	if !ok {
		return tell(at, NothingHeld, out)
	}
	if out, ok = b.unplanned(at, c, Capture, out); !ok {
		return out
	}
	b.place = Hand
	return b.bringIn(at, out)
}

func (b *Bed) identify(notes voicing.Pitches) (harmony.Chord, bool) {
	var room [128]uint8
	sounding := notes.Append(room[:0])
	if len(sounding) == 0 {
		return harmony.Chord{}, false
	}
	return harmony.Identify(classes(sounding), classOf(sounding[0]), b.key)
}

// watchLeftHand starts waiting for the left hand to rest.
func (b *Bed) watchLeftHand(at time.Duration) {
	if !b.follow {
		return
	}
	now := below(b.hands.sounding(), b.c.Split)
	if now == b.lefthand {
		return
	}
	b.lefthand = now
	b.steady, b.steadyAt = now != voicing.Pitches{}, at+b.c.Steady
}

// followLeftHand takes up the chord of a left hand that has come to rest.
func (b *Bed) followLeftHand(at time.Duration, out []Action) []Action {
	if earliest := b.changedAt + b.c.Pace; at < earliest {
		b.steadyAt = earliest
		return out
	}
	b.steady = false
	if b.stay || (b.phase != Rising && b.phase != Holding) {
		return out
	}
	c, ok := b.identify(b.lefthand)
	if !ok || c == b.chord {
		return out
	}
	if out, ok = b.unplanned(at, c, NoCommand, out); ok {
		b.place = Hand
	}
	return out
}
