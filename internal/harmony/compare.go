package harmony

import "bedd/internal/pitch"

// Kinship is how two progressions that go round are related.
type Kinship uint8

// The kinships, the closest last.
const (
	Unrelated Kinship = iota
	Disguised         // the same but for common substitutions
	Contains          // the first goes all through the second, and on
	Contained         // the first is a part of the second, three chords or more
	Rotated           // the same from another chord on
	Equal             // the same chords in the same order
)

// String names the kinship in small letters.
func (k Kinship) String() string {
	return [...]string{"unrelated", "disguised", "contains", "contained", "rotated", "equal"}[k]
}

// Likeness is how alike two progressions are.
type Likeness struct {
	Kinship Kinship
	// Distance is what has to be changed in the one to make it the other, by the
	// longer one's length: 0 for the same chords, 1 for nothing alike.
	Distance float64
	// From is the chord of the second, counted from 0, with which the first one's
	// first goes together, where they are not unrelated.
	From int
}

// What it takes to make one chord the other, 0 for the same to 1. By ear,
// judged by the labelled pairs of the tests.
const (
	changeColour    = 0.08 // another bass, a seventh, a suspension
	changeThird     = 0.3  // the other third on the same root: the dominant of the next chord, the parallel chord
	changeRelative  = 0.3  // the relative triad, or the other with two tones in common
	changeDominant  = 0.3  // the dominant a tritone away, the seventh degree's diminished triad
	changeInserted  = 0.7  // a chord more or less
	changeApplied   = 0.25 // the same, where it is the dominant of the chord that follows
	changeAll       = 1.0
	disguisedWithin = 0.14
	mostCompared    = 16 // chords of a progression; what goes on beyond is not looked at
)

// Compare tells how alike a progression in one key is to one in another, both
// going round. Transposed together with their keys, and begun at another chord,
// they are as alike as before: what counts is degrees, from the tonic or, between
// a major and a minor key, in the same signature as well, and where the keys
// differ also the very chords. Chords said twice in a row count once.
//
// Common substitutions are cheap: a seventh, suspension or bass more or less, the
// relative triad, the other third (a secondary dominant), the dominant a tritone
// away; so is the dominant of a chord put before it. A part is a part from three
// chords on. Two progressions of which one has a single chord are never related.
// Of each the first 16 chords are looked at. No allocation.
func Compare(a []Chord, in pitch.Key, b []Chord, of pitch.Key) Likeness {
	var first, second sequence
	first.take(a, 0)
	second.take(b, 0)
	best := Likeness{Distance: changeAll}
	if first.n < 2 || second.n < 2 {
		return best
	}
	tonics := int(in.Tonic.Class()) - int(of.Tonic.Class())
	signatures := int(major(in).Class()) - int(major(of).Class())
	for i, up := range [...]int{tonics, signatures, 0} {
		if i == 1 && signatures == tonics || i == 2 && (tonics == 0 || signatures == 0) {
			continue
		}
		second.take(b, up)
		if l := first.likeness(&second); l.Kinship > best.Kinship || l.Kinship == best.Kinship && l.Distance < best.Distance {
			best = l
		}
	}
	return best
}

// major is the tonic of the major key with the signature of k.
func major(k pitch.Key) pitch.Name {
	if k.Minor {
		return k.Relative().Tonic
	}
	return k.Tonic
}

// sequence is a progression as it is compared.
type sequence struct {
	chords [mostCompared]heardChord
	n      int
}

// heardChord is a chord apart from how it is written.
type heardChord struct {
	root  pitch.Class
	bass  pitch.Class
	third quality // one of thirds, or suspensions
	core  pitch.Set
	q     quality
	index int8 // in the progression
}

// take reads a progression moved up by some semitones, without repeats.
func (s *sequence) take(chords []Chord, up int) {
	s.n = 0
	for i, c := range chords {
		if s.n == mostCompared {
			break
		}
		h := heardChord{root: c.Root.Class().Up(up), bass: c.BassClass().Up(up), third: c.quality & (thirds | suspensions), q: c.quality, index: int8(i)}
		h.core = (c.quality & (unison | thirds | suspensions | fifths)).classes().Transpose(int(h.root))
		if s.n > 0 && s.chords[s.n-1].same(h) {
			continue
		}
		s.chords[s.n] = h
		s.n++
	}
	for s.n > 1 && s.chords[s.n-1].same(s.chords[0]) {
		s.n--
	}
}

