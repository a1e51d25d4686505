package midiio

import "encoding/binary"

// backlogSize is how many bytes wait for a slow receiver at most, each message
// with two for its length: 13,107 messages of three bytes.
const backlogSize = 1 << 16

// backlog keeps messages in order until there is room for them.
type backlog struct {
	buf         []byte // made at the first need
	start, end  int    // what is in use of it
	messages    int
	partlyTaken bool // of the first message the start is sent already
}

const backlogHead = 2 // bytes for the length

// put puts a message at the end and reports whether there was room. The bytes
// taken of it are left out.
func (b *backlog) put(msg []byte, taken int) bool {
	if b.buf == nil {
		b.buf = make([]byte, backlogSize)
	}
	need := backlogHead + len(msg) - taken
	if b.end+need > len(b.buf) {
		b.end = copy(b.buf, b.buf[b.start:b.end])
		b.start = 0
	}
	if b.end+need > len(b.buf) {
		return false
	}
	if b.messages == 0 {
		b.partlyTaken = taken > 0
	}
	binary.NativeEndian.PutUint16(b.buf[b.end:], uint16(need-backlogHead))
	copy(b.buf[b.end+backlogHead:], msg[taken:])
	b.end += need
	b.messages++
	return true
}

// first is the message at the front, or what is left of it; it is good until the
// next call.
func (b *backlog) first() []byte {
	n := int(binary.NativeEndian.Uint16(b.buf[b.start:]))
	return b.buf[b.start+backlogHead:][:n]
}

// take takes some of the first message's bytes off.
func (b *backlog) take(taken int) {
	n := len(b.first())
	if taken < n {
		b.start += taken
		binary.NativeEndian.PutUint16(b.buf[b.start:], uint16(n-taken))
		b.partlyTaken = b.partlyTaken || taken > 0
		return
	}
	b.start += backlogHead + n
	b.messages--
	b.partlyTaken = false
	if b.messages == 0 {
		b.start, b.end = 0, 0
	}
}

// cut empties the backlog into the endings that are owed for it.
func (b *backlog) cut(owed *endings) {
	for b.messages > 0 {
		if !b.partlyTaken { // only a SysEx is taken in parts
			owed.add(b.first())
		}
		b.take(len(b.first()))
	}
}
