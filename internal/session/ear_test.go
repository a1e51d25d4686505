package session

import (
	"slices"
	"time"

	"bedd/internal/bed"
	"bedd/internal/bed/bedtest"
	"bedd/internal/gathering"
	"bedd/internal/midiio"
)

// ear hears all that comes out of one port, as a synth that is pulled out now and
// then and forgets nothing, and finds what must never come, whoever sent it. On
// the bed's channels that is: a strike of what sounds, an end of what doesn't, a
// level that jumps under a note.
type ear struct {
	name      string
	unplugged bool
	left      int       // messages until it is pulled out, or -1
	gasps     bool      // it hears the message on which it is pulled out, and nobody knows
	anew      bool      // everything is being ended: nothing else may be, whoever plays
	delta     []message // heard since the hall last looked
	on        [16][128]uint8
	maybe     [16][128]uint8 // so many ends more than strikes may come
	level     [16]uint8      // expression
	pedals    [16][128]uint8
	bed       [16]bool // channels on which the bed plays
	shared    bool
	steepest  float64 // the most a level may move at once
	fault     func(format string, args ...any)

	// What the player holds here on a shared channel, by the numbers the player uses.
	keys    [128]uint8
	ringing [128]bool
	damper  bool
	hushed  bool // all notes off was missed
}

func newEar(name string, rig *gathering.Rig, parts midiio.Part, fault func(format string, args ...any)) *ear {
	e := &ear{name: name, left: -1, fault: fault}
	switch {
	case parts&midiio.BedPart == 0:
	case rig.Share:
		e.shared, e.bed[rig.Player.Channel] = true, true
	default:
		e.bed[rig.Layers[bed.Warm].Channel], e.bed[rig.Layers[bed.Air].Channel] = true, true
	}
	c := rig.Bed
	// As bedtest.Watcher has it, and an outlet's own rise besides.
	rate := bedtest.Steepest(c) + 1/min(c.BringIn, c.Fade, c.Leave).Seconds() + 1/c.BringIn.Seconds()
	e.steepest = 127*rate*0.04 + 2
	return e
}

// Send makes an ear a port.
func (e *ear) Send(_ midiio.Source, msg []byte) bool {
	gasp := e.left == 0 && e.gasps
	if gasp {
		e.hear(msg)
	}
	if e.unplugged = e.unplugged || e.left == 0; e.unplugged {
		on := len(msg) == 3 && msg[0]&0xF0 == 0x90 && msg[2] > 0
		off := len(msg) == 3 && !on && msg[0]&0xE0 == 0x80
		if off && gasp || on && !gasp {
			e.maybe[msg[0]&15][msg[1]]++
		}
		e.left = -1
		return false
	}
	if e.left > 0 {
		e.left--
	}
	e.hear(msg)
	return true
}

func (e *ear) hear(msg []byte) {
	e.delta = append(e.delta, short(msg...))
	if msg[0] >= 0xF0 {
		return
	}
	ch := msg[0] & 15
	switch kind := msg[0] & 0xF0; {
	case kind == 0x90 && msg[2] > 0:
		n := &e.on[ch][msg[1]]
		if e.bed[ch] && *n > 0 {
			e.fault("%s: note %d of channel %d is struck while it sounds (I1)", e.name, msg[1], ch+1)
		}
		*n = min(*n+1, 16) // as many as a ledger counts
	case kind == 0x90 || kind == 0x80:
		n := &e.on[ch][msg[1]]
		switch {
		case *n > 0:
			*n--
		case e.maybe[ch][msg[1]] > 0:
			e.maybe[ch][msg[1]]--
		case e.bed[ch] || e.anew:
			e.fault("%s: note %d of channel %d ends but does not sound (I3)", e.name, msg[1], ch+1)
		}
	case kind == 0xB0 && msg[1] == 11:
		if d := int(msg[2]) - int(e.level[ch]); e.bed[ch] && !e.shared && float64(max(d, -d)) > e.steepest && e.sounds(ch) {
			e.fault("%s: the level of channel %d jumps from %d to %d (I7)", e.name, ch+1, e.level[ch], msg[2])
		}
		e.level[ch] = msg[2]
	case kind == 0xB0:
		if e.anew && msg[1] >= 120 && !e.hushed {
			e.fault("%s: on a return comes % X, which nobody asked for", e.name, msg)
		}
		e.pedals[ch][msg[1]] = msg[2]
	}
}

// sounds reports whether a note of a channel is on.
func (e *ear) sounds(ch byte) bool { return e.on[ch] != [128]uint8{} }

// silent finds what sounds where nothing may.
func (e *ear) silent(when string, channels func(ch byte) bool) {
	for ch := range byte(16) {
		if channels(ch) && e.sounds(ch) {
			e.fault("%s: %s notes sound on channel %d: %v (I3)", e.name, when, ch+1, e.on[ch])
		}
	}
}

// hushIsWhole reports whether all that all notes off sends besides the ends was
// heard since the hall last looked.
func (e *ear) hushIsWhole() bool {
	for ch := range byte(16) {
		for _, number := range []byte{64, 123, 120} {
			if !slices.Contains(e.delta, short(0xB0|ch, number, 0)) {
				return false
			}
		}
	}
	return true
}

// unplug pulls the port out.
func (e *ear) unplug() { e.unplugged, e.left = true, -1 }

// forget takes it that the player holds nothing here any more.
func (e *ear) forget() { e.keys, e.ringing = [128]uint8{}, [128]bool{} }

