package bed

import (
	"time"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// lead is where a bed that has left its progressions is being led.
type lead uint8

const (
	nowhere  lead = iota
	intoSong      // a landing: to the next song's first chord, or where none follows to the tonic
	intoKey       // to home in another key
)

// path is a route with the keys that it leads from and to, and how far the bed
// has come on it.
type path struct {
	harmony.Route
	from, to pitch.Key
	at       int // the route's chord that was entered last, −1 before the first
}

// key gives the key in which chord i is heard.
func (p *path) key(i int) pitch.Key {
	if p.N > 0 && i < p.TurnAt {
		return p.from
	}
	return p.to
}

// over reports whether the last chord was entered.
func (p *path) over() bool { return p.at >= p.N-1 }

// errand is a question to the landing search; the same has the same answer.
type errand struct {
	from   harmony.Chord
	in, to pitch.Key
	first  harmony.Chord
	ending harmony.Ending
}

// destination gives the next song's key and first chord; where no song
// follows, the tonic of the moment's key.
func (b *Bed) destination() (pitch.Key, harmony.Chord) {
	if b.songChord.IsZero() {
		return b.planKey, harmony.Diatonic(b.planKey, 1)
	}
	return b.songKey, b.songChord
}

// preferredEnding gives how the moment's landing ends.
func (b *Bed) preferredEnding() harmony.Ending {
	if m := &b.c.Moments[b.moment]; m.OwnEnding && !b.called {
		return m.Ending
	}
	return b.c.Ending
}

// lookAhead finds the landing from where the bed is now, if anything that it
// depends on has changed, so that a press finds it ready.
// Hot path: no allocation; the cost of [harmony.Land] when the bed has moved.
func (b *Bed) lookAhead() {
	if b.lead == intoSong {
		return
	}
	to, first := b.destination()
	now := errand{b.chord, b.key, to, first, b.preferredEnding()}
	if now == b.errand {
		return
	}
	b.errand = now
	b.ahead = b.routeTo(to, first)
}

// routeTo finds the way from the chord that sounds.
func (b *Bed) routeTo(to pitch.Key, first harmony.Chord) path {
	return path{harmony.Land(b.chord, b.key, to, first, b.preferredEnding()), b.key, to, -1}
}

// prepareWay makes the voicings of the chords on a path quick to find: of the
// landing that is armed, and of the rest of one that is under way.
func (b *Bed) prepareWay(p *path) {
	for i := max(p.at+1, 0); i < p.N; i++ {
		b.engine.Prepare(p.Chords[i:i+1], p.key(i))
	}
}

// land starts on the way into the next song. Where the bed already rests on
// its chord there is nowhere to go. A landing that walks by itself goes on to
// the end.
func (b *Bed) land(at time.Duration, did Command, out []Action) []Action {
	if b.phase == Silent {
		return tell(at, NotSounding, out)
	}
	alone := did == LandThrough
	if b.lead == intoSong && !b.arrived && alone { // it is on its way already
		b.walking, b.walkAt = true, at
		b.goes = b.songChord.IsZero()
		return append(out, Action{Kind: Did, At: at, Command: did})
	}
	p := b.ahead
	if b.lead == intoSong {
		p = b.routeTo(b.destination())
	}
	if did == FirstChord && p.N > 1 {
		first := p.Chords[p.N-1]
		p.Route = harmony.Route{N: 1}
		p.Chords[0] = first
	}
	out, ok := b.setOut(at, intoSong, p, did, out)
	if ok && p.N == 0 {
		out = tell(at, Landed, out)
	}
	if ok {
		b.walking, b.walkAt = alone && !b.arrived, at+b.c.Walk
		b.goes, b.goesAt = alone && b.songChord.IsZero(), at+goesAfter*b.c.Walk
	}
	return out
}

// goesAfter is how many paces a landing that walked by itself rests on the tonic
// before it fades, where no song follows. By ear.
const goesAfter = 2

// setOut enters a path's first chord, or where it has none its key. Did is the
// command that this carries out, or NoCommand. Where that chord has no voicing
// it says so, reports false, and nothing was carried out.
func (b *Bed) setOut(at time.Duration, to lead, p path, did Command, out []Action) ([]Action, bool) {
	chord, was := b.chord, b.key
	if p.N > 0 {
		chord, p.at = p.Chords[0], 0
	}
	b.key = p.key(p.at)
	out, ok := b.unplanned(at, chord, did, out)
	if !ok {
		b.key = was
		return out, false
	}
	b.lead, b.path = to, p
	b.toPlace(at, b.lead.place())
	b.arrive(at)
	return out, true
}

func (l lead) place() Place {
	if l == intoKey {
		return Turning
	}
	return Landing
}

// arrive notes whether a landing has reached the song's first chord.
func (b *Bed) arrive(at time.Duration) {
	was := b.arrived
	b.arrived = b.lead == intoSong && b.path.over()
	switch {
	case !b.arrived:
		b.thinned, b.thins, b.playsSince = false, false, never
	case !was:
		b.arrivedAt, b.walking = at, false
		b.thins = b.c.Thin > 0
		b.goesAt = at + goesAfter*b.c.Walk
	}
}

// walk goes along the path; after a landing's last chord the bed holds. Back from
// its first chord leads to the progression.
func (b *Bed) walk(at time.Duration, by int, out []Action) []Action {
	i := b.path.at + by
	switch {
	case i < 0 || b.lead == intoKey && i >= b.path.N-1:
		return b.goTo(at, b.group, b.index, out)
	case i >= b.path.N:
		return tell(at, Landed, out)
	}
	was := b.key
	b.key = b.path.key(i)
	out, ok := b.unplanned(at, b.path.Chords[i], NoCommand, out)
	if !ok {
		b.key, b.walking = was, false
		return out
	}
	b.place, b.path.at = b.lead.place(), i
	b.walking = b.walking && by > 0
	b.walkAt = at + b.c.Walk
	b.arrive(at)
	return out
}

// reroute finds the way anew after the bed has been taken off it, or is led
// elsewhere: the next step goes on from there.
func (b *Bed) reroute(at time.Duration) {
	b.path = b.routeTo(b.destination())
	b.arrived = false
	b.arrive(at)
}

// strayed is when the player's hands have taken the chord.
func (b *Bed) strayed(at time.Duration) {
	switch {
	case b.lead == intoKey:
		b.lead, b.walking = nowhere, false
	case b.lead == intoSong && !b.arrived:
		b.reroute(at)
		b.walking, b.goes = false, false
	}
}

// stopLeading is when the bed is back on a progression.
func (b *Bed) stopLeading() {
	b.lead, b.walking, b.goes = nowhere, false, false
	b.arrive(0)
}

// toPlace notes where the chord comes from from now on.
func (b *Bed) toPlace(at time.Duration, p Place) {
	if p != b.place {
		b.placeAt = at
	}
	b.place = p
}
