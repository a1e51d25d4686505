package bed

import (
	"time"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// moveKey moves the whole moment by semitones. While the bed sounds it goes there
// by chords that hold notes, which it walks by itself: to home in the other key, or
// during a landing to the first chord of the song, which is in another key now. A
// chord of the hand's, and what waits in silence, moves as it is. On a long
// progression it searches for some time; see MaxChords.
func (b *Bed) moveKey(at time.Duration, command Command, semitones int, out []Action) []Action {
	if semitones == 0 {
		return append(out, Action{Kind: Did, At: at, Command: command, Key: b.key})
	}
	landing := b.lead == intoSong
	asItIs := b.phase == Silent || b.place == Hand && !landing
	songKey, first := b.destination()
	if !landing {
		songKey, first = b.planKey, b.chords[Home][0]
	}
	if asItIs {
		songKey, first = b.key, b.chord
	}
	to := songKey.Transpose(semitones)
	first = first.Transpose(songKey, to)
	p := path{Route: harmony.Route{Chords: [harmony.MaxRoute]harmony.Chord{first}, N: 1}, from: to, to: to, at: -1}
	if !asItIs {
		p = b.routeTo(to, first)
	}
	if !b.movePlan(semitones, p, asItIs && b.place < Hand) {
		return tell(at, CannotVoice, out)
	}
	out = append(out, Action{Kind: Did, At: at, Command: command, Key: to})
	switch {
	case asItIs:
		return b.moveAsItIs(at, semitones, out)
	case !landing:
		b.group, b.index = Home, 0
		if p.N < 2 {
			b.onPath = false
			return b.goTo(at, Home, 0, out)
		}
		if out, ok := b.setOut(at, intoKey, p, NoCommand, out); ok {
			b.walking, b.walkAt = true, at+b.c.Walk
			return out
		}
		return b.goTo(at, Home, 0, out)
	}
	if !b.songChord.IsZero() {
		b.songKey, b.songChord = to, first
	}
	walking := b.walking || b.arrived
	b.arrived = false
	out, _ = b.setOut(at, intoSong, p, NoCommand, out)
	b.walking, b.walkAt = walking && !b.arrived, at+b.c.Walk
	return out
}

// movePlan moves the progressions, if they and the path's first chord have
// voicings there; else nothing moves.
func (b *Bed) movePlan(semitones int, p path, prepared bool) bool {
	var from *voicing.Ladder
	if b.phase != Silent {
		from = &b.ladder
	}
	if p.N > 0 && !prepared {
		if _, err := b.engine.Next(p.Chords[0], p.key(0), from); err != nil {
			return false
		}
	}
	was := b.planKey
	to := was.Transpose(semitones)
	b.respell(to)
	if b.prepare(to, from) != nil {
		b.respell(was)
		return false
	}
	return true
}

// moveAsItIs moves what the bed rests on.
func (b *Bed) moveAsItIs(at time.Duration, semitones int, out []Action) []Action {
	was := b.key
	b.key = was.Transpose(semitones)
	if b.place < Hand {
		b.onPath = b.group == Home // prepare led from what sounds into home
		return b.goTo(at, b.group, b.index, out)
	}
	if b.lead == intoSong {
		for i, c := range b.path.Chords[:b.path.N] {
			b.path.Chords[i] = c.Transpose(was, b.key)
		}
		b.path.from, b.path.to = b.path.from.Transpose(semitones), b.path.to.Transpose(semitones)
		if !b.songChord.IsZero() {
			to := b.songKey.Transpose(semitones)
			b.songKey, b.songChord = to, b.songChord.Transpose(b.songKey, to)
		}
	}
	out, _ = b.unplanned(at, b.chord.Transpose(was, b.key), NoCommand, out)
	return out
}

// respell moves the progressions to another key.
func (b *Bed) respell(to pitch.Key) {
	called := 0
	if b.called {
		called = b.calledFor
	}
	key, home, away := b.written(b.moment, called)
	for g, chords := range [2][]harmony.Chord{home, away} {
		for i, c := range chords {
			b.chords[g][i] = c.Transpose(key, to)
		}
	}
}

// written gives key and progressions as the plan has them, of a moment or of the
// bed that a song brings by itself.
func (b *Bed) written(moment, song int) (key pitch.Key, home, away []harmony.Chord) {
	if song > 0 {
		s := &b.c.Songs[song-1]
		return s.Key, s.Home, s.Away
	}
	m := &b.c.Moments[moment]
	return m.Key, m.Home, m.Away
}
