package midiio

import (
	"sync/atomic"
	"time"
)

// How many values of one control pass an input. A 31,250 baud cable carries 1,042
// messages of three bytes a second (MIDI 1.0 Detailed Specification 4.2), so that a
// control that floods leaves half of it free. Wheels and pedals send up to 500
// values a second, often some at once (common practice, no source).
const (
	valueEvery = 2 * time.Millisecond
	valueBurst = 16 // at once
	edgeEvery  = 10 * time.Millisecond
	edgeBurst  = 16

	// maxLate is how many values wait in a thinner at most. One more has the first
	// of them passed at once.
	maxLate = 64
)

// thinner leaves out values of a control that sends too many of them, such as a
// broken pedal, and nothing else: a value that comes too soon waits, a newer one
// takes its place, and 2 ms after it came the newest passes. What is not a value
// passes at once, after what waits on its channel (SysEx and reset: on all), so that
// the order stays. So does
// a value that switches over, from 0…63 to 64…127 or back, up to 100 a second.
type thinner struct {
	controls [16 * numControls]thinned
	late     [maxLate]lateValue // in order
	waiting  int
	left     atomic.Uint64 // values left out
	last     atomic.Uint32 // the number of the control that the last of them is of
	passing  shortMessage
}

// thinned is what is known of a control.
type thinned struct {
	values, edges bucket
	said          uint8 // the last value that passed
	known         bool
}

// lateValue is a value that waits.
type lateValue struct {
	control controlNumber
	msg     shortMessage
}

// bucket lets something pass once each period, and some at once after a pause: the
// generic cell rate algorithm (ITU-T I.371).
type bucket struct {
	due time.Duration // when the next would be due if they came evenly
}

// takes reports whether one more may pass, and counts it if so.
func (b *bucket) takes(at, every time.Duration, burst int) bool {
	if at < b.at(every, burst) {
		return false
	}
	b.due = max(b.due, at) + every
	return true
}

// force counts one that passes anyhow, which does not put off the next for longer
// than a period.
func (b *bucket) force(at, every time.Duration, burst int) {
	b.due = min(max(b.due, at)+every, at+time.Duration(burst)*every)
}

// at is from when on one more may pass.
func (b *bucket) at(every time.Duration, burst int) time.Duration {
	return b.due - time.Duration(burst-1)*every
}

// take hands pass the message, or what may pass instead. Times must not go back.
// Hot path: no allocation; O(maxLate).
func (t *thinner) take(at time.Duration, msg []byte, pass func(at time.Duration, msg []byte)) {
	n, ok := valueOf(msg)
	switch {
	case ok:
		t.value(at, n, msg, pass)
	case msg[0] < sysexStart:
		t.settle(at, pass, func(n controlNumber) bool { return n.channel() == msg[0]&0x0F })
		pass(at, msg)
	case isForAll(msg):
		t.settle(at, pass, everyControl)
		pass(at, msg)
	default:
		pass(at, msg)
	}
}

func (t *thinner) value(at time.Duration, n controlNumber, msg []byte, pass func(at time.Duration, msg []byte)) {
	c := &t.controls[n]
	i := t.find(n)
	value, isSwitch := switchValue(msg)
	edge := isSwitch && c.known && (value >= switchedOn) != (c.said >= switchedOn)
	switch {
	case !t.joins(n) && (edge && c.edges.takes(at, edgeEvery, edgeBurst) || c.values.takes(at, valueEvery, valueBurst)):
		if i < t.waiting {
			t.leaveOut(n)
			t.remove(i)
		}
		c.said, c.known = value, true
		pass(at, msg)
	case i < t.waiting:
		t.leaveOut(n)
		t.late[i].msg = shortCopy(msg)
	default:
		if t.waiting == maxLate {
			t.let(at, 0, pass)
		}
		t.wait(lateValue{n, shortCopy(msg)})
	}
}

// wait puts a value last, but an upper half before its lower half.
func (t *thinner) wait(v lateValue) {
	i := t.waiting
	if v.control.onChannel() < 32 {
		i = t.find(v.control + 32)
	}
	copy(t.late[i+1:], t.late[i:t.waiting])
	t.late[i] = v
	t.waiting++
}

// joins reports whether a value is the lower half of one whose upper half waits
// (controllers 32…63 to 0…31): it must not overtake it.
func (t *thinner) joins(n controlNumber) bool {
	return n.lowerHalf() && t.find(n-32) < t.waiting
}

func (t *thinner) leaveOut(n controlNumber) {
	t.left.Add(1)
	t.last.Store(uint32(n))
}

// find is the place of a control among the values that wait, or their number.
func (t *thinner) find(n controlNumber) int {
	for i := range t.waiting {
		if t.late[i].control == n {
			return i
		}
	}
	return t.waiting
}

func (t *thinner) remove(i int) {
	copy(t.late[i:t.waiting], t.late[i+1:t.waiting])
	t.waiting--
}

// let passes a value that waits.
func (t *thinner) let(at time.Duration, i int, pass func(at time.Duration, msg []byte)) {
	c := &t.controls[t.late[i].control]
	t.passing = t.late[i].msg
	t.remove(i)
	c.values.force(at, valueEvery, valueBurst)
	c.said, _ = switchValue(t.passing.bytes())
	c.known = true
	pass(at, t.passing.bytes())
}

// settle passes the values that wait, in their order, of the controls that are
// meant.
func (t *thinner) settle(at time.Duration, pass func(at time.Duration, msg []byte), meant func(controlNumber) bool) {
	for i := 0; i < t.waiting; {
		if meant(t.late[i].control) {
			t.let(at, i, pass)
		} else {
			i++
		}
	}
}

func everyControl(controlNumber) bool { return true }

// advance passes what is due, and tells when to call it next if something waits
// still.
func (t *thinner) advance(at time.Duration, pass func(at time.Duration, msg []byte)) (next time.Duration, waits bool) {
	t.settle(at, pass, func(n controlNumber) bool { return t.due(n) <= at })
	for i := range t.waiting {
		if due := t.due(t.late[i].control); !waits || due < next {
			next, waits = due, true
		}
	}
	return next, waits
}

// due is when a value that waits passes by itself; a lower half does so after the
// upper.
func (t *thinner) due(n controlNumber) time.Duration {
	due := t.controls[n].values.at(valueEvery, valueBurst)
	if t.joins(n) {
		due = max(due, t.controls[n-32].values.at(valueEvery, valueBurst))
	}
	return due
}
