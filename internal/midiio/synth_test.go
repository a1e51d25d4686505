package midiio

import (
	"fmt"
	"strings"
	"time"
)

// synth is a receiver that counts note-ons without their off, and keeps all it
// hears. While it is dead it hears nothing and says so.
type synth struct {
	dead     bool
	heard    []heard
	strikes  [16][128]int
	bySource [2][16][128]int
	damper   [16]byte
	excess   int // offs of notes that did not sound
}

type heard struct {
	at   time.Duration
	from Source
	msg  string
}

func (h heard) String() string { return fmt.Sprintf("%v %v %X", h.at, h.from, h.msg) }

func (s *synth) Write(at time.Duration, from Source, msg []byte) bool {
	if s.dead {
		return false
	}
	s.heard = append(s.heard, heard{at, from, string(msg)})
	if msg[0] >= 0xF0 {
		return true
	}
	ch := msg[0] & 15
	if from == Ledger { // in the player's place
		from = Player
	}
	switch kind := msg[0] & 0xF0; {
	case kind == 0x90 && msg[2] > 0:
		s.strikes[ch][msg[1]]++
		s.bySource[from][ch][msg[1]]++
	case kind == 0x90 || kind == 0x80:
		s.bySource[from][ch][msg[1]]--
		if s.strikes[ch][msg[1]]--; s.strikes[ch][msg[1]] < 0 {
			s.strikes[ch][msg[1]] = 0
			s.bySource[from][ch][msg[1]]++
			s.excess++
		}
	case kind == 0xB0 && msg[1] == 64:
		s.damper[ch] = msg[2]
	}
	return true
}

func (s *synth) sounding() int {
	n := 0
	for ch := range s.strikes {
		for key := range s.strikes[ch] {
			n += s.strikes[ch][key]
		}
	}
	return n
}

// take is what was heard since it was last asked.
func (s *synth) take() string {
	var list []string
	for _, h := range s.heard {
		list = append(list, fmt.Sprintf("%v %X", h.from, h.msg))
	}
	s.heard = nil
	return strings.Join(list, ", ")
}
