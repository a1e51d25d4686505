package bed

import (
	"time"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// moveKey moves the whole moment by semitones: the chord that sounds, the way
// that a landing has before it, the progressions. On a long progression it
// searches for some time; see MaxChords.
func (b *Bed) moveKey(at time.Duration, command Command, semitones int, out []Action) []Action {
	if semitones == 0 {
		return append(out, Action{Kind: Did, At: at, Command: command, Key: b.key})
	}
	was, wasPlan := b.key, b.planKey
	to, toPlan := was.Transpose(semitones), wasPlan.Transpose(semitones)
	var from *voicing.Ladder
	if b.phase != Silent {
		from = &b.ladder
	}
	unplanned := b.place == Hand || b.place == Landing
	if unplanned { // before anything moves, so that nothing moves by half
		if _, err := b.engine.Next(b.chord.Transpose(was, to), to, from); err != nil {
			return tell(at, CannotVoice, out)
		}
	}
	b.respell(toPlan)
	if err := b.prepare(toPlan, from); err != nil {
		b.respell(wasPlan)
		return tell(at, CannotVoice, out)
	}
	out = append(out, Action{Kind: Did, At: at, Command: command, Key: to})
	b.key = to
	for i, c := range b.route {
		b.route[i] = c.Transpose(was, to)
	}
	if unplanned {
		out, _ = b.unplanned(at, b.chord.Transpose(was, to), NoCommand, out)
		return out
	}
	b.onPath = b.group == Home // prepare led from what sounds into home
	return b.goTo(at, b.group, b.index, out)
}

// respell moves the progressions from the moment's own key to another.
func (b *Bed) respell(to pitch.Key) {
	m := &b.c.Moments[b.moment]
	for g, chords := range [2][]harmony.Chord{m.Home, m.Away} {
		for i, c := range chords {
			b.chords[g][i] = c.Transpose(m.Key, to)
		}
	}
}
