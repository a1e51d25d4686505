package dynamics

import (
	"math"
	"time"
)

// takesOver is how far a foot that does not decide must move, as a part of the
// travel, before it does: more than a resting pedal wanders. By ear.
const takesOver = 0.04

// Pedal notes a reading of the pedal, 0…MaxRaw. The first only tells where it
// stands; a foot decides once it has moved from there.
func (i *Intensity) Pedal(at time.Duration, raw uint16) {
	first := !i.foot.seen
	i.look(at)
	i.foot.Read(at, raw)
	if first {
		i.reference = i.foot.travel
	}
	i.look(at)
}

// look takes in where the foot is by now.
func (i *Intensity) look(at time.Duration) {
	i.foot.pass(at)
	here := i.foot.travel
	if i.foot.awoke() {
		i.reference = here
	}
	moved, leads := here-i.reference, !i.shaping && i.offset == 0 && i.footWeight(at) == 1
	switch {
	case moved == 0, !leads && math.Abs(moved) <= takesOver:
		return
	case !leads:
		i.meeting = meeting{}
		if i.sounds {
			i.meeting = meeting{up: moved > 0, down: moved < 0, value: i.value, turn: here}
		}
	}
	i.reference, i.moved = here, i.foot.at
	i.trod, i.trodAt = true, i.foot.at
	i.decides, i.shaping, i.offset = true, false, 0
	i.meeting.move(here, i.foot.Position())
	i.base, i.left = i.wish(at), true
}

// meeting is what a foot that takes over finds. It comes in where it meets the
// value, or where it turns round, so that a foot on its way up never brings the bed
// down, nor one on its way down up:
//
//	value ─ ─ ─ ─┬─────── taken over, not yet met ───────╱ met
//	foot         │                     ╱────────────────╱
//	     ────────┘────────────────────╱
type meeting struct {
	up, down bool    // on the way
	value    float64 // what was found
	turn     float64 // of the travel: the farthest on the way
}

// move takes a foot's way on, and ends the meeting when it has met the value or
// turned round.
func (m *meeting) move(travel, position float64) {
	switch {
	case m.up:
		m.turn = max(m.turn, travel)
		m.up = position < m.value && travel >= m.turn-takesOver
	case m.down:
		m.turn = min(m.turn, travel)
		m.down = position > m.value && travel <= m.turn+takesOver
	}
}

// asks gives what a foot at a position asks for.
func (m *meeting) asks(position float64) float64 {
	switch {
	case m.up:
		return max(position, m.value)
	case m.down:
		return min(position, m.value)
	}
	return position
}

// footWeight gives how far the foot decides.
func (i *Intensity) footWeight(at time.Duration) float64 {
	switch {
	case !i.decides:
		return 0
	case i.shaping && at < i.shape.End(), i.feel.Holds == Always:
		return 1
	}
	return unit(1 - (at-i.moved-i.feel.Holds).Seconds()/i.feel.HandOver.Seconds())
}

// wish gives what the foot asks for.
func (i *Intensity) wish(at time.Duration) float64 {
	if i.shaping {
		return i.shape.At(at)
	}
	return i.meeting.asks(i.foot.Position())
}

// Swell grows to the feel's goal, unless the intensity is there already.
func (i *Intensity) Swell(at time.Duration) {
	i.begin(at, max(i.feel.Swell.To, i.value), i.feel.Swell.Over)
}

// Settle comes down to the feel's goal, unless the intensity is there already.
func (i *Intensity) Settle(at time.Duration) {
	i.begin(at, min(i.feel.Settle.To, i.value), i.feel.Settle.Over)
}

// Rest tells that nothing sounds any more, until Start. It ends a swell or a settling: what
// comes next begins from the foot, if that still has time, or from the plan, not
// from where the last one led.
func (i *Intensity) Rest(at time.Duration) {
	i.sounds, i.meeting = false, meeting{}
	if !i.shaping {
		return
	}
	i.shaping, i.decides, i.moved = false, i.trod, i.trodAt
	if i.footWeight(at) == 1 {
		i.base = i.foot.Position()
		return
	}
	i.decides, i.base, i.left = false, i.plan, false
}

// begin leads from the value as it is to another. It is the foot's doing: it holds
// as a foot does, and a foot that moves ends it.
func (i *Intensity) begin(at time.Duration, to float64, over time.Duration) {
	i.Advance(at)
	i.offset = 0
	i.shape = Shape{From: i.value, To: to, Begin: i.at, Over: over}
	i.shaping, i.decides, i.moved = true, true, i.shape.End()
	i.reference = i.foot.travel
	i.base, i.left = to, true
}

// Stay holds the intensity where it is, or lets it go: a swell or a settling then
// goes on from where it was, and a foot that decided has as long left as before.
func (i *Intensity) Stay(at time.Duration, on bool) {
	i.Advance(at)
	if i.stay && !on {
		held := i.at - i.stayed
		i.shape.Begin += held
		if i.moved = min(i.moved+held, i.at); i.shaping {
			i.moved = i.shape.End()
		}
	}
	i.stay, i.stayed = on, i.at
}
