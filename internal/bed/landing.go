package bed

import (
	"time"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// destination gives the next song's key and first chord; where no song
// follows, the tonic of the key that sounds.
func (b *Bed) destination() (pitch.Key, harmony.Chord) {
	m := &b.c.Moments[b.moment]
	if m.NextChord == (harmony.Chord{}) {
		return b.key, harmony.Diatonic(b.key, 1)
	}
	return m.NextKey, m.NextChord
}

// land starts on the way into the next song. Where the bed already rests on
// its chord there is nowhere to go.
func (b *Bed) land(at time.Duration, out []Action) []Action {
	if b.phase == Silent {
		return tell(at, NotSounding, out)
	}
	key, first := b.destination()
	route, n := harmony.Landing(b.chord, b.key, key, first)
	to := b.chord // already there
	if n > 0 {
		to = route[0]
	}
	was := b.key
	b.key = key
	out, ok := b.unplanned(at, to, Land, out)
	if !ok {
		b.key = was
		return out
	}
	b.place, b.landing, b.route, b.routeLen, b.routeAt = Landing, true, route, n, 0
	if n == 0 {
		out = tell(at, Landed, out)
	}
	return out
}

// walk goes along the landing; after its last chord the bed holds. Back from
// its first chord leads to the progression.
func (b *Bed) walk(at time.Duration, by int, out []Action) []Action {
	i := b.routeAt + by
	switch {
	case i < 0:
		return b.goTo(at, b.group, b.index, out)
	case i >= b.routeLen:
		return tell(at, Landed, out)
	}
	out, ok := b.unplanned(at, b.route[i], NoCommand, out)
	if ok {
		b.place, b.routeAt = Landing, i
	}
	return out
}

// landed reports whether the landing has reached the next song's chord.
func (b *Bed) landed() bool { return b.routeAt >= b.routeLen-1 }

// afterLanding makes ready what comes next once the bed has left into the next
// song: the next moment, or where there is none this one's home, in the song's
// key where that is of the same mode.
func (b *Bed) afterLanding(at time.Duration, out []Action) []Action {
	if b.moment+1 < len(b.c.Moments) {
		return b.toMoment(at, b.moment+1, out)
	}
	if was := b.planKey; b.key.Minor == was.Minor {
		b.respell(b.key)
		if b.prepare(b.key, nil) != nil {
			b.respell(was)
		}
	}
	b.restOn(Home, 0)
	return out
}
