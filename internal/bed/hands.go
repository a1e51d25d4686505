package bed

import (
	"time"

	"bedd/internal/voicing"
)

const (
	// recent is how long ago a note that is over may have been struck to be
	// taken with the chord. By ear: a foot comes down a little after the hands.
	recent = 300 * time.Millisecond
	// passing is the length below which a note that is over was only on its way.
	// Common practice, no source.
	passing = 100 * time.Millisecond
)

// hands is what the player's hands and damper pedal do.
type hands struct {
	down   voicing.Pitches // keys held
	damped voicing.Pitches // keys let go while the damper was down
	damper bool
	struck [128]time.Duration
	left   [128]time.Duration
	over   voicing.Pitches // struck before and let go
}

func (h *hands) strike(at time.Duration, note uint8) {
	h.down.Add(note)
	h.damped.Remove(note)
	h.over.Remove(note)
	h.struck[note] = at
}

func (h *hands) leave(at time.Duration, note uint8) {
	if !h.down.Has(note) {
		return
	}
	h.down.Remove(note)
	h.over.Add(note)
	h.left[note] = at
	if h.damper {
		h.damped.Add(note)
	}
}

func (h *hands) pedal(on bool) {
	if h.damper = on; !on {
		h.damped = voicing.Pitches{}
	}
}

// sounding gives the keys held by fingers or damper.
func (h *hands) sounding() voicing.Pitches {
	return voicing.Pitches{h.down[0] | h.damped[0], h.down[1] | h.damped[1]}
}

// taken gives the notes that a capture takes: those held; those that the damper
// holds, and those struck within the last 0.3 s, unless they were passing.
func (h *hands) taken(at time.Duration) voicing.Pitches {
	taken := h.down
	var room [128]uint8
	for _, n := range h.over.Append(room[:0]) {
		long := h.left[n]-h.struck[n] >= passing
		if long && (h.damped.Has(n) || at-h.struck[n] <= recent) {
			taken.Add(n)
		}
	}
	return taken
}

// below gives the notes of p lower than split.
func below(p voicing.Pitches, split uint8) voicing.Pitches {
	if split < 64 {
		return voicing.Pitches{p[0] & (1<<split - 1), 0}
	}
	return voicing.Pitches{p[0], p[1] & (1<<(split-64) - 1)}
}
