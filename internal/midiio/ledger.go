package midiio

import "time"

// maxStrikes is how many strikes of one key that were not let go the ledger
// counts; more pass but are forgotten. It bounds what all notes off has to send
// after a drum pad that never sends an off. Common practice, no source: two
// keyboards and a repeated strike make three.
const maxStrikes = 16

// pitch is who sounds one note number of one channel.
type pitch struct {
	keys     uint8  // the player's keys that are down, at most maxStrikes
	bed      uint8  // the bed's strikes that are not let go, at most maxStrikes
	velocity uint8  // of the bed's last strike
	ringing  bool   // let go by the player, held by the player's damper
	strikes  uint8  // note-ons sent without their off
	by       Source // who struck last, and so whose message the off is
}

// owned reports whether anybody still wants the pitch.
func (p *pitch) owned() bool { return p.keys > 0 || p.bed > 0 || p.ringing }

// part is one channel of the ledger.
type part struct {
	pitches [128]pitch
	pedals  [len(holdPedals)]pedal
}

// pedal is where one of the holdPedals stands, 0…127.
type pedal struct {
	said  uint8 // by the player
	heard uint8 // by the synth, or may have been
}

// damped reports whether the player's damper is down.
func (p *part) damped() bool { return p.pedals[0].said >= switchedOn }

// count adds one, up to maxStrikes, and reports whether there was room.
func count(n *uint8) bool {
	if *n == maxStrikes {
		return false
	}
	*n++
	return true
}

// uncount takes one and reports whether there was one.
func uncount(n *uint8) bool {
	if *n == 0 {
		return false
	}
	*n--
	return true
}

// Finish ends everything that sounds, whoever owns it, and lifts the damper,
// sostenuto and hold 2 where the player left them down. The ledger is then empty,
// unless the port is lost: then it stays owed. O(2048) and a message for each
// note-on without an off.
func (w *Wire) Finish(at time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.finish(at)
}

// Close is Finish, and from then on nothing is struck any more, whoever is late.
func (w *Wire) Close(at time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.closed = true
	w.finish(at)
}

func (w *Wire) finish(at time.Duration) {
	w.forgetBed()
	if !w.settle(at) {
		return
	}
	for _, ch := range w.order {
		for i := range holdPedals {
			w.parts[ch].pedals[i].said = 0
		}
	}
	w.movePedals(at)
}

// movePedals tells the synth where the player has the pedals that are down or
// that it heard down.
func (w *Wire) movePedals(at time.Duration) {
	for _, ch := range w.order {
		if w.use[ch] != Open {
			continue
		}
		for i, number := range holdPedals {
			p := &w.parts[ch].pedals[i]
			if p.said > 0 || p.heard > 0 {
				w.buf = [3]byte{controller | ch, number, p.said}
				w.movePedal(at, Ledger, p, w.buf[:])
			}
		}
	}
}

// AllNotesOff sends the offs of everything that sounds, then CC 64 = 0, CC 123
// and CC 120 on every channel, the bed's channels first. While the port is lost
// it waits until it returns. The player's damper counts as up until it moves.
// O(2048), 48 messages, and one for each note-on without an off.
func (w *Wire) AllNotesOff(at time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.silence = true // until it has been sent
	w.forgetBed()
	for ch := range w.parts {
		w.parts[ch].pedals[0].said = 0
	}
	if w.settle(at) {
		w.silenceAll(at)
	}
}

// silenceAll sends the control changes of all notes off and reports whether it
// could.
func (w *Wire) silenceAll(at time.Duration) bool {
	for _, ch := range w.order {
		if !w.control(at, Ledger, ch, damper, 0) {
			return false
		}
		w.parts[ch].pedals[0].heard = 0
		if !w.control(at, Ledger, ch, allNotesOff, 0) || !w.control(at, Ledger, ch, allSoundOff, 0) {
			return false
		}
	}
	w.silence = false
	return true
}

// Lost says that the port is gone: nothing more is sent.
func (w *Wire) Lost() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.lost = true
}

