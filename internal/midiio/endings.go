package midiio

// endControls are the control changes that end notes when they are sent with 0,
// or with whatever value for the last two.
var endControls = [...]uint8{damper, sostenuto, hold2, allSoundOff, allNotesOff}

// endings is a set of messages that end notes.
type endings struct {
	notes    [16][2]uint64
	controls [16]uint8 // bits in the order of endControls
}

// add puts a message in if it is one of those that end notes.
func (e *endings) add(msg []byte) {
	if msg[0] >= sysexStart {
		return
	}
	ch := msg[0] & 0x0F
	if _, off := noteEdge(msg); off {
		e.notes[ch][msg[1]/64] |= 1 << (msg[1] % 64)
		return
	}
	if msg[0]&0xF0 != controller {
		return
	}
	for i, number := range endControls {
		switch {
		case number != msg[1]:
		case msg[2] == 0 || number >= allSoundOff:
			e.controls[ch] |= 1 << i
		default: // a pedal that is down again
			e.controls[ch] &^= 1 << i
		}
	}
}

func (e *endings) join(more *endings) {
	for ch := range e.notes {
		e.notes[ch][0] |= more.notes[ch][0]
		e.notes[ch][1] |= more.notes[ch][1]
		e.controls[ch] |= more.controls[ch]
	}
}

// send sends the set, notes first, and takes out what was sent. It stops where
// hand does, and reports whether it came to the end.
func (e *endings) send(hand func(msg []byte) bool) bool {
	for ch := range e.notes {
		for key := range 128 {
			bit := uint64(1) << (key % 64)
			if e.notes[ch][key/64]&bit == 0 {
				continue
			}
			if !hand([]byte{noteOff | byte(ch), byte(key), releaseVelocity}) {
				return false
			}
			e.notes[ch][key/64] &^= bit
		}
		for i, number := range endControls {
			if e.controls[ch]>>i&1 == 0 {
				continue
			}
			if !hand([]byte{controller | byte(ch), number, 0}) {
				return false
			}
			e.controls[ch] &^= 1 << i
		}
	}
	return true
}
