package session

import (
	"slices"
	"time"

	"bedd/internal/bed"
	"bedd/internal/midiio"
	"bedd/internal/voicing"
)

// core is a step in which no player's message goes through: only the bed's channels
// hear of it, and each port alike.
func (h *hall) core(do func()) {
	rises := [len(h.ears)]bool{}
	for i := range h.ears {
		rises[i] = h.outlets[i].rising
	}
	h.step(do)
	if h.hushed {
		return
	}
	for i, e := range h.ears {
		if !h.hears(i) {
			continue
		}
		want := h.tape.delta
		levels := !rises[i] && !h.outlets[i].rising
		if parts[i]&midiio.BedPart == 0 {
			want = nil
		}
		if got := e.delta; !e.shared && !sameNotes(got, want, levels) {
			h.fault("port %d hears %v of the core, the record has %v", i, got, want)
		}
		for _, m := range e.delta {
			if !e.bed[m.data[0]&15] || m.data[0] >= 0xF0 {
				h.fault("port %d hears the core's %v", i, m)
			}
		}
	}
}

// sameNotes compares two lists, levels too if they are to be.
func sameNotes(a, b []message, levels bool) bool {
	if levels {
		return slices.Equal(a, b)
	}
	i := 0
	for _, m := range b {
		if m.isLevel() {
			continue
		}
		for i < len(a) && a[i].isLevel() {
			i++
		}
		if i == len(a) || a[i] != m {
			return false
		}
		i++
	}
	for ; i < len(a); i++ {
		if !a[i].isLevel() {
			return false
		}
	}
	return true
}

// nothing finds whatever was heard, but by one port.
func (h *hall) nothing(but int) {
	for i, e := range h.ears {
		if i != but && len(e.delta) > 0 {
			h.fault("port %d hears %v", i, e.delta)
		}
	}
	if len(h.tape.delta) > 0 {
		h.fault("the record has %v", h.tape.delta)
	}
}

// back brings a port back: there everything is ended, then the bed begins anew,
// and nobody else hears of it.
func (h *hall) back(at time.Duration, port int) {
	e := h.ears[port]
	e.unplugged, e.left, e.anew = false, -1, true
	h.step(func() { h.Returned(at, port) })
	h.nothing(port)
	if h.Gone(port) {
		h.fault("port %d is gone when it returns", port)
	}
	if e.hushed && !e.hushIsWhole() {
		h.fault("%s: all notes off was missed, and of it comes only %v on the return", e.name, e.delta)
	}
	h.begunAnew(e)
}

// silence finds what sounds after all notes off.
func (h *hall) silence() {
	for i, e := range append(h.ears[:], h.tape.ear) {
		e.forget()
		e.damper = false
		if e != h.tape.ear && !h.hears(i) {
			e.hushed = true
			continue
		}
		e.silent("after all notes off", func(byte) bool { return true })
		if !e.hushIsWhole() {
			h.fault("%s: of all notes off comes only %v", e.name, e.delta)
		}
	}
}

// note notes when what the bed wants to sound changes. A core that wakes late may
// strike a note and want it no longer, in one step: it ends an overlap later.
func (h *hall) note() {
	v := h.View()
	upper := v.Voicing.Pitches()
	want := [bed.NumLayers]voicing.Pitches{bed.Warm: upper, bed.Air: upper}
	if v.Voicing.Bass != voicing.NoBass {
		want[bed.Warm].Add(v.Voicing.Bass)
	}
	if h.rig.Bed.Balance.NoAir {
		want[bed.Air] = voicing.Pitches{}
	}
	if v.Phase == bed.Silent {
		want = [bed.NumLayers]voicing.Pitches{}
	}
	for l := range want {
		struck := !h.playing && slices.ContainsFunc(h.tape.delta, func(m message) bool {
			return m.data[0] == 0x90|h.rig.Layers[l].Channel && m.data[2] > 0
		})
		if want[l] != h.wanted[l] || struck {
			h.wanted[l], h.since[l] = want[l], h.now
		}
	}
}

// look compares what sounds with what the bed and the player want to sound.
func (h *hall) look() {
	v := h.View()
	for i, e := range h.ears {
		if parts[i]&midiio.BedPart != 0 && h.hears(i) {
			h.compare(e)
			for l, layer := range h.rig.Layers {
				if o := h.outlets[i]; !e.shared && !o.rising && v.Phase != bed.Silent && int(e.level[layer.Channel]) != v.Level[l] {
					h.fault("%s: the %v level is %d, the bed's %d", e.name, bed.Layer(l), e.level[layer.Channel], v.Level[l])
				}
			}
		}
	}
	h.compare(h.tape.ear)
}

func (h *hall) compare(e *ear) {
	for l, layer := range h.rig.Layers {
		ch := layer.Channel
		if e.shared && bed.Layer(l) == bed.Air {
			return
		}
		if e.shared {
			ch = h.rig.Player.Channel
		}
		settled := h.now-h.since[l] > h.e.rig.Bed.Overlap
		for n := range 128 {
			out := n + h.rig.Out
			if out < 0 || out > 127 {
				continue
			}
			wanted := h.wanted[l].Has(uint8(n)) || e.shared && (e.keys[n] > 0 || e.ringing[n])
			if sounds := e.on[ch][out] > 0; sounds != wanted && (wanted || settled) {
				h.fault("%s: note %d of channel %d sounds: %v, want %v (I2, I3, I5)", e.name, out, ch+1, sounds, wanted)
			}
		}
	}
}

// end brings all ports back and ends the night as [Session.End] does.
func (h *hall) end(at time.Duration) {
	h.drain()
	h.due(at)
	for port := 1; port < len(h.ears); port++ {
		h.back(at, port)
	}
	h.watcher.InputEnded(h.now)
	h.core(func() { h.Leave(at, false) })
	for due, ok := h.Deadline(); ok; due, ok = h.Deadline() {
		h.tick(due)
	}
	h.step(func() { h.End(h.now) })
	h.watcher.Finish()
	h.told()
	for _, e := range append(h.ears[:], h.tape.ear) {
		e.silent("at the end", func(byte) bool { return true })
		for ch := range e.pedals {
			if p := e.pedals[ch]; p[64]|p[66]|p[69] != 0 {
				h.fault("%s: at the end the pedals of channel %d are down", e.name, ch+1)
			}
		}
	}
	if n := h.Sounding(); n != 0 {
		h.fault("the ledgers count %d at the end", n)
	}
	if h.Refused() != h.refused {
		h.fault("%d messages refused, want %d (I5)", h.Refused(), h.refused)
	}
	if cap(h.actions) > 256 || cap(h.gestures) > 64 {
		h.fault("room for actions and gestures has grown to %d and %d (I9)", cap(h.actions), cap(h.gestures))
	}
}
