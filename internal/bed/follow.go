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
	b.toPlace(at, Hand)
	b.strayed(at)
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
		b.toPlace(at, Hand)
		b.strayed(at)
	}
	return out
}

// never is a time that has not been.
const never = time.Duration(-1)

// handsRest is how long hands do nothing before they have stopped playing. By
// ear: longer than a slow bar is held between two strikes.
const handsRest = 4 * time.Second

// play notes that the hands do something, after a landing has arrived.
func (b *Bed) play(at time.Duration) {
	if b.c.Hands == 0 || !b.arrived {
		return
	}
	if b.playsSince == never || !b.handed && at-b.playedAt > handsRest {
		b.playsSince = at
	}
	b.playedAt = at
}

// handsDue reports whether the bed has to look whether hands play: to leave where
// they have taken over in the song, or to come back where they have stopped.
func (b *Bed) handsDue() bool {
	return b.playsSince != never && (b.handed && b.phase == Fading || !b.handed && b.moves())
}

func (b *Bed) handsAt() time.Duration {
	if b.handed {
		return b.playedAt + handsRest
	}
	return b.playsSince + b.c.Hands
}

// hearHands fades where the hands have played in the song for as long as is set,
// and comes back where they stop before it is silent: the bed never leaves while
// nobody plays.
func (b *Bed) hearHands(at time.Duration, out []Action) []Action {
	switch {
	case b.hands.down != voicing.Pitches{}:
		if b.playedAt = at; b.handed {
			return out
		}
	case b.handed:
		b.playsSince = never
		return b.bringIn(at, out)
	case at-b.playedAt > handsRest:
		b.playsSince = never
		return out
	}
	out = b.ask(at, Event{Kind: Asked, Command: FadeOut}, out)
	b.handed = b.phase == Fading
	return out
}
