package harmony

import "bedd/internal/pitch"

// MaxRoute is how many chords a landing has at most, the song's first included.
const MaxRoute = 4

// Turn is how a route comes from one key into the other.
type Turn uint8

// The turns.
const (
	NoTurn        Turn = iota // both keys are one
	PivotTurn                 // on a chord that belongs to both
	ChromaticTurn             // by a step that no key explains
)

// String names the turn in small letters.
func (t Turn) String() string {
	return [...]string{NoTurn: "none", PivotTurn: "pivot", ChromaticTurn: "chromatic"}[t]
}

// Route is the way from a chord in one key to a song's first chord in another:
// N chords, the last of which is the song's, or none where the bed is there
// already. Beyond them Chords has zero chords.
type Route struct {
	Chords [MaxRoute]Chord
	N      int
	Turn   Turn
	// TurnAt is the chord on which the key turns: the pivot, -1 being the chord
	// that the route starts from, or the first one after a chromatic step. The
	// chords before it are heard in the old key, those after it in the new.
	TurnAt int
	// Cost is what the route costs, see [Land].
	Cost int
}

// Key tells in which of both keys the route's chord number i is heard, counted
// from 0; a pivot counts to the new one.
func (r *Route) Key(i int, in, to pitch.Key) pitch.Key {
	if r.Turn != NoTurn && i < r.TurnAt {
		return in
	}
	return to
}

// The costs of a step, whole numbers, the unit being a semitone moved by a voice.
// By ear, but for the order of the moves inside a key.
const (
	costChord       = 3   // every chord makes the landing longer
	costSometimes   = 1   // a root progression that is met sometimes, see progressions
	costSeldom      = 3   // one that is met less often
	costUnusual     = 5   // one that the table does not have
	costDiminished  = 6   // a diminished triad, which a soft bed does not like
	costSeventh     = 1   // a chord beyond a triad
	costNothingHeld = 8   // no tone of the chord before sounds on
	costTornAway    = 12  // nor is the key the same
	costChromatic   = 200 // the key turns without a common chord: dearer than any way with one
)

// Land finds the smoothest way from a chord that sounds in one key to the first
// chord of a song in another: the route of least cost, of zero to [MaxRoute]
// chords. There is nothing to do where the bed already sounds the first chord,
// under whatever spelling: the same classes over the same bass.
//
// On the way lie the triads of both keys ([Triads]), first the old one's, then
// the new one's, and last but one a chord of the ending: the dominant triad of the
// song's key or its seventh; these with a suspended fourth; the triad on the
// fourth degree; or, plain, any triad. No ending is asked for where the song
// itself starts on such a chord. Where the bed already is on one, the first chord
// alone may follow.
//
// A step costs what the chord adds to the length, the semitones that its voices
// move at least, how unusual its root progression is in its key, and more where
// no tone is held or the chord is diminished. The key turns on a chord that
// belongs to both, or, dearer than any way with such a chord, by a chromatic step.
// The song's first chord does not sound before the end. Of equal routes the
// shorter is taken, then the one whose last chord but one comes first in its key.
// Hot path: no allocation; O(triads²).
func Land(from Chord, in, to pitch.Key, first Chord, ending Ending) Route {
	if from.SoundsLike(first) {
		return Route{}
	}
	var s routing
	s.lay(from, in, to, first, ending)
	return s.find()
}

// maxStops bounds the chords on the way: the triads of both keys, and two that
// only end a route.
const maxStops = 2*maxTriads + 2

// stop is a chord that a route may pass.
type stop struct {
	chord    Chord
	classes  pitch.Set
	old, new int8 // its step in each key, 0…6, or foreign
	shape    int8 // of shapes, or unshaped
	extra    uint8
	arrived  bool // the new key is heard
	ends     bool // the ending may be reached by it
	only     bool // and it serves for nothing else
	early    bool // it is the first chord, more or less, so that none follows it
}

// routing is one search.
type routing struct {
	from, first stop
	stops       [maxStops]stop
	n           int
	same        bool // both keys are one
}

