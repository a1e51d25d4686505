// Package bed is the state machine: events in, actions out, no clock, no I/O.
package bed

import (
	"fmt"
	"slices"
	"time"

	"bedd/internal/dynamics"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// moveEvery is the time between two moves of the levels: at the steepest ramp
// three steps of a 7-bit controller, which no one hears as steps under a pad's
// own smoothing (by ear).
const moveEvery = 20 * time.Millisecond

// brightenEvery is the time between two moves of the brightness. With both
// layers' levels that is at most 134 messages a second, of 3 bytes: 13 % of what
// a MIDI cable carries (31,250 baud, 10 bits a byte).
const brightenEvery = 3 * moveEvery

// Place is where the bed's chord comes from.
type Place uint8

// The places.
const (
	Home    Place = iota // the progression that rests on the tonic
	Away                 // the progression that avoids it and leads back
	Hand                 // the player's hands: captured or followed
	Landing              // the way into the next song
	Turning              // the way into another key
)

var placeNames = [...]string{"home", "away", "hand", "landing", "turning"}

func (p Place) String() string { return placeNames[p] }

// ParsePlace reads a place by its name.
func ParsePlace(name string) (Place, bool) {
	i := slices.Index(placeNames[:], name)
	return Place(max(i, 0)), i >= 0
}

// Bed holds one bed. Create it with [New]; it serves one goroutine at a time.
type Bed struct {
	c        Config
	engine   *voicing.Engine
	climbing registers
	diatonic [7]harmony.Chord // of the key that was prepared
	now      time.Duration

	phase    Phase
	envelope float64 // 0 silent … 1 the level asked for
	rampAt   time.Duration
	ticking  bool
	resting  bool          // nothing moves before tick
	tick     time.Duration // when the levels move next

	moment    int
	key       pitch.Key // of the chord that sounds
	keyBefore pitch.Key // of the chord before it
	planKey   pitch.Key // of the progressions
	chords    [2][]harmony.Chord
	ladders   [2][]voicing.Ladder
	spare     [2][]voicing.Ladder
	place     Place
	group     Place // Home or Away: the progression that place is in, or left
	index     int
	placeAt   time.Duration // since when
	chord     harmony.Chord
	ladder    voicing.Ladder
	onPath    bool // ladder is one of ladders, not one found on the way
	changedAt time.Duration

	song      int       // the next one's number, 0 where none follows
	songKey   pitch.Key // its
	songChord harmony.Chord
	used      Songs
	called    bool // the moment is not the plan's but a song's own
	calledFor int  // the number of that song
	choice    choosing
	guarded   []*voicing.Engine // for what keeps off a figure
	heard     bool              // and the top line has the next song's all the same

	lead       lead // into the song until it is left: the hand may have taken over in it
	path       path
	ahead      path // the landing from where the bed is
	errand     errand
	walking    bool // along the path by itself
	walkAt     time.Duration
	arrived    bool // at the song's first chord
	arrivedAt  time.Duration
	thins      bool // it will thin out
	thinned    bool
	goes       bool // it will fade by itself: no song follows
	goesAt     time.Duration
	playsSince time.Duration // since when the hands play after arriving, or never
	playedAt   time.Duration
	handed     bool // it fades because the hands play

	rung      int
	rungAt    time.Duration
	density   dynamics.Density
	intensity dynamics.Intensity

	sounding [NumLayers]voicing.Pitches // every note that is on
	ending   [NumLayers]voicing.Pitches // those of them that only wait for their end
	endAt    [NumLayers][128]time.Duration
	level    [NumLayers]int // as last sent, −1 before that
	bright   int            // the same
	brightAt time.Duration

	armed       Command
	armedBefore Command
	stay        bool
	ended       bool // no more input comes

	follow   bool
	hands    hands
	lefthand voicing.Pitches
	steady   bool // lefthand is waiting to be followed
	steadyAt time.Duration

	change Change
}

// Change is what the last chord change did to the notes of the warm layer, bass
// included, and the chord before it with its key.
type Change struct {
	Held, Struck, Released voicing.Pitches
	Before                 harmony.Chord // the zero Chord after silence
	BeforeKey              pitch.Key
}

// New makes a bed that waits in silence on its first moment's first home chord. It fails when the settings contradict each other or a chord of any
// moment has no voicing.
func New(c Config) (*Bed, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	engine, err := voicing.New(c.Voicing)
	if err != nil {
		return nil, err
	}
	b := &Bed{c: c, engine: engine, bright: -1, intensity: dynamics.NewIntensity(c.Pedal, c.Feel, c.Balance)}
	b.density = dynamics.Density{Thin: c.Voicing.Thin, Full: c.Voicing.Full,
		Margin: dynamics.DefaultMargin, Stagger: c.Stagger}
	if c.SameVoices {
		b.density.Thin, b.density.Full = c.Voicing.Voices, c.Voicing.Voices
	}
	if err := b.climbing.make(&c); err != nil {
		return nil, err
	}
	for l := range b.level {
		b.level[l] = -1
	}
	for i, s := range c.Songs {
		for _, chords := range [2][]harmony.Chord{s.Home, s.Away} {
			if err := engine.Fits(chords, s.Key); err != nil {
				return nil, fmt.Errorf("song %d: %w", i+1, err)
			}
		}
	}
	for i, m := range c.Moments {
		for _, chords := range [2][]harmony.Chord{m.Home, m.Away} {
			if err := engine.Fits(chords, m.Key); err != nil {
				return nil, fmt.Errorf("moment %d: %w", i+1, err)
			}
		}
	}
	if err := b.makeGuarded(); err != nil {
		return nil, err
	}
	if err := b.load(c.First); err != nil {
		return nil, err
	}
	b.lookAhead()
	return b, nil
}

// load makes ready moment i, silently.
func (b *Bed) load(i int) error {
	m := &b.c.Moments[i]
	b.called = false
	b.song, b.songKey, b.songChord = m.NextSong, m.NextKey, m.NextChord
	if m.NextSong > len(b.c.Songs) {
		b.song = 0
	}
	for g, chords := range [2][]harmony.Chord{m.Home, m.Away} {
		b.chords[g] = append(b.chords[g][:0], chords...)
	}
	if err := b.prepare(m.Key, nil); err != nil {
		return err
	}
	b.moment, b.key = i, m.Key
	b.group, b.index = Home, 0
	b.armed, b.armedBefore = NoCommand, NoCommand
	b.intensity.Plan(b.now, m.Intensity)
	b.restOn(Home, 0)
	return nil
}

// prepare voices both progressions in key; from is the ladder that sounds.
func (b *Bed) prepare(key pitch.Key, from *voicing.Ladder) error {
	enter := 0
	if b.group == Home && b.index < len(b.chords[Home]) {
		enter = b.index
	}
	home, away, err := b.engine.Pair(b.chords[Home], b.chords[Away], key, from, enter, b.spare[Home][:0], b.spare[Away][:0])
	if err != nil {
		return err
	}
	home, away = b.guard(home, away, from, enter, key)
	b.spare, b.ladders = b.ladders, [2][]voicing.Ladder{home, away}
	b.planKey = key
	for degree := 1; degree <= 7; degree++ { // what a hand is likely to play
		b.diatonic[degree-1] = harmony.Diatonic(key, degree)
	}
	b.engine.Prepare(b.diatonic[:], key)
	return nil
}

// restOn makes chord i of a progression the current one without a sound.
func (b *Bed) restOn(g Place, i int) {
	b.place, b.group, b.index = g, g, i
	b.stopLeading()
	b.key = b.planKey
	b.climbing.reset()
	b.chord, b.ladder, b.onPath = b.chords[g][i], b.ladders[g][i], true
}

// Handle takes one event and appends what is to be done to out. All that was
// due before at is done first, with the times at which it was due; what is due
// at that very time follows with the next call, so that at equal times the
// player comes first. A TimePassed also does what is due at its own time. A
// time that goes back counts as standing still.
//
// Hot path: no allocation in steady state; O(voices) for notes, pedals and
// levels. A chord or key that comes without warning is searched for: see
// package voicing.
func (b *Bed) Handle(at time.Duration, e Event, out []Action) []Action {
	at = min(max(at, b.now), latest)
	out = b.advance(at, e.Kind == TimePassed, out)
	b.now = at
	if (!b.ticking || b.resting) && b.phase != Silent {
		b.intensity.Advance(at) // it rested: nothing may be caught up with later
	}
	switch e.Kind {
	case TimePassed:
	case Asked:
		if !b.ended {
			out = b.ask(at, e, out)
		}
	case NoteStruck:
		b.intensity.Trend.Strike(at, e.Note&127, e.Velocity)
		b.hands.strike(at, e.Note&127)
		b.play(at)
		b.watchLeftHand(at)
	case NoteLeft:
		b.hands.leave(at, e.Note&127)
		b.play(at)
		b.watchLeftHand(at)
	case DamperMoved:
		b.hands.pedal(e.On)
		b.watchLeftHand(at)
	case PedalMoved:
		b.intensity.Pedal(at, e.Raw)
	case VoiceHeard:
		b.intensity.Listen(at, e.Intensity, e.Eased)
	case InputEnded:
		b.ended, b.follow, b.steady, b.handed, b.walking = true, false, false, false, false
		b.choice = choosing{}
		if b.phase != Fading || e.On {
			out = b.turn(at, causeOut, out)
		}
	}
	if !b.armable(b.armed) {
		b.armed, b.armedBefore = NoCommand, NoCommand
	}
	b.lookAhead()
	b.wake(at)
	return out
}

// latest is the last time a bed knows: beyond it the clock stands still, so that
// no sum of times overflows.
const latest = 1 << 62 * time.Nanosecond

// Deadline tells when Handle next wants to be called, if nothing happens
// before, with a TimePassed at or after that time.
func (b *Bed) Deadline() (at time.Duration, ok bool) {
	at, _, ok = b.due()
	return at, ok
}

// timer is one of the bed's reasons to be called.
type timer uint8

const (
	noteEnds timer = iota
	levelsMove
	walksOn
	thinsOut
	goesOut
	handsHeard
	choiceCloses
	leftHandSteady
)

// due finds the earliest timer. At equal times notes end before levels move,
// and both come before a new chord.
func (b *Bed) due() (at time.Duration, which timer, ok bool) {
	var room [128]uint8
	for l := range b.ending {
		for _, n := range b.ending[l].Append(room[:0]) {
			if t := b.endAt[l][n]; !ok || t < at {
				at, which, ok = t, noteEnds, true
			}
		}
	}
	if b.ticking && (!ok || b.tick < at) {
		at, which, ok = b.tick, levelsMove, true
	}
	for _, t := range [...]struct {
		set bool
		at  time.Duration
		timer
	}{
		{b.walking && b.moves(), b.walkAt, walksOn},
		{b.thins && b.phase != Silent, b.arrivedAt + b.c.Thin, thinsOut},
		{b.goes && b.arrived && b.moves(), b.goesAt, goesOut},
		{b.handsDue(), b.handsAt(), handsHeard},
		{b.choice.what != NoChoice, b.choice.until, choiceCloses},
		{b.steady, b.steadyAt, leftHandSteady},
	} {
		if t.at = max(t.at, b.now); t.set && (!ok || t.at < at) {
			at, which, ok = t.at, t.timer, true
		}
	}
	return at, which, ok
}

// moves reports whether the bed sounds and may change by itself.
func (b *Bed) moves() bool { return (b.phase == Rising || b.phase == Holding) && !b.stay }

// advance does everything due before until, or also at until when inclusive.
func (b *Bed) advance(until time.Duration, inclusive bool, out []Action) []Action {
	for {
		at, which, ok := b.due()
		if !ok || at > until || (at == until && !inclusive) {
			return out
		}
		b.now = at
		switch which {
		case noteEnds:
			out = b.endNotes(at, out)
		case levelsMove:
			out = b.moveLevels(at, out)
		case walksOn:
			out = b.walk(at, +1, out)
		case thinsOut:
			b.thins, b.thinned = false, true
		case goesOut:
			b.goes = false
			out = b.ask(at, Event{Kind: Asked, Command: FadeOut}, out)
		case handsHeard:
			out = b.hearHands(at, out)
		case choiceCloses:
			b.choice = choosing{}
		case leftHandSteady:
			out = b.followLeftHand(at, out)
		}
		b.lookAhead()
		b.wake(at)
	}
}
