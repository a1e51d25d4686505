package midiio

import "fmt"

// trackWalk reads the events of one track and hands them on as head (status,
// or FF and the type) and the rest; both are only good during the call.
type trackWalk struct {
	data   []byte // the whole file, so that offsets are the file's
	body   span
	number int // of the track, from 1, for errors
	emit   func(tick int64, head, rest []byte) error

	pos     int
	tick    int64
	skipped int

	sysex     []byte // a SysEx that has not ended, with its F0; room is reused
	open      bool   // there is one
	sysexTick int64  // of its last packet
	head      [2]byte
}

// walk reads up to the end of the track or of its bytes.
func (w *trackWalk) walk() error {
	w.pos = w.body.start
	running := byte(0)
	for w.pos < w.body.end {
		if err := w.delta(); err != nil {
			return err
		}
		at := w.pos
		status, err := w.byte("a status")
		if err != nil {
			return err
		}
		if w.open && status != metaEvent && status != sysexEnd {
			if err := w.close(at); err != nil {
				return err
			}
		}
		switch {
		case status < 0x80:
			if running == 0 {
				return w.errorf(at, "%02X where a status (80…EF, F0, F7 or FF) is expected", status)
			}
			w.pos--
			err = w.channel(at, running)
		case status < sysexStart:
			running = status
			err = w.channel(at, status)
		case status == metaEvent:
			running = 0
			var done bool
			if done, err = w.meta(at); done {
				return err
			}
		case status == sysexStart || status == sysexEnd:
			running = 0
			err = w.system(at, status)
		default:
			err = w.errorf(at, "%02X where a status (80…EF, F0, F7 or FF) is expected", status)
		}
		if err != nil {
			return err
		}
	}
	return w.close(w.pos)
}

func (w *trackWalk) errorf(at int, format string, args ...any) error {
	return fmt.Errorf("byte %d: track %d: %w", at, w.number, fmt.Errorf(format, args...))
}

// byte takes the next byte; what tells the error's reader what it would be.
func (w *trackWalk) byte(what string) (byte, error) {
	if w.pos >= w.body.end {
		return 0, w.errorf(w.pos, "ends where %s is expected", what)
	}
	w.pos++
	return w.data[w.pos-1], nil
}

// quantity takes a variable length quantity, 0…0FFFFFFF in at most four bytes.
func (w *trackWalk) quantity(what string) (int, error) {
	start, n := w.pos, 0
	for range 4 {
		b, err := w.byte(what)
		if err != nil {
			return 0, err
		}
		n = n<<7 | int(b&0x7F)
		if b < 0x80 {
			return n, nil
		}
	}
	return 0, w.errorf(start, "%s goes on after four bytes, the most it may have", what)
}

func (w *trackWalk) delta() error {
	at := w.pos
	n, err := w.quantity("a delta time")
	if err != nil {
		return err
	}
	if w.tick += int64(n); w.tick > MaxTick {
		return w.errorf(at, "goes past tick %d, the last that is read", int64(MaxTick))
	}
	return nil
}

// payload takes a length and as many bytes.
func (w *trackWalk) payload(what string) ([]byte, error) {
	at := w.pos
	n, err := w.quantity("a length")
	if err != nil {
		return nil, err
	}
	if left := w.body.end - w.pos; n > left {
		return nil, w.errorf(at, "%s says it is %d bytes long, but %d are left", what, n, left)
	}
	w.pos += n
	return w.data[w.pos-n : w.pos], nil
}

func (w *trackWalk) channel(at int, status byte) error {
	start := w.pos
	for range dataBytes(status) {
		b, err := w.byte("a data byte")
		if err != nil {
			return err
		}
		if b >= 0x80 {
			return w.errorf(w.pos-1, "%02X where a data byte (00…7F) is expected", b)
		}
	}
	w.head[0] = status
	return w.hand(at, w.tick, w.head[:1], w.data[start:w.pos])
}

func (w *trackWalk) meta(at int) (done bool, err error) {
	kind, err := w.byte("the type of a meta event")
	if err != nil {
		return true, err
	}
	data, err := w.payload("a meta event")
	if err != nil {
		return true, err
	}
	if kind == endOfTrack {
		return true, w.close(at)
	}
	w.head = [2]byte{metaEvent, kind}
	err = w.hand(at, w.tick, w.head[:], data)
	return err != nil, err
}

// system takes a packet of a SysEx, or an escape.
func (w *trackWalk) system(at int, status byte) error {
	escape := status == sysexEnd && !w.open
	what := "a SysEx"
	if escape {
		what = "an escape"
	}
	data, err := w.payload(what)
	if err != nil {
		return err
	}
	if escape {
		// FF would read as a meta event; a reset has no place in a file.
		if !whole(data) || data[0] == metaEvent {
			w.skipped++
			return nil
		}
		return w.hand(at, w.tick, data[:1], data[1:])
	}
	if !w.open {
		if w.sysex == nil {
			w.sysex = make([]byte, 0, len(w.data)) // all of a file's fit
		}
		w.sysex, w.open = append(w.sysex[:0], sysexStart), true
	}
	w.sysex, w.sysexTick = append(w.sysex, data...), w.tick
	if len(data) > 0 && data[len(data)-1] == sysexEnd {
		return w.close(at)
	}
	return nil
}

// close hands on the SysEx that is open, if there is one.
func (w *trackWalk) close(at int) error {
	if !w.open {
		return nil
	}
	w.open = false
	if w.sysex[len(w.sysex)-1] != sysexEnd {
		w.sysex = append(w.sysex, sysexEnd)
	}
	if !whole(w.sysex) {
		w.skipped++
		return nil
	}
	return w.hand(at, w.sysexTick, w.sysex[:1], w.sysex[1:])
}

func (w *trackWalk) hand(at int, tick int64, head, rest []byte) error {
	if err := w.emit(tick, head, rest); err != nil {
		return w.errorf(at, "%w", err)
	}
	return nil
}
