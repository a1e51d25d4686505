package bed

import "time"

func (b *Bed) pickMoment(at time.Duration, i int, out []Action) []Action {
	switch {
	case b.phase != Silent:
		return tell(at, OnlySilent, out)
	case b.called: // back to the plan
		return b.toMoment(at, b.moment, out)
	case i < 0 || i >= len(b.c.Moments):
		return tell(at, NoMoment, out)
	}
	return b.toMoment(at, i, out)
}

func (b *Bed) toMoment(at time.Duration, i int, out []Action) []Action {
	if err := b.load(i); err != nil {
		return tell(at, CannotVoice, out)
	}
	return append(out, Action{Kind: ChangeMoment, At: at, Value: uint8(i)})
}
