package linecheck

import (
	"math/rand/v2"
	"slices"
	"time"
)

// made is a made-up stage: keyboard, foot board, pedal, as they are, in the words of
// who built them. What a foot does to a switch becomes bytes here, without a thought
// for whoever listens.
type made struct {
	r        *rand.Rand
	keys     *keyboard
	left     *box
	right    *box
	pedal    *rocker
	wire     []arrival
	slow     bool // the foot rests on the switch for a second
	together bool // the keys are played all the time
}

type arrival struct {
	at   time.Duration
	in   int
	data []byte
}

const ms = time.Millisecond

func (m *made) put(at time.Duration, in int, data ...byte) {
	m.wire = append(m.wire, arrival{at, in, data})
}

// take gives what arrives before a time, in order.
func (m *made) take(until time.Duration) (list []arrival) {
	slices.SortStableFunc(m.wire, func(a, b arrival) int { return int(a.at - b.at) })
	n := 0
	for n < len(m.wire) && m.wire[n].at < until {
		n++
	}
	list, m.wire = m.wire[:n:n], m.wire[n:]
	return list
}

// keyboard is a keyboard on an input and channel.
type keyboard struct {
	in         int
	channel    byte
	transpose  int
	aftertouch bool
	damper     bool
	wheel      bool
	zone       int // another channel that each key sends on too, or −1
}

func (m *made) key(at time.Duration, written int, lasts time.Duration) {
	k := m.keys
	n := byte(written + k.transpose)
	channels := []byte{k.channel}
	if k.zone >= 0 {
		channels = append(channels, byte(k.zone))
	}
	for _, ch := range channels {
		m.put(at, k.in, 0x90|ch, n, byte(30+m.r.IntN(90)))
		m.put(at+lasts, k.in, 0x80|ch, n, 64)
	}
	if k.aftertouch {
		for t := 50 * ms; t < lasts; t += 20 * ms {
			m.put(at+t, k.in, 0xD0|k.channel, byte(m.r.IntN(128)))
		}
		m.put(at+lasts-ms, k.in, 0xD0|k.channel, 0)
	}
}

// play is two hands for some time.
func (m *made) play(from, to time.Duration) {
	k := m.keys
	for t := from; t < to; t += time.Duration(80+m.r.IntN(400)) * ms {
		m.key(t, 33+m.r.IntN(60), time.Duration(50+m.r.IntN(600))*ms)
	}
	if k.damper {
		for t := from; t < to; t += time.Duration(600+m.r.IntN(1500)) * ms {
			m.put(t, k.in, 0xB0|k.channel, 64, 127)
			m.put(t+time.Duration(200+m.r.IntN(300))*ms, k.in, 0xB0|k.channel, 64, 0)
		}
	}
	if k.wheel {
		for v := range 60 {
			m.put(from+time.Duration(v)*15*ms, k.in, 0xB0|k.channel, 1, byte(v))
			m.put(from+time.Duration(120-v)*15*ms, k.in, 0xB0|k.channel, 1, byte(v))
		}
	}
}

// box is a foot switch in a box.
type box struct {
	in       int
	channel  byte
	sends    string // controller, note, program, pressure
	number   byte
	latching bool
	inverted bool
	bounce   time.Duration
	is       bool // where a latching one stands
	velocity byte
	also     string // another message that it sends at each press
}

// contact sends one state of the switch.
func (m *made) contact(at time.Duration, b *box, on bool) {
	value := byte(0)
	if on {
		value = 127
	}
	switch b.sends {
	case "controller":
		m.put(at, b.in, 0xB0|b.channel, b.number, value)
	case "note":
		if on {
			m.put(at, b.in, 0x90|b.channel, b.number, b.velocity)
		} else if m.r.IntN(2) == 0 {
			m.put(at, b.in, 0x80|b.channel, b.number, 0)
		} else {
			m.put(at, b.in, 0x90|b.channel, b.number, 0)
		}
	case "program":
		if on {
			m.put(at, b.in, 0xC0|b.channel, b.number)
		}
	case "pressure":
		m.put(at, b.in, 0xD0|b.channel, value)
	}
}

// closes moves the contact, which may bounce.
func (m *made) closes(at time.Duration, b *box, on bool) {
	m.contact(at, b, on)
	if b.bounce == 0 || b.sends == "program" {
		return
	}
	for t := at + 2*ms; t < at+b.bounce; t += time.Duration(2+m.r.IntN(6)) * ms {
		m.contact(t, b, !on)
		m.contact(t+ms, b, on)
	}
}

// tread presses a switch for some time.
func (m *made) tread(at time.Duration, b *box, lasts time.Duration) {
	if b.also == "program" {
		m.put(at+ms, b.in, 0xC0|b.channel, b.number)
	}
	if b.latching {
		b.is = !b.is
		m.closes(at, b, b.is)
		return
	}
	m.closes(at, b, !b.inverted)
	m.closes(at+lasts, b, b.inverted)
}

// rocker is a pedal.
type rocker struct {
	in        int
	channel   byte
	number    byte
	fine      bool
	backwards bool
	low, high float64 // its way, 0…1
	chatter   float64 // part of the whole way, to either side
	at        float64 // where the foot has it, 0 heel … 1 toe
}

// reads sends where the pedal is.
func (m *made) reads(at time.Duration, p *rocker) {
	x := p.low + (p.high-p.low)*p.at
	if p.chatter > 0 {
		x += p.chatter * (2*m.r.Float64() - 1)
	}
	x = min(max(x, 0), 1)
	if p.backwards {
		x = 1 - x
	}
	if !p.fine {
		m.put(at, p.in, 0xB0|p.channel, p.number, byte(x*127+0.5))
		return
	}
	v := int(x*16383 + 0.5)
	m.put(at, p.in, 0xB0|p.channel, p.number, byte(v>>7))
	m.put(at, p.in, 0xB0|p.channel, p.number+32, byte(v&127))
}

// idle has the pedal chatter where it is.
func (m *made) idle(from, to time.Duration) {
	if p := m.pedal; p != nil && p.chatter > 0 {
		for t := from; t < to; t += time.Duration(30+m.r.IntN(120)) * ms {
			m.reads(t, p)
		}
	}
}

// rocks moves the pedal to a place in some time.
func (m *made) rocks(from, lasts time.Duration, to float64) {
	p := m.pedal
	began := p.at
	for t := time.Duration(0); t <= lasts; t += 10 * ms {
		p.at = began + (to-began)*float64(t)/float64(lasts)
		m.reads(from+t, p)
	}
}