// belongs reports whether the rig gives a message to a foot or the pedal.
func belongs(rig *gathering.Rig, m message) bool {
	kinds := map[midiio.ControlKind][]byte{midiio.Controller: {0xB0}, midiio.Note: {0x80, 0x90, 0xA0}, midiio.Program: {0xC0}, midiio.Pressure: {0xD0}}
	sends := func(c midiio.Control) bool {
		for _, status := range kinds[c.Kind] {
			if m.data[0]&0xF0 == status && (c.Channel < 0 || m.data[0]&15 == byte(c.Channel)) && (c.Kind == midiio.Pressure || m.data[1] == c.Number) {
				return true
			}
		}
		return false
	}
	for _, f := range rig.Feet {
		if sends(f.Switch.Control) {
			return true
		}
	}
	low := rig.Pedal.Control
	low.Number += 32
	return rig.Pedal.On && (sends(rig.Pedal.Control) || rig.Pedal.Fine && sends(low))
}

// played finds what is wrong with what was heard when the player sent a message:
// all that passes comes at once, unchanged, and nothing else does (I4, I5). It
// reports whether the message was to be refused. Here says that the port was there.
func (e *ear) played(rig *gathering.Rig, m message, here bool) (refused bool) {
	if e.unplugged && here { // it went in the middle of it
		e.delta, here = e.delta[:0], false
	}
	got := e.delta
	want := func(list ...message) {
		if !slices.Equal(got, list) {
			e.fault("%s: the player sends %v and %v comes, want %v (I4)", e.name, m, got, list)
		}
	}
	ch := m.data[0] & 15
	if aside, ok := rig.Player.Aside[ch]; ok && m.data[0] < 0xF0 {
		ch = aside
		m.data[0] = m.data[0]&0xF0 | ch
	}
	switch {
	case m.data[0] >= 0xF0:
		want(only(here, m)...)
		return false
	case !e.bed[ch]:
		out, inside := moved(m, rig.Out)
		want(only(here && inside, out)...)
		return false
	case !e.shared:
		want()
		return true
	}
	return e.playedOnShared(m, rig.Out, here, want)
}

func (e *ear) playedOnShared(m message, shift int, here bool, want func(...message)) (refused bool) {
	out, inside := moved(m, shift)
	number, value := m.data[1], m.data[2]
	refusals := map[byte]bool{0: true, 32: true, 66: true, 69: true, 120: true, 121: true, 123: true, 124: true, 125: true, 126: true, 127: true}
	switch kind := m.data[0] & 0xF0; {
	case kind == 0xC0, kind == 0xB0 && refusals[number]:
		want()
		return true
	case kind == 0xB0 && number == 64:
		e.damper = value >= 64
		for _, o := range e.delta { // only what the damper held may end
			n := int(o.data[1]) - shift
			if o.data[0]&0xF0 != 0x80 || e.damper || !e.ringing[n] || e.keys[n] > 0 {
				e.fault("%s: %v comes of the damper's %v", e.name, o, m)
			}
		}
		if !e.damper {
			e.ringing = [128]bool{}
		}
	case !here:
		want()
	case kind == 0x90 && value > 0:
		e.keys[number] = min(e.keys[number]+1, 16)
		off := message{3, [6]byte{0x80 | out.data[0]&15, out.data[1], 64}}
		switch {
		case !inside:
			want()
		case len(e.delta) > 1: // [ear.hear] knows whether it sounded
			want(off, out)
		default:
			want(out)
		}
	case kind == 0x90 || kind == 0x80:
		if e.keys[number] == 0 {
			want()
			break
		}
		e.keys[number]--
		e.ringing[number] = e.damper
		if e.keys[number] > 0 || e.ringing[number] || !inside {
			want()
		} else if len(e.delta) > 0 { // else the bed holds it, which the hall checks
			want(out)
		}
	default:
		want(only(inside, out)...)
	}
	return false
}

func only(there bool, m message) []message {
	if there {
		return []message{m}
	}
	return nil
}

// moved gives a message some semitones higher if it is a note, and whether it
// still is one.
func moved(m message, semitones int) (message, bool) {
	if kind := m.data[0] & 0xF0; kind != 0x80 && kind != 0x90 && kind != 0xA0 {
		return m, true
	}
	n := int(m.data[1]) + semitones
	m.data[1] = byte(n)
	return m, n >= 0 && n < 128
}

// tape is an ear for the recorder. It hands the bed's part on to a watcher, where
// the bed has channels of its own, and sums up what the bed did when.
type tape struct {
	*ear
	hall *hall
	sum  uint64
	take Take          // what went out, and when at the earliest
	now  time.Duration // of the take
	also Take          // the same with the times as they were given
}

func (p *tape) Send(at time.Duration, from Origin, msg []byte) {
	p.hear(msg)
	p.now = max(p.now, at)
	p.take.Send(p.now, from, msg)
	p.also.Send(at, from, msg)
	if from == Thru && !p.hall.playing && !p.shared { // there an end stands with its strike, whoever lets go last
		p.fault("the record has the core's % X for the player's", msg)
	}
	if p.shared || from == SetUp || from == Thru {
		return
	}
	for _, v := range append([]byte{byte(from)}, msg...) {
		p.sum = (p.sum ^ uint64(v)) * 1099511628211 // FNV-1a
	}
	p.sum = (p.sum ^ uint64(at)) * 1099511628211
	if msg[0]&0xF0 != 0xB0 || !p.hall.Session.record.rising { // then the level is not the bed's alone
		watching{p.hall.watcher}.Send(at, from, msg)
	}
}

func (p *tape) Mark(a bed.Action) {
	p.also.Mark(a)
	if a.Kind == bed.SilenceAll || a.Kind == bed.Did && a.Command == bed.AllNotesOff {
		p.hall.hushed, p.hall.hushing = true, true
	}
	p.hall.watcher.See(a)
}

func (m message) isLevel() bool { return m.data[0]&0xF0 == 0xB0 && m.data[1] == 11 }
