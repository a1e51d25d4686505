// Package guard ends what a bedd that died left sounding, and sees that the piano goes on.
//
// bedd writes down, in memory that it shares with a process of its own making,
// each note before it strikes it and after it has ended it. The other process
// waits on a pipe that only bedd holds. When the pipe breaks without a word, bedd
// is dead, whatever killed it: what the board says still sounds is ended, and the
// keys are connected with the synth inside the system. A bedd that starts later
// finds on record which connections to end.
package guard

const (
	channels = 16
	notes    = 128
	pageSize = channels * (notes + len(pedals))
)

// pedals are the controllers that hold notes: damper, sostenuto, hold 2 (MIDI 1.0
// Detailed Specification 4.2).
var pedals = [...]byte{64, 66, 69}

// maxStrikes is how many strikes of one key without an end are counted, as in
// the wires' ledgers.
const maxStrikes = 16

// Board is the memory that bedd writes and its guard reads: a page for each
// output, and a mark for each input.
type Board struct {
	mem     []byte
	outputs int
}

// size is how much memory a board takes, in bytes.
func size(outputs, inputs int) int { return max(outputs*pageSize+inputs, 1) }

// Page gives the page of output i, from 0. It panics when there is none.
func (b *Board) Page(i int) *Page {
	return &Page{b.mem[i*pageSize : (i+1)*pageSize]}
}

// What a mark says has come from an input.
const (
	feetHeard = 1 << iota
	keysHeard
	echoHeard
)

// Heard writes down what came from input i, from 0: something for feet or pedal,
// or a note. It panics when there is no such input. One goroutine at a time may
// call it. Hot path: no allocation.
func (b *Board) Heard(i int, feet bool, msg []byte) {
	mark := &b.mem[b.outputs*pageSize+i]
	switch {
	case feet:
		*mark |= feetHeard
	case len(msg) == 3 && msg[0]&0xF0 == 0x90:
		*mark |= keysHeard
	}
}

// Echo writes down that something gives back what it gets: an input connected
// with it would go round and round.
func (b *Board) Echo() {
	for i := range b.mem[b.outputs*pageSize:] {
		b.mem[b.outputs*pageSize+i] |= echoHeard
	}
}

// Connectable reports whether input i may be connected past bedd. One from which
// feet or a pedal came and not one note is not what the piano is played on.
func (b *Board) Connectable(i int) bool {
	mark := b.mem[b.outputs*pageSize+i]
	return mark&echoHeard == 0 && mark != feetHeard
}

// Page is what one output has been sent and not ended. One goroutine at a time
// may write it.
type Page struct {
	mem []byte
}

// Before writes down what a message is about to begin. Hot path: no allocation.
func (p *Page) Before(msg []byte) {
	if strikes, on, ok := p.strikes(msg); ok && on && *strikes < maxStrikes {
		*strikes++
	}
	if pedal, ok := p.pedal(msg); ok && msg[2] > 0 {
		*pedal = msg[2]
	}
}

// After writes down what a message that was sent has ended. Hot path: no
// allocation.
func (p *Page) After(msg []byte) {
	if strikes, on, ok := p.strikes(msg); ok && !on && *strikes > 0 {
		*strikes--
	}
	if pedal, ok := p.pedal(msg); ok && msg[2] == 0 {
		*pedal = 0
	}
}

// strikes gives the count that a note message changes.
func (p *Page) strikes(msg []byte) (count *byte, on, ok bool) {
	if len(msg) != 3 || msg[0]&0xE0 != 0x80 || msg[1] >= notes {
		return nil, false, false
	}
	return &p.mem[int(msg[0]&0x0F)*notes+int(msg[1])], msg[0]&0xF0 == 0x90 && msg[2] > 0, true
}

// pedal gives the place of a pedal that a control change moves.
func (p *Page) pedal(msg []byte) (at *byte, ok bool) {
	if len(msg) != 3 || msg[0]&0xF0 != 0xB0 {
		return nil, false
	}
	for i, number := range pedals {
		if msg[1] == number {
			return &p.mem[channels*notes+int(msg[0]&0x0F)*len(pedals)+i], true
		}
	}
	return nil, false
}

// Endings gives the messages that end everything the page says still sounds:
// an off for each strike, then the pedals that are down.
func (p *Page) Endings() (msgs [][]byte) {
	for ch := range byte(channels) {
		for note := range byte(notes) {
			for range p.mem[int(ch)*notes+int(note)] {
				msgs = append(msgs, []byte{0x80 | ch, note, 64})
			}
		}
	}
	for ch := range byte(channels) {
		for i, number := range pedals {
			if p.mem[channels*notes+int(ch)*len(pedals)+i] > 0 {
				msgs = append(msgs, []byte{0xB0 | ch, number, 0})
			}
		}
	}
	return msgs
}
