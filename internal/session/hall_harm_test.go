package session

import (
	"slices"
	"testing"

	"bedd/internal/midiio"
)

// harmed is a port that does harm to one message in ten.
type harmed struct {
	Port
	to   func(msg []byte) bool
	harm func(send func(msg []byte) bool, msg []byte) bool
	n    int
}

func (p *harmed) Send(from midiio.Source, msg []byte) bool {
	send := func(msg []byte) bool { return p.Port.Send(from, msg) }
	if p.to(msg) {
		if p.n++; p.n%10 == 0 {
			return p.harm(send, msg)
		}
	}
	return send(msg)
}

// The hall hears whatever is wrong with what comes to a port, whichever it is.
func TestHallHearsEveryHarm(t *testing.T) {
	kind := func(kinds ...byte) func(msg []byte) bool {
		return func(msg []byte) bool { return slices.Contains(kinds, msg[0]&0xF0) }
	}
	drop := func(func([]byte) bool, []byte) bool { return true }
	twice := func(send func([]byte) bool, msg []byte) bool {
		send(msg)
		return send(msg)
	}
	for name, c := range map[string]harmed{
		"an end is dropped":        {to: kind(0x80), harm: drop},
		"a strike is dropped":      {to: kind(0x90), harm: drop},
		"a strike comes twice":     {to: kind(0x90), harm: twice},
		"an end comes twice":       {to: kind(0x80), harm: twice},
		"a control is dropped":     {to: kind(0xB0), harm: drop},
		"a bend is dropped":        {to: kind(0xE0), harm: drop},
		"a system message is lost": {to: kind(0xF0), harm: drop},
		"a value is changed":       {to: kind(0x90, 0xB0), harm: func(send func([]byte) bool, msg []byte) bool { return send([]byte{msg[0], msg[1], msg[2] ^ 1}) }},
		"it goes to another key":   {to: kind(0x80, 0x90), harm: func(send func([]byte) bool, msg []byte) bool { return send([]byte{msg[0], msg[1] ^ 1, msg[2]}) }},
		"it goes to another":       {to: kind(0xA0, 0xC0, 0xD0), harm: func(send func([]byte) bool, msg []byte) bool { return send(append([]byte{msg[0] ^ 8}, msg[1:]...)) }},
		"all notes off comes along": {to: kind(0x90), harm: func(send func([]byte) bool, msg []byte) bool {
			return send(msg) && send([]byte{0xB0 | msg[0]&15, 123, 0})
		}},
	} {
		for port := range 4 {
			bedAlone := port == 3 && slices.Contains([]string{"a bend is dropped", "a system message is lost", "it goes to another"}, name)
			if bedAlone { // nothing of the kind goes there
				continue
			}
			found := false
			for seed := uint64(1); seed <= 8 && !found; seed++ {
				faults, _, _ := newNight(t, seed, aNight).play(false, func(i int, p Port) Port {
					if i != port {
						return p
					}
					return &harmed{Port: p, to: c.to, harm: c.harm}
				})
				found = len(faults) > 0
			}
			if !found {
				t.Errorf("port %d: %s, and nobody hears it", port, name)
			}
		}
	}
}
