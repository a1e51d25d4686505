package midiio

import "time"

const (
	// bedBehind is how far the bed's messages may put a line behind: two messages of
	// three bytes. The player's next note waits no longer for them.
	bedBehind = 2 * time.Millisecond

	// valuesBehind is how far the player's own values may put a line behind before
	// they wait for each other: three messages, so that one more still passes at once
	// beside the bed's. The player's next note waits for them and at most one of each
	// control on its channel.
	valuesBehind = 3 * time.Millisecond

	// bedPatience is how long after its turn a message of the bed's waits for a line
	// that is never idle. Then one goes out each patientEvery.
	bedPatience  = 200 * time.Millisecond
	patientEvery = 10 * time.Millisecond

	// The kernel keeps deviceKeeps bytes for a device and drops what is more without a
	// word (Linux, PAGE_SIZE in sound/core/rawmidi.c; from memory). So much of it is
	// used at most, while playing and at the end.
	deviceKeeps   = 4096
	deviceRoom    = 3072
	deviceRoomEnd = 4000
)

// Pacer decides what goes onto a serial line next, and when, so that no note of the
// player's waits more than 3 ms for what the bed sends.
//
// The player's messages go out at once, the bed's and the ledger's while the line is
// less than 2 ms behind. Of those that wait new notes come first, then ends, then
// levels; what prepares the synth, and what ends all notes, keeps its place. A level
// takes the place of an older one that waits, and the latest arrives. A message of
// the player's goes after what waits for the same key, or ends all notes on its
// channel.
//
// When the line is more than 3 ms behind, the player's values (pitch bend, pressure,
// controllers) wait for each other in the same manner, but not those that switch
// over between 0…63 and 64…127; a note goes after those of its channel, SysEx and
// reset after all.
//
// It is a pure state machine: the caller passes the time in, and times don't go back.
type Pacer struct {
	emit   func(msg []byte)
	line   serial
	alone  serial                 // the line if it had the player's messages only
	own    bool                   // what goes out is one of those
	bed    paceQueue              // and the ledger's
	values paceQueue              // the player's
	turn   bool                   // of the player's values
	said   [16 * numControls]int8 // the value that went out last, or -1
	aged   time.Duration          // when a message went out because it had waited too long
	room   int                    // bytes that the line may be behind
	load   Load
	out    shortMessage
}

// Load is how busy a line was. The zero value is a line that was idle.
type Load struct {
	Baud      int           // bits a second
	Bytes     int           // the most that waited
	At        time.Duration // when that was
	Wait      time.Duration // the longest that a message of the player's waited, but for values that waited for each other
	ForBed    time.Duration // the most of such a wait that was for messages of bedd's on other channels
	Overtaken uint64        // messages that a later one has made void before they went out
	Sent      uint64        // bytes in all
}

// NewPacer makes a pacer for a line of so many bits a second. emit sends a message,
// good only during the call; whoever sends tells of it by Sent.
func NewPacer(baud int, emit func(msg []byte)) *Pacer {
	p := &Pacer{emit: emit, line: newSerial(baud), alone: newSerial(baud), room: deviceRoom, load: Load{Baud: baud}}
	p.forget()
	return p
}

// forget takes it that the receiver has heard nothing.
func (p *Pacer) forget() {
	for i := range p.said {
		p.said[i] = -1
	}
}

// Send takes one whole message. Hot path: no allocation; O(maxPaced) for each
// message that goes out.
func (p *Pacer) Send(at time.Duration, from Source, msg []byte) {
	switch {
	case from == Player:
		p.sendPlayers(at, msg)
	case msg[0] >= realTime:
		p.give(msg)
	case msg[0] >= sysexStart: // whole, and in order
		p.Flush()
		p.give(msg)
	default:
		p.Advance(at)
		turn := max(at, p.line.free) + p.line.takes(p.bed.bytes+p.values.bytes)
		p.sendBeds(newPaced(turn, msg, from == Ledger), at)
	}
	if n := p.line.bytes(at) + p.bed.bytes + p.values.bytes; n > p.load.Bytes {
		p.load.Bytes, p.load.At = n, at
	}
}

func (p *Pacer) sendBeds(m paced, at time.Duration) {
	if p.bed.n == 0 && p.fits(at, &m) {
		p.out = m.msg
		p.give(p.out.bytes())
		return
	}
	if p.bed.n == maxPaced {
		p.giveNext()
	}
	p.load.Overtaken += uint64(p.bed.put(m))
}

func (p *Pacer) sendPlayers(at time.Duration, msg []byte) {
	if msg[0] < sysexStart {
		m := newPaced(at, msg, false)
		if m.kind == level && !p.switches(&m) {
			late := p.line.behind(at)+p.line.takes(len(msg)) > valuesBehind
			if p.values.n == maxPaced {
				p.giveOwn(&p.values, 0)
			}
			if p.values.n > 0 || late {
				p.load.Overtaken += uint64(p.values.put(m))
				return
			}
		}
		p.makeWay(&m)
	} else if isForAll(msg) {
		p.flushValues()
	}
	p.meet(at)
	p.own = true
	p.give(msg)
	p.own = false
}

// meet takes note of what a message of the player's waits for.
func (p *Pacer) meet(at time.Duration) {
	wait := p.line.behind(at)
	p.load.Wait = max(p.load.Wait, wait)
	p.load.ForBed = max(p.load.ForBed, wait-p.alone.behind(at))
}

