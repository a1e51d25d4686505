package linecheck

import (
	"slices"
	"time"
)

// what is the kind of a message.
type what uint8

const (
	note what = iota
	polyPressure
	controller
	program
	pressure
	bend
)

// source is what a message moves.
type source struct {
	in      int
	what    what
	channel uint8 // 0…15
	number  uint8 // of note, controller, program; else 0
}

// heard is one message: the value is a velocity, 0 at a note's end, a controller's or
// a pressure's, 127 of a program, 0…16383 of a bend.
type heard struct {
	source
	at    time.Duration
	value uint16
}

type sample struct {
	at    time.Duration
	value uint16
}

// trail is all that came of one source within a step.
type trail struct {
	source
	samples     []sample
	least, most uint16
	values      int // different ones, as far as they are counted
	seen        [128]bool
}

// Bounds of what a step keeps.
const (
	mostTrails  = 256
	mostSamples = 1 << 14
)

// ear keeps what a step hears, in the order of what came first.
type ear struct {
	trails []*trail
	last   time.Duration // when anything came, clocks and sensing too
	any    bool
}

// firstMode is the first controller that is a channel mode message (MIDI 1.0).
const firstMode = 120

// hear sorts one message; what is no channel message of use is only noted to have come.
func (e *ear) hear(at time.Duration, in int, msg []byte) (heard, bool) {
	e.last, e.any = at, true
	h := heard{source: source{in: in}, at: at}
	if len(msg) < 2 || len(msg) > 3 || msg[0] < 0x80 || msg[0] >= 0xF0 || msg[1] > 127 || msg[len(msg)-1] > 127 {
		return h, false
	}
	h.channel = msg[0] & 0x0F
	three := len(msg) == 3
	switch status := msg[0] & 0xF0; {
	case status == 0x80 && three:
		h.what, h.number = note, msg[1]
	case status == 0x90 && three:
		h.what, h.number, h.value = note, msg[1], uint16(msg[2])
	case status == 0xA0 && three:
		h.what, h.number, h.value = polyPressure, msg[1], uint16(msg[2])
	case status == 0xB0 && three && msg[1] < firstMode:
		h.what, h.number, h.value = controller, msg[1], uint16(msg[2])
	case status == 0xC0 && !three:
		h.what, h.number, h.value = program, msg[1], 127
	case status == 0xD0 && !three:
		h.what, h.value = pressure, uint16(msg[1])
	case status == 0xE0 && three:
		h.what, h.value = bend, uint16(msg[2])<<7|uint16(msg[1])
	default:
		return h, false
	}
	t := e.find(h.source)
	if t == nil {
		if len(e.trails) == mostTrails {
			return h, false
		}
		t = &trail{source: h.source, least: h.value, most: h.value}
		e.trails = append(e.trails, t)
	}
	if len(t.samples) == mostSamples {
		t.samples = slices.Delete(t.samples, 1, mostSamples/2) // where it began stays known
	}
	t.samples = append(t.samples, sample{at, h.value})
	t.least, t.most = min(t.least, h.value), max(t.most, h.value)
	v := h.value
	if h.what == bend {
		v >>= 7
	}
	if !t.seen[v] {
		t.seen[v] = true
		t.values++
	}
	return h, true
}

func (e *ear) find(s source) *trail {
	for _, t := range e.trails {
		if t.source == s {
			return t
		}
	}
	return nil
}

func (t *trail) first() sample { return t.samples[0] }
func (t *trail) last() sample  { return t.samples[len(t.samples)-1] }

// span is between which values a source moved.
type span struct{ least, most uint16 }

// spans are sources that moved while nothing was asked of them, or while keys were
// asked for.
type spans map[source]span

func (s spans) add(t *trail) {
	was, known := s[t.source]
	if !known {
		was = span{t.least, t.most}
	}
	s[t.source] = span{min(was.least, t.least), max(was.most, t.most)}
}

func (s spans) has(x source) bool { _, has := s[x]; return has }

// addControls adds what the keys' input was found to move earlier.
func (s spans) addControls(g Gear, k *Keys) {
	if k == nil {
		return
	}
	for _, c := range k.Controls {
		if in := slices.Index(g.Ins, c.Input); in >= 0 {
			if x, ok := c.source(in); ok {
				s[x] = span{0, 127}
			}
		}
	}
}

// bounceTime is how long after a change of a switch another one counts as bounce: what
// bedd's feet wait (package midiio).
const bounceTime = 40 * time.Millisecond

// change is an accepted change of a switch.
type change struct {
	at time.Duration
	on bool
}

// changes tells when a source went on and off, as bedd's feet will hear it: on is
// 64…127, of a note any velocity above 0; what follows within the bounce time is judged
// by where it settles. bounce is the longest time from a change to one that was not
// accepted.
func (t *trail) changes() (list []change, bounce time.Duration) {
	on := func(s sample) bool { return s.value >= 64 || t.what == note && s.value > 0 }
	settled := func(at time.Duration, raw bool) {
		if n := len(list); n == 0 || list[n-1].on != raw {
			list = append(list, change{at, raw})
		}
	}
	raw := false
	for _, s := range t.samples {
		if n := len(list); n > 0 {
			last := list[n-1]
			if s.at-last.at < bounceTime {
				if on(s) != raw {
					bounce = max(bounce, s.at-last.at)
				}
				raw = on(s)
				continue
			}
			settled(last.at+bounceTime, raw)
		}
		raw = on(s)
		settled(s.at, raw)
	}
	if len(list) > 0 {
		settled(list[len(list)-1].at+bounceTime, raw)
	}
	return list, bounce
}
