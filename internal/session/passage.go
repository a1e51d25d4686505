package session

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/midiio"
)

// Passage is the way of a message of the player's past the bed.
type Passage struct {
	Role    midiio.Role    // of the input that it comes from
	To      midiio.Outputs // it is to be sent to these
	Carried midiio.Outputs // it has reached these by itself
}

// Thru sends the player's message straight on to those of the given ports that
// carry the piano, unless it belongs to a foot or the pedal. It may be called
// from an input's own goroutine, before the same message is handed to Observe.
// Hot path: no allocation; O(ports).
func (s *Session) Thru(at time.Duration, msg []byte, p Passage) {
	feet := s.IsFoot(msg, p.Role)
	for i, o := range s.outlets {
		switch {
		case o == s.record:
			if !feet {
				s.played(at, msg)
			}
		case p.Carried.Has(i):
			o.wire.Carried(msg)
		case !feet && p.To.Has(i) && o.carries(midiio.PianoPart):
			o.wire.Player(at, msg)
		}
	}
}

// played puts a message of the player's into the record's ledger.
func (s *Session) played(at time.Duration, msg []byte) {
	s.ledger.Lock()
	defer s.ledger.Unlock()
	s.journal.Played(at, msg, s.steps)
	s.record.wire.Player(at, msg)
}

// IsFoot reports whether a message from an input of some role belongs to feet and
// pedal, and not to the piano. Hot path: O(1).
func (s *Session) IsFoot(msg []byte, role midiio.Role) bool {
	return role&midiio.FeetRole != 0 && s.mapped.has(msg) || role&midiio.KeysRole == 0
}

// Filter is what bedd does to the messages on their way from an input to an
// output, in words; where the system carries them nothing of it happens.
type Filter struct {
	Changes []string // without it other notes would sound, or go on sounding
	LeftOut []string // without it the synth would hear more than it should
}

// FilterOf tells what a rig has bedd do between an input of some role and an
// output that carries some parts.
func FilterOf(rig *gathering.Rig, role midiio.Role, parts midiio.Part) (f Filter) {
	if rig.Out != 0 {
		f.Changes = append(f.Changes, fmt.Sprintf("transposes by %+d (transpose: out)", rig.Out))
	}
	if len(rig.Player.Aside) > 0 {
		f.Changes = append(f.Changes, "moves channels (aside:)")
	}
	if rig.Share && parts&midiio.BedPart != 0 {
		f.Changes = append(f.Changes, "keeps two players of one sound apart (share:)")
	}
	if role&midiio.FeetRole != 0 {
		var controls []midiio.Control
		for _, foot := range rig.Feet {
			controls = append(controls, foot.Switch.Control)
		}
		if rig.Pedal.On {
			controls = append(controls, rig.Pedal.Control)
		}
		if len(controls) > 0 {
			f.LeftOut = append(f.LeftOut, "feet and pedal ("+inWords(controls)+")")
		}
	}
	if parts&midiio.BedPart != 0 && !rig.Share {
		channels := []uint8{rig.Layers[0].Channel, rig.Layers[1].Channel}
		slices.Sort(channels)
		f.LeftOut = append(f.LeftOut, fmt.Sprintf("the bed's channels %d and %d", channels[0]+1, channels[1]+1))
	}
	return f
}

// inWords lists controls, with each channel once for those that follow each other.
func inWords(controls []midiio.Control) string {
	text, last := "", ""
	for _, c := range controls {
		what, where, _ := strings.Cut(c.String(), " on ")
		switch {
		case last == "":
		case where == last:
			text += ", "
		default:
			text += " on " + last + ", "
		}
		text, last = text+what, where
	}
	return text + " on " + last
}

// Nothing reports whether nothing is done.
func (f Filter) Nothing() bool { return len(f.Changes)+len(f.LeftOut) == 0 }
