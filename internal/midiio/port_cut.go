package midiio

// MaxSysEx is the longest SysEx that is passed on, in bytes with F0 and F7;
// longer ones are counted and left out. Nothing says whether a receiver has
// room, and what doesn't fit vanishes: this is half of what waits for one that
// doesn't read at once, be it the kernel's raw MIDI buffer (4,096 bytes) or
// another program's pool (200 events of 28 bytes; both from the Linux kernel's
// sources). The other half is for the notes behind it, which it holds up by
// 0.66 s on a serial cable.
const MaxSysEx = 2048

// cutter cuts the bytes of one input into whole messages. It takes pieces of any
// length and running status, lets a SysEx go that another message cuts short,
// and passes real-time bytes inside a SysEx before it.
//
// Clock (F8), the undefined F9 and FD, active sensing (FE) and time code (F1)
// are left out: they mean nothing to a bed, would be late behind its notes, and
// come up to 300 times a second. A receiver that heard active sensing once would
// take its end for a lost cable.
type cutter struct {
	emit    func(msg []byte) // gets each message, good only during the call
	running byte             // status that data bytes without one belong to
	need    int              // length of the message in buf, 0 in a SysEx
	n       int              // bytes of it that are there
	long    uint64           // SysEx left out for their length
	broken  uint64           // messages that ended too early
	buf     [MaxSysEx]byte
	one     [1]byte
}

// leftOut reports whether messages with this status are not passed on.
func leftOut(status byte) bool {
	switch status {
	case 0xF1, 0xF8, 0xF9, 0xFD, activeSensing:
		return true
	}
	return false
}

// write takes the next bytes. Hot path: no allocation; O(bytes).
func (c *cutter) write(bytes []byte) {
	if c.n == 0 && len(bytes) <= MaxSysEx && whole(bytes) { // as drivers nearly always give them
		switch status := bytes[0]; {
		case leftOut(status):
		default:
			c.emit(bytes)
		}
		c.note(bytes[0])
		return
	}
	for _, b := range bytes {
		switch {
		case b >= 0xF8:
			if !leftOut(b) && dataBytes(b) == 0 {
				c.one[0] = b
				c.emit(c.one[:])
			}
		case b >= 0x80:
			c.status(b)
		default:
			c.data(b)
		}
	}
}

// note keeps the running status: system messages end it, real-time ones don't.
func (c *cutter) note(status byte) {
	switch {
	case status < sysexStart:
		c.running = status
	case status < 0xF8:
		c.running = 0
	}
}

func (c *cutter) status(b byte) {
	inSysEx := c.n > 0 && c.buf[0] == sysexStart
	if b == sysexEnd && inSysEx {
		if c.n < MaxSysEx {
			c.buf[c.n] = b
			c.emit(c.buf[:c.n+1])
		} else {
			c.long++
		}
		c.n = 0
		return
	}
	if c.n > 0 {
		c.broken++
	}
	c.n = 0
	c.note(b)
	switch need := dataBytes(b); {
	case b == sysexStart:
		c.buf[0], c.n, c.need = b, 1, 0
	case need == 0:
		c.one[0] = b
		c.emit(c.one[:])
	case need > 0:
		c.buf[0], c.n, c.need = b, 1, 1+need
	}
}

func (c *cutter) data(b byte) {
	if c.n == 0 {
		if c.running == 0 {
			return
		}
		c.buf[0], c.n, c.need = c.running, 1, 1+dataBytes(c.running)
	}
	if c.n < MaxSysEx {
		c.buf[c.n] = b
		c.n++
	}
	if c.n == c.need {
		c.n = 0
		if !leftOut(c.buf[0]) {
			c.emit(c.buf[:c.need])
		}
	}
}
