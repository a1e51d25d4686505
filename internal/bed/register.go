package bed

import (
	"bedd/internal/voicing"
)

const (
	// LiftMargin is how far past LiftFrom the fullness must be, to either side, for
	// the register to change. By ear.
	LiftMargin = 0.08
	// climbWeight is what a semitone from the register's centre costs on the way
	// there: enough to climb against a stillness of 0.6, a few notes at a time, while
	// two are still held (by ear, and by TestTheRegisterRisesWithTheIntensity).
	climbWeight = 5
	// enough is how many notes must be held for the bed to be back where it was
	// prepared to be.
	enough = 2
)

// registers are the engines of a bed that rises and comes down again. Neither
// does so but with a chord: notes that sound stay where they are.
type registers struct {
	up, down *voicing.Engine // nil where the register stays
	lifted   bool
	sinking  bool // not lifted any more, but not yet back
}

// make makes the engines, where the configuration asks for a lift and the upper
// notes may move.
func (r *registers) make(c *Config) (err error) {
	if c.Lift == 0 || c.Voicing.Stillness == 1 {
		return nil
	}
	s := c.Voicing
	s.Weights.Centre = max(s.Weights.Centre, climbWeight)
	if r.down, err = voicing.New(s); err != nil {
		return err
	}
	s.Low, s.High, s.Centre = s.Low+c.Lift, s.High+c.Lift, s.Centre+float64(c.Lift)
	r.up, err = voicing.New(s)
	return err
}

// reset forgets where the register was.
func (r *registers) reset() { r.lifted, r.sinking = false, false }

// register gives the engine of the register that the next chord is to have.
// Prepared, if not nil, is the chord's own ladder: a bed that comes down is back
// as soon as it holds enough of what sounds.
func (b *Bed) register(prepared *voicing.Ladder) *voicing.Engine {
	r, margin := &b.climbing, LiftMargin
	if r.lifted {
		margin = -margin
	}
	was := r.lifted
	r.lifted = r.up != nil && b.phase != Silent && b.intensity.Fullness() >= b.c.LiftFrom+margin
	r.sinking = !r.lifted && (was || r.sinking)
	if r.sinking && prepared != nil {
		now, then := b.ladder.Rung(b.rung), prepared.Rung(b.rung)
		if now.Pitches().And(then.Pitches()).Len() >= enough {
			r.sinking, b.onPath = false, true
		}
	}
	switch {
	case r.lifted:
		return r.up
	case r.sinking:
		return r.down
	}
	return b.engine
}
