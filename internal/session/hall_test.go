package session

import (
	"fmt"
	"runtime/debug"
	"slices"
	"time"

	"bedd/internal/bed"
	"bedd/internal/bed/bedtest"
	"bedd/internal/midiio"
	"bedd/internal/voicing"
)

// hall is where a session plays a night: one port that stays, three that come
// and go (all, the piano alone, the bed alone), and an ear at each and at the
// recorder. Each input's messages go straight on, and wait in a ring for the core.
type hall struct {
	*Session
	e       *night
	ears    [len(parts)]*ear
	tape    *tape
	watcher *bedtest.Watcher
	rings   [3]midiio.Ring // of the inputs
	refused uint64
	playing bool // in this step the player's own message goes through
	hushed  bool // all notes off was carried out in this step
	hushing bool // it is being carried out
	late    bool // the core finds much to do when it wakes
	faults  []string
	found   int // faults that the watcher has told of

	wanted [bed.NumLayers]voicing.Pitches // what should sound, as of the last look
	since  [bed.NumLayers]time.Duration   // when that look saw it change
}

// between makes a port that may do harm to what comes to an ear.
type between func(port int, p Port) Port

func honest(_ int, p Port) Port { return p }

func newHall(e *night, harm between) (*hall, error) {
	h := &hall{e: e, watcher: bedtest.NewWatcher(e.rig.Bed)}
	var ports []Destination
	for i := range h.ears {
		h.ears[i] = newEar(fmt.Sprint("port ", i), &e.rig, parts[i], h.fault)
		ports = append(ports, Destination{harm(i, h.ears[i]), parts[i]})
	}
	h.tape = &tape{ear: newEar("the record", &e.rig, midiio.AllParts, h.fault), hall: h}
	s, err := New(e.rig, e.moments, h.tape, ports...)
	if err != nil {
		return nil, err
	}
	h.Session = s
	s.Watch(func(time.Duration, bed.Event, bed.View) { // a late core may do more in the same step
		if h.hushing {
			h.hushing = false
			h.silence()
		}
	})
	return h, nil
}

func (h *hall) fault(format string, args ...any) {
	if len(h.faults) < 20 {
		h.faults = append(h.faults, fmt.Sprintf(format, args...))
	}
}

// play plays the night, as far as the first fault. It gives how many of its
// happenings came, and a sum of what the bed did. A punctual core takes each
// message as it comes.
func (e *night) play(punctual bool, harm between) (faults []string, came int, sum uint64) {
	h, err := newHall(e, harm)
	if err != nil {
		return []string{err.Error()}, 0, 0
	}
	defer func() {
		if p := recover(); p != nil {
			faults = append(h.faults, fmt.Sprintf("panic: %v\n%s", p, debug.Stack()))
		}
	}()
	h.late = !punctual && e.seed%2 == 0
	h.step(func() { h.SetUp(0) })
	at := time.Duration(0)
	for i, p := range e.happenings {
		at, came = p.at, i+1
		h.happen(p)
		if punctual {
			h.drain()
		}
		if h.look(); len(h.faults) > 0 {
			return h.faults, came, 0
		}
	}
	h.end(at)
	if layers := e.rig.Layers; !e.rig.Share && layers[bed.Warm].Channel == 1 && layers[bed.Air].Channel == 2 {
		faults, forBed := pacedFaults(&h.tape.take, 0)
		for _, fault := range faults {
			h.fault("on a MIDI cable: %s", fault)
		}
		// A core that has slept may have all notes off many times over for one channel,
		// which a note of the player's there has to wait for.
		if punctual && forBed > forBedAtMost {
			h.fault("on a MIDI cable: the player waited %v for the bed", forBed)
		}
	}
	return h.faults, came, h.tape.sum
}

// step does something and leaves what came of it in the ears.
func (h *hall) step(do func()) {
	for _, e := range h.ears {
		e.delta = e.delta[:0]
	}
	h.tape.delta, h.hushed = h.tape.delta[:0], false
	do()
	h.note()
	if !slices.Equal(h.ears[0].delta, h.tape.delta) {
		h.fault("port 0 hears %v, the record has %v", h.ears[0].delta, h.tape.delta)
	}
	h.told()
}

// told takes over what the watcher has found. On a shared channel it can't follow.
func (h *hall) told() {
	if found := h.watcher.Faults(); !h.e.rig.Share && len(found) > h.found {
		h.faults, h.found = append(h.faults, found[h.found:]...), len(found)
	}
}