// lay puts down the chords that the route may pass.
func (s *routing) lay(from Chord, in, to pitch.Key, first Chord, ending Ending) {
	oldScale, newScale := in.Scale(), to.Scale()
	oldKey, newKey := mapOf(in, &oldScale), mapOf(to, &newScale)
	s.same = in.Minor == to.Minor && in.Tonic.Class() == to.Tonic.Class()
	dominant := Dominant(to)
	fourth := Chord{Root: newScale[3], Bass: newScale[3], quality: diatonicTriad(to, 3)}
	if ending > PlainEnding || ending.reachedBy(first, dominant, fourth) {
		ending = PlainEnding
	}

	stopOf := func(c Chord, shape int8) stop {
		classes, root := c.sounding(c.quality), c.Root.Class()
		return stop{chord: c, classes: classes, old: oldKey.of(root, classes), new: newKey.of(root, classes), shape: shape}
	}
	s.from, s.first = stopOf(from, unshaped), stopOf(first, unshaped)
	s.from.ends, s.from.arrived = ending.reachedBy(from, dominant, fourth), s.same
	s.from.old = stepOf(from.Root, in) // whatever it is, it was heard in the old key
	if s.same {
		s.from.new = s.from.old
	}
	s.first.new, s.first.arrived = stepOf(first.Root, to), true

	var room [maxTriads]Chord
	aim := first.Root.Class()
	add := func(c Chord, arrived bool) *stop {
		p := &s.stops[s.n]
		*p = stopOf(c, shapeOf(c.quality))
		p.arrived, p.ends = arrived, ending == PlainEnding
		p.early = c.Root.Class() == aim && c.quality&thirds == first.quality&thirds
		if c.quality == diminishedTriad {
			p.extra = costDiminished
		}
		s.n++
		return p
	}
	if !s.same {
		for _, c := range Triads(in, room[:0]) {
			add(c, false)
		}
	}
	for _, c := range Triads(to, room[:0]) {
		p := add(c, true)
		p.ends = p.ends || c == dominant && ending == DominantEnding || c == fourth && ending == PlagalEnding
	}
	switch ending {
	case DominantEnding:
		s.end(add(dominant.as(majorTriad|minorSeventh), true), costSeventh)
	case SuspendedEnding:
		s.end(add(dominant.as(suspendedTriad), true), 0)
		s.end(add(dominant.as(suspendedTriad|minorSeventh), true), costSeventh)
	}
}

const suspendedTriad = unison | suspendedFourth | perfectFifth

// as is the chord's root with another quality over it.
func (c Chord) as(q quality) Chord { return Chord{Root: c.Root, Bass: c.Root, quality: q} }

// end keeps a chord for the end of routes.
func (s *routing) end(p *stop, extra uint8) {
	p.ends, p.only, p.early, p.extra = true, true, false, extra
}

const impossible = 1 << 20

// find is the dynamic programme over one, two and three chords before the first.
func (s *routing) find() Route {
	var cost [MaxRoute][maxStops]int
	var via [MaxRoute][maxStops]int8
	best, length, last := impossible, 1, 0
	if s.from.ends {
		best = s.step(&s.from, &s.first)
	}
	var arrive [maxStops]int // what the last step costs from where the ending allows it
	for i := range s.n {
		cost[1][i], arrive[i] = s.step(&s.from, &s.stops[i]), impossible
		if s.stops[i].ends {
			arrive[i] = s.step(&s.stops[i], &s.first)
		}
	}
	for k := 1; k < MaxRoute; k++ {
		for i := range s.n {
			y := &s.stops[i]
			if k > 1 {
				cost[k][i] = impossible
				for j := range s.n {
					if x := &s.stops[j]; !x.only && cost[k-1][j] < cost[k][i] {
						if c := cost[k-1][j] + s.step(x, y); c < cost[k][i] {
							cost[k][i], via[k][i] = c, int8(j)
						}
					}
				}
			}
			if c := cost[k][i] + arrive[i]; c < best {
				best, length, last = c, k+1, i
			}
		}
	}
	r := Route{N: length, Cost: best}
	r.Chords[length-1] = s.first.chord
	after := &s.first
	for k := length - 1; k >= 0; k-- {
		before := &s.from
		if k > 0 {
			before = &s.stops[last]
			r.Chords[k-1] = before.chord
			last = int(via[k][last])
		}
		if !before.arrived && after.arrived {
			r.Turn, r.TurnAt = s.turn(before, after, k)
		}
		after = before
	}
	return r
}

// step is what it costs to go from one chord to the other.
func (s *routing) step(x, y *stop) int {
	if y.early || x.arrived && !y.arrived || x.classes == y.classes && x.chord.Bass.Class() == y.chord.Bass.Class() {
		return impossible
	}
	held := x.classes.Intersect(y.classes) != 0
	cost := costChord + int(y.extra) + movement(x, y)
	if !held {
		cost += costNothingHeld
	}
	switch {
	case !y.arrived:
		return cost + int(progressions[x.old][y.old])
	case x.arrived:
		return cost + int(progressions[x.new][y.new])
	}
	if move := s.common(x, y); move < impossible {
		return cost + move
	}
	if !held {
		cost += costTornAway
	}
	return cost + costChromatic
}

// common is the cost of the root progression from the old key into the new where
// one of the chords belongs to both: either x is heard as the new key's already,
// or y still as the old one's.
func (s *routing) common(x, y *stop) int {
	move := impossible
	if x.new != foreign {
		move = int(progressions[x.new][y.new])
	}
	if y.old != foreign {
		move = min(move, int(progressions[x.old][y.old]))
	}
	return move
}

// turn tells how the key turns between x and y, y being the route's chord k.
func (s *routing) turn(x, y *stop, k int) (Turn, int) {
	move := s.common(x, y)
	switch {
	case move == impossible:
		return ChromaticTurn, k
	case x.new != foreign && int(progressions[x.new][y.new]) == move:
		return PivotTurn, k - 1
	}
	return PivotTurn, k
}

// stepOf gives the step of the scale that has the name's letter, 0…6, whatever
// its accidental.
func stepOf(n pitch.Name, k pitch.Key) int8 { return k.Tonic.To(n).Steps }
