package midiio

import (
	"slices"
	"time"
)

// cableModel is a serial line by itself: bytes leave one after the other, each
// as late as its place says.
type cableModel struct {
	byteTime time.Duration
	bytes    []cableByte
}

type cableByte struct {
	from    Source
	channel uint8
	end     time.Duration // when it has left
}

func newCable(baud float64) *cableModel {
	return &cableModel{byteTime: time.Duration(10 * float64(time.Second) / baud)}
}

// put gives the line a message, and tells how long its first byte waits, and how
// much of that is for others than the player, on other channels.
func (c *cableModel) put(at time.Duration, from Source, msg []byte) (wait, forOthers time.Duration) {
	start := at
	for i := len(c.bytes) - 1; i >= 0 && c.bytes[i].end > at; i-- {
		b := c.bytes[i]
		start = max(start, b.end)
		if b.from != Player && b.channel != msg[0]&15 {
			forOthers += min(b.end-at, c.byteTime)
		}
	}
	for i := range msg {
		c.bytes = append(c.bytes, cableByte{from, msg[0] & 15, start + time.Duration(i+1)*c.byteTime})
	}
	return start - at, forOthers
}

// arrival is a message that has come out of a pacer.
type arrival struct {
	at   time.Duration
	from Source // the player's have channels of their own here
	msg  []byte
}

// pacing drives a pacer by a made-up clock, whose alarms may be late.
type pacing struct {
	*Pacer
	now     time.Duration
	late    func() time.Duration
	cable   *cableModel
	alone   *cableModel // with the player's messages only
	sending Source
	got     []arrival
	worst   struct{ forOthers, more time.Duration } // of the player's messages
}

// newPacing is a pacer for a cable of the usual rate, in front of one of some
// other, on which the player has the channels from 8 on.
func newPacing(real float64, late func() time.Duration) *pacing {
	l := &pacing{late: late, cable: newCable(real), alone: newCable(real)}
	l.Pacer = NewPacer(DINBaud, func(msg []byte) {
		from := Bed
		if msg[0]&15 >= 8 || msg[0] >= sysexStart {
			from = l.sending
		}
		l.Sent(l.now, len(msg))
		wait, forOthers := l.cable.put(l.now, from, msg)
		l.got = append(l.got, arrival{l.now, from, slices.Clone(msg)})
		if from == Player {
			alone, _ := l.alone.put(l.now, Player, msg)
			l.worst.forOthers = max(l.worst.forOthers, forOthers)
			l.worst.more = max(l.worst.more, wait-alone)
		}
	})
	return l
}

// until lets time pass.
func (l *pacing) until(at time.Duration) {
	for {
		due, waits := l.Deadline()
		if due = max(due, l.now) + l.late(); !waits || due > at {
			break
		}
		l.now, l.sending = due, Bed
		if l.values.n > 0 {
			l.sending = Player // what comes out on the player's channels
		}
		l.Advance(due)
	}
	l.now = at
}

func (l *pacing) send(from Source, msg []byte) {
	l.sending = from
	l.Send(l.now, from, msg)
}

func inTime() time.Duration { return 0 }