func (h *hall) happen(p happening) {
	switch p.deed {
	case arrives:
		h.arrive(p)
		return
	case unplugs:
		h.ears[p.who].left, h.ears[p.who].gasps = p.after, p.after%2 == 1
		return
	case loses:
		h.ears[p.who].unplug()
		h.step(func() { h.Lost(p.who) })
		h.nothing(-1)
		return
	}
	h.drain()
	h.due(p.at)
	switch p.deed {
	case asks:
		h.core(func() { h.Ask(p.at, p.order) })
	case takes:
		h.due(p.at + 1)
		h.core(func() { h.Advance(p.at) })
	case flaps:
		e := h.ears[p.who]
		e.unplugged, e.left, e.gasps, e.anew = false, p.after, p.after%2 == 1, true
		h.step(func() { h.Returned(p.at, p.who) })
		h.nothing(p.who)
		e.hushed = e.hushed && !e.hushIsWhole()
		e.unplug()
		e.anew = false
	case returns:
		h.back(p.at, p.who)
	}
}

// arrive is an input's own thread.
func (h *hall) arrive(p happening) {
	in := h.e.inputs[p.who]
	here := [len(h.ears)]bool{}
	for i := range h.ears {
		here[i] = h.hears(i) && in.to.Has(i) && parts[i]&midiio.PianoPart != 0
	}
	h.playing = true
	h.step(func() {
		way := Passage{Role: in.role, To: in.to}
		for i, e := range h.ears {
			if in.past.Has(i) && e.Send(midiio.Player, p.msg.bytes()) {
				way.To &^= 1 << i
				way.Carried |= 1 << i
			}
		}
		h.Thru(p.at, p.msg.bytes(), way)
	})
	h.playing = false
	if in.isFoot(&h.e.rig, p.msg) {
		h.nothing(-1)
	} else {
		for i, e := range h.ears {
			if in.to.Has(i) && parts[i]&midiio.PianoPart != 0 {
				e.played(&h.e.rig, p.msg, here[i])
			} else if len(e.delta) > 0 {
				h.fault("port %d hears %v of input %d", i, e.delta, p.who)
			}
		}
		if h.tape.played(&h.e.rig, p.msg, true) {
			h.refused++
		}
	}
	m := midiio.Message{At: p.at, Len: uint16(p.msg.n), Data: p.msg.data}
	if !h.rings[p.who].Push(m) {
		h.fault("the ring of input %d is full", p.who)
	}
}

// hears reports whether what is sent to a port now arrives.
func (h *hall) hears(i int) bool { return !h.ears[i].unplugged && !h.Gone(i) }

// drain has the core take all that waits, in the order of its arrival.
func (h *hall) drain() {
	for {
		first, found := -1, midiio.Message{}
		for i := range h.rings {
			if m, ok := h.rings[i].Peek(); ok && (first < 0 || m.At < found.At) {
				first, found = i, m
			}
		}
		if first < 0 {
			return
		}
		h.rings[first].Pop()
		h.due(found.At)
		h.core(func() { h.Observe(found.At, found.Bytes(), h.e.inputs[first].role) })
	}
}

// due has the core do what was due before a time, at once if it was late.
func (h *hall) due(before time.Duration) {
	if at, ok := h.Deadline(); h.late && !h.reset && ok && at < before {
		h.core(func() { h.Advance(before - 1) })
	}
	for at, ok := h.Deadline(); ok && at < before; at, ok = h.Deadline() {
		h.tick(at)
	}
}

// tick has the core do what is due now. Where synths are prepared anew after a
// reset that comes in a step of its own, the last at its time.
func (h *hall) tick(at time.Duration) {
	if !h.reset || h.resetAt > at {
		h.core(func() { h.Advance(at) })
		return
	}
	h.reset = false
	for due, ok := h.Deadline(); ok && due <= at; due, ok = h.Deadline() {
		h.core(func() { h.Advance(due) })
	}
	h.reset = true
	h.watcher.Interrupted(at)
	here := [len(h.ears)]bool{}
	for i, e := range h.ears {
		here[i] = h.hears(i)
		e.anew = here[i]
	}
	h.tape.anew = true
	h.step(func() { h.Advance(at) })
	for i, e := range h.ears {
		if e.anew = false; here[i] && !e.unplugged {
			h.begunAnew(e)
		}
	}
	h.begunAnew(h.tape.ear)
}

// begunAnew finds what is left on where everything was to end.
func (h *hall) begunAnew(e *ear) {
	e.forget()
	e.anew, e.hushed, e.maybe = false, false, [16][128]uint8{}
	e.silent("after a return", func(ch byte) bool { return !e.bed[ch] })
}
