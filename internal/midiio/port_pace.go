package midiio

import "time"

// keepTo has the output keep to a line's rate, in bits a second; 0 is none.
func (o *Output) keepTo(baud int) {
	if baud > 0 {
		o.pace = NewPacer(baud, o.send)
	}
}

func (o *Output) sendPaced(from Source, msg []byte) {
	at := o.clock()
	_, waited := o.pace.Deadline()
	o.pace.Send(at, from, msg)
	if _, waits := o.pace.Deadline(); waits && !waited {
		notify(o.late)
	}
}

// catchUpPace sends what is due for the line, and tells how long to wait for the rest.
func (o *Output) catchUpPace() (wait time.Duration, waits bool) {
	if o.pace == nil {
		return 0, false
	}
	at := o.clock()
	o.pace.Advance(at)
	due, waits := o.pace.Deadline()
	return due - at, waits
}

// reached takes note of bytes that have reached the device by themselves.
func (o *Output) reached(n int) {
	if o.pace == nil {
		return
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	o.pace.Reached(o.clock(), n)
}

// Load is how busy the line was so far, if the output keeps to a rate.
func (o *Output) Load() (l Load, paced bool) {
	if o.pace == nil {
		return Load{}, false
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.pace.Load(), true
}
