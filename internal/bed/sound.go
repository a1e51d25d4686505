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
	if b.phase == Fading || b.phase == Leaving {
		b.walking, b.goes = false, false
	}
	switch {
	case b.phase == was:
	case was == Silent: // entering sound
		b.envelope = 0
		b.intensity.Start(at)
		b.rung, b.rungAt = b.density.Rung(b.fullness()), at
		out = b.sendLevels(at, out)
		out = b.aim(at, out)
	case b.phase == Silent:
		out = b.endAll(at, out)
		b.intensity.Rest(at)
		if b.stay {
			out = b.setStay(at, false, out)
		}
		b.armed, b.armedBefore = NoCommand, NoCommand
		b.walking, b.goes, b.thins, b.thinned, b.handed = false, false, false, false, false
		switch {
		case b.lead == intoKey:
			b.restOn(Home, 0)
		case b.arrived && c != causeOff:
			out = b.afterLanding(at, out)
		}
	}
	return out
}

// wake makes the levels move again if they have anywhere to go, or when they will.
func (b *Bed) wake(at time.Duration) {
	switch {
	case b.phase == Silent || b.ticking && !b.resting:
	case !b.restful(at):
		b.ticking, b.resting, b.tick, b.rampAt = true, false, at+moveEvery, at
	default:
		b.tick, b.resting = b.intensity.Next(at)
		b.ticking, b.tick = b.resting, max(b.tick, at+moveEvery)
	}
}

// restful reports whether no ramp is under way and intensity, brightness and
// density are where they want to be.
func (b *Bed) restful(at time.Duration) bool {
	return b.still() || b.phase == Holding && b.intensity.Settled(at) && b.bright == b.brightness() &&
		b.density.Next(b.rung, b.fullness()) == b.rung
}

// fullness gives what the number of voices goes with.
func (b *Bed) fullness() float64 {
	if b.thinned {
		return 0
	}
	return b.intensity.Fullness()
}

// still reports whether the bed keeps all that has been sent, to the last step.
func (b *Bed) still() bool { return b.stay && b.phase == Holding }

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

// moveLevels moves envelope, intensity, levels and density on.
func (b *Bed) moveLevels(at time.Duration, out []Action) []Action {
	b.ticking, b.resting = false, false
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
	if b.still() {
		return out
	}
	if !b.c.NoLevel {
		warm, air := b.c.Balance.Levels(b.intensity.Value(), b.intensity.Fullness())
		first, second := b.levelAt(Warm, warm, at), b.levelAt(Air, air, at)
		if int(second.Value) < b.level[Air] { // what falls goes first: in between nothing is too loud
			first, second = second, first
		}
		out = b.sendLevel(second, b.sendLevel(first, out))
	}
	v := b.brightness()
	if v == b.bright || b.bright >= 0 && at-b.brightAt < brightenEvery {
		return out
	}
	b.bright, b.brightAt = v, at
	for l := range b.layers() {
		out = append(out, Action{Kind: SetBrightness, At: at, Layer: l, Value: uint8(v)})
	}
	return out
}

// levelAt gives the order that a layer have a level 0…1, as far as the envelope
// lets it.
func (b *Bed) levelAt(l Layer, level float64, at time.Duration) Action {
	return Action{Kind: SetLevel, At: at, Layer: l, Value: dynamics.Controller(b.envelope * level)}
}

// sendLevel sends a level that is not there yet.
func (b *Bed) sendLevel(a Action, out []Action) []Action {
	if b.level[a.Layer] == int(a.Value) {
		return out
	}
	b.level[a.Layer] = int(a.Value)
	return append(out, a)
}

// brightness gives what the brightness should be, or −1 where it is left alone.
func (b *Bed) brightness() int {
	if b.c.Brightness.Off {
		return -1
	}
	return int(b.c.Brightness.At(b.intensity.Fullness()))
}

// layers gives how many layers sound, the first ones.
func (b *Bed) layers() Layer {
	if b.c.Balance.NoAir {
		return Air
	}
	return NumLayers
}

func (b *Bed) moveDensity(at time.Duration, out []Action) []Action {
	if b.stay || at-b.rungAt < b.c.Stagger {
		return out
	}
	rung := b.density.Next(b.rung, b.fullness())
	if rung == b.rung {
		return out
	}
	b.rung, b.rungAt = rung, at
	return b.aim(at, out)
}

// target gives the notes that a layer should sound.
func (b *Bed) target(l Layer) voicing.Pitches {
	if l >= b.layers() {
		return voicing.Pitches{}
	}
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
	b.ticking, b.resting, b.envelope = false, false, 0
	return out
}