// Reached takes note of bytes of the player's that have reached the line by
// themselves. What the device doesn't keep is lost.
func (p *Pacer) Reached(at time.Duration, n int) {
	p.load.Sent += uint64(n)
	p.meet(at)
	p.alone.send(at, n)
	p.line.send(at, n)
	p.line.free = min(p.line.free, at+p.line.takes(deviceKeeps))
	p.alone.free = min(p.alone.free, p.line.free)
}

// switches reports whether a value switches its control over.
func (p *Pacer) switches(m *paced) bool {
	value, isSwitch := switchValue(m.msg.bytes())
	said := p.said[m.value]
	return isSwitch && (said < 0 || (value >= switchedOn) != (said >= switchedOn))
}

// falls reports whether a level that waits is lower than the one before it, or may be.
func (p *Pacer) falls(m *paced) bool {
	value, isSwitch := switchValue(m.msg.bytes())
	return !isSwitch || int8(value) < p.said[m.value] || p.said[m.value] < 0
}

// makeWay gives out what must not come after a message of the player's.
func (p *Pacer) makeWay(m *paced) {
	for i := 0; i < p.values.n; {
		if p.values.list[i].channel() == m.channel() {
			p.giveOwn(&p.values, i)
		} else {
			i++
		}
	}
	last := -1 // of those in order on the channel
	for i := range p.bed.n {
		if b := &p.bed.list[i]; b.kind == inOrder && b.channel() == m.channel() {
			last = i
		}
	}
	for i := 0; i < p.bed.n; {
		if b := &p.bed.list[i]; b.channel() == m.channel() && i <= last || b.sameKey(m) {
			p.giveOwn(&p.bed, i)
			last--
		} else {
			i++
		}
	}
}

// Advance gives out what is due, from the bed and of the player's values by turns.
// Hot path: no allocation.
func (p *Pacer) Advance(at time.Duration) {
	for {
		values := p.values.n > 0 && p.fits(at, &p.values.list[0])
		switch {
		case values && p.turn:
			p.turn = false
			p.giveOwn(&p.values, 0)
			continue
		case p.bed.n > 0:
			due, aged := p.bedDue()
			if due > at && aged > at {
				break
			}
			if due > at {
				p.aged = at
			}
			p.turn = true
			p.giveNext()
			continue
		}
		if !values {
			return
		}
		p.giveOwn(&p.values, 0)
	}
}

// Deadline tells when Advance has something to do next.
func (p *Pacer) Deadline() (at time.Duration, waits bool) {
	if p.bed.n > 0 {
		due, aged := p.bedDue()
		at, waits = min(due, aged), true
	}
	if p.values.n > 0 {
		if due := p.dueFor(&p.values.list[0]); !waits || due < at {
			at, waits = due, true
		}
	}
	return at, waits
}

// bedDue is when the bed's next message has room, and when it goes out at the latest.
func (p *Pacer) bedDue() (due, aged time.Duration) {
	next := &p.bed.list[p.bed.next(p.falls)]
	return p.dueFor(next), max(p.bed.list[0].turn+bedPatience, p.aged+patientEvery)
}

// dueFor is when the line has room for a message of the bed's.
func (p *Pacer) dueFor(m *paced) time.Duration {
	takes := p.line.takes(int(m.msg.size))
	return p.line.free + takes - max(bedBehind, takes)
}

func (p *Pacer) fits(at time.Duration, m *paced) bool { return p.dueFor(m) <= at }

func (p *Pacer) giveNext() { p.giveFrom(&p.bed, p.bed.next(p.falls)) }

// giveOwn gives out what the player has to wait for in any case: an own value, or
// what ends notes on the channel that is played on.
func (p *Pacer) giveOwn(q *paceQueue, i int) {
	p.own = true
	p.giveFrom(q, i)
	p.own = false
}

func (p *Pacer) giveFrom(q *paceQueue, i int) {
	p.out = q.take(i).msg
	p.give(p.out.bytes())
}

func (p *Pacer) give(msg []byte) {
	if n, ok := valueOf(msg); ok {
		if value, isSwitch := switchValue(msg); isSwitch {
			p.said[n] = int8(value)
		}
	}
	p.emit(msg)
}

// Sent takes note of bytes that have gone onto the line.
func (p *Pacer) Sent(at time.Duration, n int) {
	p.load.Sent += uint64(n)
	p.line.send(at, n)
	if p.own {
		p.alone.send(at, n)
	}
}

// HasRoom reports whether the device keeps so many bytes more.
func (p *Pacer) HasRoom(at time.Duration, n int) bool {
	waiting := p.line.bytes(at)
	return waiting == 0 || waiting+n <= p.room
}

// Flush gives out all that waits.
func (p *Pacer) Flush() {
	p.flushValues()
	for p.bed.n > 0 {
		p.giveNext()
	}
}

func (p *Pacer) flushValues() {
	for p.values.n > 0 {
		p.giveOwn(&p.values, 0)
	}
}

// Finish is Flush at the end of a run.
func (p *Pacer) Finish() {
	p.room = deviceRoomEnd
	p.Flush()
}

// Drop empties the pacer, for a line that is new, and hands over what has waited.
func (p *Pacer) Drop(hand func(msg []byte)) {
	for _, q := range []*paceQueue{&p.values, &p.bed} {
		for i := range q.n {
			hand(q.list[i].msg.bytes())
		}
		q.n, q.bytes = 0, 0
	}
	p.line.free, p.alone.free = 0, 0
	p.forget()
}

// Load tells how busy the line was so far.
func (p *Pacer) Load() Load { return p.load }