// same reports whether two chords are one but for tones beyond the triad.
func (h heardChord) same(g heardChord) bool {
	return h.root == g.root && h.bass == g.bass && h.core == g.core
}

// likeness compares two progressions of which neither moves any more.
func (s *sequence) likeness(t *sequence) Likeness {
	var c changes
	c.between(s, t)
	best := Likeness{Distance: changeAll}
	for from := range t.n {
		if d := c.distance(from); d < best.Distance {
			best.Distance, best.From = d, int(t.chords[from].index)
		}
	}
	switch {
	case s.n == t.n && s.runs(0, t, 0):
		best.Kinship, best.From = Equal, int(t.chords[0].index)
	case s.n == t.n && s.within(t, &best.From):
		best.Kinship = Rotated
	case s.n < t.n && s.n >= 3 && s.within(t, &best.From):
		best.Kinship = Contained
	case s.n > t.n && (t.n >= 3 || s.n == 3) && t.within(s, nil):
		best.Kinship = Contains
	case best.Distance <= disguisedWithin:
		best.Kinship = Disguised
	}
	return best
}

// within reports whether s, begun anywhere, is a run of t, which goes round, and
// at which of t's chords s then has its own first.
func (s *sequence) within(t *sequence, from *int) bool {
	for start := range s.n {
		for i := range t.n {
			if s.runs(start, t, i) {
				if from != nil {
					*from = int(t.chords[(i+(s.n-start)%s.n)%t.n].index)
				}
				return true
			}
		}
	}
	return false
}

func (s *sequence) runs(start int, t *sequence, from int) bool {
	for i := range s.n {
		if !s.chords[(start+i)%s.n].same(t.chords[(from+i)%t.n]) {
			return false
		}
	}
	return true
}

// changes is what it takes to make each chord of one progression into each of
// another, or to leave it out.
type changes struct {
	n, m    int
	change  [mostCompared][mostCompared]float64
	out, in [mostCompared]float64
}

func (c *changes) between(s, t *sequence) {
	c.n, c.m = s.n, t.n
	for i := range s.n {
		c.out[i] = s.inserted(i)
		for j := range t.n {
			c.change[i][j] = s.chords[i].change(t.chords[j])
		}
	}
	for j := range t.n {
		c.in[j] = t.inserted(j)
	}
}

// distance is the least sum of changes that make the first into the second from
// one of its chords on, by the longer one's length.
func (c *changes) distance(from int) float64 {
	var row [mostCompared + 1]float64
	for j, at := 0, from; j < c.m; j++ {
		row[j+1] = row[j] + c.in[at]
		if at++; at == c.m {
			at = 0
		}
	}
	for i := range c.n {
		before := row[0]
		row[0] += c.out[i]
		for j, at := 0, from; j < c.m; j++ {
			changed := min(before+c.change[i][at], row[j+1]+c.out[i], row[j]+c.in[at])
			before, row[j+1] = row[j+1], changed
			if at++; at == c.m {
				at = 0
			}
		}
	}
	return min(row[c.m]/float64(max(c.n, c.m)), changeAll)
}

// inserted is what it takes to put in the chord at i, or to leave it out.
func (s *sequence) inserted(i int) float64 {
	c, next := s.chords[i%s.n], s.chords[(i+1)%s.n]
	if c.q&majorThird != 0 && c.root == next.root.Up(7) && c.q&minorSeventh != 0 {
		return changeApplied
	}
	return changeInserted
}

// change is what it takes to make h into g.
func (h heardChord) change(g heardChord) float64 {
	switch {
	case h.root == g.root && h.third == g.third:
		if h.bass == g.bass && h.q == g.q {
			return 0
		}
		return changeColour
	case h.root == g.root && (h.third&thirds == 0 || g.third&thirds == 0):
		return changeColour
	case h.root == g.root:
		return changeThird
	case h.dominant() && g.dominant() && h.root.Up(6) == g.root:
		return changeDominant
	case h.dominant() && g.leads(h) || g.dominant() && h.leads(g):
		return changeDominant
	case h.core.Intersect(g.core).Len() == 2:
		return changeRelative
	}
	return changeAll
}

// dominant reports whether the chord has a major third and a minor seventh.
func (h heardChord) dominant() bool { return h.q&majorThird != 0 && h.q&minorSeventh != 0 }

// leads reports whether the chord is the diminished triad on g's third.
func (h heardChord) leads(g heardChord) bool {
	return h.q&minorThird != 0 && h.q&flatFifth != 0 && h.root == g.root.Up(4)
}
