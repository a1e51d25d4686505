package bed

import (
	"time"

	"bedd/internal/dynamics"
	"bedd/internal/voicing"
)

// turn changes the phase.
func (b *Bed) turn(at time.Duration, c cause, out []Action) []Action {
	was := b.phase
	b.phase = next[b.phase][c]
	switch {
	case b.phase == was:
	case was == Silent: // entering sound
		b.envelope = 0
		b.intensity.Start(at)
		b.rung, b.rungAt = b.density.Rung(b.intensity.Value()), at
		out = b.sendLevels(at, out)
		out = b.aim(at, out)
	case b.phase == Silent:
		out = b.endAll(at, out)
		if b.stay {
			out = b.setStay(at, false, out)
		}
		b.armed, b.armedBefore = NoCommand, NoCommand
		if b.landing && b.landed() && c != causeOff {
			out = b.afterLanding(at, out)
		}
	}
	return out
}

// wake makes the levels move again if they have anywhere to go.
func (b *Bed) wake(at time.Duration) {
	if b.ticking || b.phase == Silent || b.restful(at) {
		return
	}
	b.ticking, b.tick, b.rampAt = true, at+breath, at
}

// restful reports whether no ramp is under way and intensity and density are
// where they want to be.
func (b *Bed) restful(at time.Duration) bool {
	return b.phase == Holding && b.intensity.Settled(at) &&
		(b.stay || b.density.Next(b.rung, b.intensity.Value()) == b.rung)
}

func (b *Bed) envelopeTarget() float64 {
	if b.phase == Rising || b.phase == Holding {
		return 1
	}
	return 0
}

func (b *Bed) envelopeRate() float64 {
	switch b.phase {
	case Fading:
		return 1 / b.c.Fade.Seconds()
	case Leaving:
		return 1 / b.c.Leave.Seconds()
	}
	return 1 / b.c.BringIn.Seconds()
}

// moveLevels is one breath: envelope, intensity, levels, density.
func (b *Bed) moveLevels(at time.Duration, out []Action) []Action {
	b.ticking = false
	target := b.envelopeTarget()
	b.envelope = dynamics.Slew(b.envelope, target, b.envelopeRate(), at-b.rampAt)
	b.rampAt = at
	b.intensity.Advance(at)
	out = b.sendLevels(at, out)
	if b.envelope == target {
		out = b.turn(at, causeArrived, out)
	}
	if b.phase == Rising || b.phase == Holding {
		out = b.moveDensity(at, out)
	}
	return out
}

func (b *Bed) sendLevels(at time.Duration, out []Action) []Action {
	var levels [NumLayers]float64
	levels[Warm], levels[Air] = b.c.Balance.Levels(b.intensity.Value())
	for l, level := range levels {
		if v := dynamics.Controller(b.envelope * level); int(v) != b.level[l] {
			b.level[l] = int(v)
			out = append(out, Action{Kind: SetLevel, At: at, Layer: Layer(l), Value: v})
		}
	}
	return out
}

func (b *Bed) moveDensity(at time.Duration, out []Action) []Action {
	if b.stay || at-b.rungAt < b.c.Stagger {
		return out
	}
	rung := b.density.Next(b.rung, b.intensity.Value())
	if rung == b.rung {
		return out
	}
	b.rung, b.rungAt = rung, at
	return b.aim(at, out)
}

// target gives the notes that a layer should sound.
func (b *Bed) target(l Layer) voicing.Pitches {
	v := b.ladder.Rung(b.rung)
	p := v.Pitches()
	if l == Warm && v.Bass != voicing.NoBass {
		p.Add(v.Bass)
	}
	return p
}

// aim makes every layer sound its target: what is new is struck first, what is
// in both gets no message, what is left over ends an overlap later.
// Hot path: no allocation; O(voices).
func (b *Bed) aim(at time.Duration, out []Action) []Action {
	var room [128]uint8
	for l := range NumLayers {
		want := b.target(l)
		fresh := want.Without(b.sounding[l])
		b.ending[l] = b.ending[l].Without(want)
		old := b.sounding[l].Without(want).Without(b.ending[l])
		for _, n := range fresh.Append(room[:0]) {
			b.sounding[l].Add(n)
			out = append(out, Action{Kind: StrikeNote, At: at, Layer: l, Note: n, Velocity: b.c.Velocity})
		}
		for _, n := range old.Append(room[:0]) {
			b.ending[l].Add(n)
			b.endAt[l][n] = at + b.c.Overlap
		}
	}
	return out
}

// endNotes releases the notes whose overlap is over.
func (b *Bed) endNotes(at time.Duration, out []Action) []Action {
	var room [128]uint8
	for l := range NumLayers {
		for _, n := range b.ending[l].Append(room[:0]) {
			if b.endAt[l][n] <= at {
				b.ending[l].Remove(n)
				b.sounding[l].Remove(n)
				out = append(out, Action{Kind: ReleaseNote, At: at, Layer: l, Note: n})
			}
		}
	}
	return out
}

// endAll releases every note.
func (b *Bed) endAll(at time.Duration, out []Action) []Action {
	var room [128]uint8
	for l := range NumLayers {
		for _, n := range b.sounding[l].Append(room[:0]) {
			out = append(out, Action{Kind: ReleaseNote, At: at, Layer: l, Note: n})
		}
		b.sounding[l], b.ending[l] = voicing.Pitches{}, voicing.Pitches{}
	}
	b.ticking, b.envelope = false, 0
	return out
}
