package midiio

import "time"

// paceKind is what a message that waits is to those about it.
type paceKind uint8

const (
	inOrder paceKind = iota // nothing overtakes it: what prepares the synth, a program, a mode
	strike                  // a note-on
	ending                  // a note-off
	level                   // a value
)

// paced is a message that waits.
type paced struct {
	turn  time.Duration // when it would go out if all went in order
	msg   shortMessage
	kind  paceKind
	value controlNumber // of a level
}

func newPaced(turn time.Duration, msg []byte, ordered bool) paced {
	p := paced{turn: turn, msg: shortCopy(msg)}
	on, off := noteEdge(msg)
	n, isValue := valueOf(msg)
	switch {
	case on:
		p.kind = strike
	case off:
		p.kind = ending
	case isValue && !ordered:
		p.kind, p.value = level, n
	}
	return p
}

func (p *paced) channel() uint8 { return p.msg.data[0] & 0x0F }

// sameKey reports whether both are notes of one key.
func (p *paced) sameKey(q *paced) bool {
	isNote := func(k paceKind) bool { return k == strike || k == ending }
	return isNote(p.kind) && isNote(q.kind) && p.channel() == q.channel() && p.msg.data[1] == q.msg.data[1]
}

// maxPaced is how many messages wait in one queue at most: a second's worth of a
// cable. All notes off with 200 notes is a quarter of it; a core that has slept
// through half a minute of orders fills most of it (by trial, on random nights).
const maxPaced = 1024

// paceQueue keeps messages in order until they are picked.
type paceQueue struct {
	list  [maxPaced]paced
	n     int
	bytes int
}

// put puts a message in, for which there must be room, and reports how many
// messages it has made void: a level takes the place of an older one of its
// control, and an end goes together with the strike that it would have ended, since
// that has not gone out.
func (q *paceQueue) put(p paced) (void int) {
	switch p.kind {
	case level:
		upper := false // waits behind the lower half's older value
		for i := q.n - 1; i >= 0 && q.list[i].kind != inOrder; i-- {
			switch other := q.list[i].value; {
			case q.list[i].kind != level:
			case other == p.value && upper:
				q.take(i)
				q.append(p)
				return 1
			case other == p.value:
				q.list[i].msg = p.msg
				return 1
			case p.value.lowerHalf() && other == p.value-32:
				upper = true
			}
		}
	case ending:
		if i := q.pendingStrike(&p); i >= 0 {
			q.take(i)
			return 2
		}
	}
	q.append(p)
	return 0
}

func (q *paceQueue) append(p paced) {
	q.list[q.n] = p
	q.n++
	q.bytes += int(p.msg.size)
}

// pendingStrike is the place of the strike that an end would end, or -1. One that
// waits before a level or something in order is none: other notes' ends may wait
// between, which would come before the new notes then.
func (q *paceQueue) pendingStrike(end *paced) int {
	for i := q.n - 1; i >= 0; i-- {
		switch p := &q.list[i]; {
		case p.kind == level, p.kind == inOrder, p.kind == ending && p.sameKey(end):
			return -1
		case p.sameKey(end):
			return i
		}
	}
	return -1
}

// take takes a message out.
func (q *paceQueue) take(i int) paced {
	p := q.list[i]
	copy(q.list[i:q.n], q.list[i+1:q.n])
	q.n--
	q.bytes -= int(p.msg.size)
	return p
}

// next is the place of the message that is to go out first; there must be one. New
// notes come first, so that there is no hole, then ends, then levels, but nothing
// overtakes what is in order, a level that falls, or another message of the same key.
func (q *paceQueue) next(falls func(*paced) bool) int {
	first, best := 0, level+1
	for i := range q.n {
		p := &q.list[i]
		if p.kind == inOrder || p.kind == level && falls(p) {
			if i == 0 {
				return 0
			}
			break
		}
		if p.kind < best && !(p.kind == strike && q.keyWaits(p, i)) {
			first, best = i, p.kind
		}
		if best == strike {
			break
		}
	}
	return first
}

// keyWaits reports whether another message of a note's key waits before it.
func (q *paceQueue) keyWaits(p *paced, before int) bool {
	for i := range before {
		if q.list[i].sameKey(p) {
			return true
		}
	}
	return false
}