// Returned says that a lost port is back. It sends the offs owed, all notes off
// if it was asked for meanwhile, and on open channels the damper, sostenuto and
// hold 2 where the player holds them or the synth last heard them held. Of the
// rest that the player sent while the port was lost nothing is made up for. What
// the bed holds waits for Resume, so that the synth can be prepared first. It
// does nothing when the port was not lost.
func (w *Wire) Returned(at time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if !w.lost {
		return
	}
	w.lost = false
	if w.settle(at) && (!w.silence || w.silenceAll(at)) {
		w.movePedals(at)
	}
}

// Resume strikes what the bed holds and the synth does not sound.
func (w *Wire) Resume(at time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closed {
		return
	}
	for _, ch := range w.order {
		for key := range w.parts[ch].pitches {
			n := &w.parts[ch].pitches[key]
			if n.bed == 0 || n.strikes > 0 || w.lost {
				continue
			}
			w.buf = [3]byte{noteOn | ch, uint8(key), n.velocity}
			w.strike(at, Bed, n, w.buf[:])
		}
	}
}

// Gone reports whether the port is lost.
func (w *Wire) Gone() bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.lost
}

// Sounding is how many note-ons still need their off, owed ones included.
func (w *Wire) Sounding() int {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.sounding
}

// Refused is how many messages of the player's were refused so far.
func (w *Wire) Refused() uint64 {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.refused
}

// movePedal sends where a pedal stands. Down counts even when it doesn't go out: it
// may have.
func (w *Wire) movePedal(at time.Duration, from Source, p *pedal, msg []byte) {
	lost := w.lost
	if w.send(at, from, msg) || !lost && msg[2] > p.heard {
		p.heard = msg[2]
	}
}

// forgetBed takes it that the bed holds nothing any more.
func (w *Wire) forgetBed() {
	for ch := range w.parts {
		for key := range w.parts[ch].pitches {
			w.parts[ch].pitches[key].bed = 0
		}
	}
}

// settle sends the offs of all that sounds and empties the ledger, but for what
// the bed holds; it reports whether it could.
func (w *Wire) settle(at time.Duration) bool {
	for _, ch := range w.order {
		for key := range w.parts[ch].pitches {
			n := &w.parts[ch].pitches[key]
			if n.by == Player {
				n.by = Ledger // the player did not let go
			}
			for n.strikes > 0 {
				if !w.end(at, ch, uint8(key), n) {
					return false
				}
			}
			*n = pitch{bed: n.bed, velocity: n.velocity}
		}
	}
	return !w.lost
}

// strike sends a note-on. It counts even when it doesn't go out: it may have.
func (w *Wire) strike(at time.Duration, from Source, n *pitch, msg []byte) {
	w.struck(from, n)
	w.send(at, from, msg)
}

// struck counts a strike.
func (w *Wire) struck(from Source, n *pitch) {
	if count(&n.strikes) {
		w.sounding++
	}
	n.by = from
}

// released counts an off.
func (w *Wire) released(n *pitch) {
	if uncount(&n.strikes) {
		w.sounding--
	}
}

// release sends msg, an off, and takes a strike out of the ledger if it went.
func (w *Wire) release(at time.Duration, n *pitch, msg []byte) bool {
	if !w.send(at, n.by, msg) {
		return false
	}
	w.released(n)
	return true
}

// end sends an off of the wire's own making.
func (w *Wire) end(at time.Duration, ch, key uint8, n *pitch) bool {
	w.buf = [3]byte{noteOff | ch, key, releaseVelocity}
	return w.release(at, n, w.buf[:])
}

// control sends a control change of the wire's own making.
func (w *Wire) control(at time.Duration, from Source, ch, number, value uint8) bool {
	w.buf = [3]byte{controller | ch, number, value}
	return w.send(at, from, w.buf[:])
}

// send hands a message to the sink, if the port is there.
func (w *Wire) send(at time.Duration, from Source, msg []byte) bool {
	if !w.lost && !w.sink.Write(at, from, msg) {
		w.lost = true
	}
	return !w.lost
}
