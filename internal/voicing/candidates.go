package voicing

import (
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// candidate is a voicing with what the search asks of it again and again.
type candidate struct {
	Voicing
	classes pitch.Set
	packed  uint64
	pitches Pitches
	total   float64 // own cost, with whatever leads to and from fixed neighbours
}

func candidateOf(v Voicing) candidate {
	return candidate{Voicing: v, pitches: v.Pitches(), classes: v.Classes(), packed: packed(&v)}
}

// stage is one chord of a path with its candidates, which may be those of other
// stages too, or kept for other calls: they are not to be changed.
type stage struct {
	candidates []candidate
	room       []candidate // for a list of this stage alone
}

// need gives how many identity tones are a hard rule among n voices.
func (e *Engine) need(t *tonality, n int) int {
	if e.s.Stillness > IdentityRule {
		return 0
	}
	return min(n, t.identity.Len())
}

// Budgets of the lists of candidates, so that no settings make them endless.
const (
	maxCandidates = 1 << 16 // of one chord
	maxListed     = 1 << 18 // of all chords of a path together: 16 MiB
	triesEach     = 32      // notes tried for each candidate that a list may hold, before it is given up
)

// fill lists the candidates of n upper notes of every chord. It reports whether
// the lists are complete; where one would grow beyond its budget, it is listed
// over fewer colours and a narrower range.
func (e *Engine) fill(chords []harmony.Chord, key pitch.Key, n int) (complete bool, err error) {
	e.stages = grow(e.stages, len(chords))
	limit := min(maxCandidates, maxListed/max(1, len(chords)))
	complete = true
chords:
	for i, c := range chords {
		s := &e.stages[i]
		known := e.known.of(e, c, key)
		if s.candidates = known.lists[n]; s.candidates != nil {
			continue
		}
		for j := range i {
			if chords[j] == c {
				s.candidates = e.stages[j].candidates
				continue chords
			}
		}
		for scope := e.widest(); ; scope, complete = scope.narrower(e.s.Centre), false {
			l := e.lister(&known.tonality, scope, n, limit, s.room[:0])
			l.all()
			s.room = l.found
			if !l.over {
				e.known.keep(known, n, l.found)
				break
			}
			if scope.closed() {
				break
			}
		}
		if s.candidates = s.room; len(s.candidates) == 0 {
			return complete, e.narrow(c, key, n)
		}
	}
	return complete, nil
}

// eachBass calls do with every bass note that carries the chord's bass, or with
// NoBass when the bass is off.
func (e *Engine) eachBass(t *tonality, do func(uint8)) {
	if e.s.NoBass {
		do(NoBass)
		return
	}
	for n := e.s.BassLow; n <= e.s.BassHigh; n++ {
		if class(n) == t.bass {
			do(n)
		}
	}
}

// scope is where candidates are looked for.
type scope struct {
	low, high uint8
	colours   int
}

func (e *Engine) widest() scope { return scope{e.s.Low, e.s.High, e.s.Colours} }

// narrower gives up a colour, then the note that lies farther from the centre.
func (s scope) narrower(centre float64) scope {
	switch {
	case s.colours > 1:
		s.colours--
	case float64(s.high)-centre > centre-float64(s.low):
		s.high--
	default:
		s.low++
	}
	return s
}

// closed reports whether the scope can't be narrower.
func (s scope) closed() bool { return s.low >= s.high }

// lister lists candidates: a walk over their notes from the lowest up.
type lister struct {
	e       *Engine
	t       *tonality
	n       int
	allowed []uint8 // notes of the chord and its colours, ascending
	room    [128]uint8
	colours int
	need    int
	once    bool // each tone exactly once
	at      candidate
	found   []candidate
	limit   int  // how many candidates may be found
	tries   int  // how many more notes may be tried
	over    bool // a budget is used up: the list is not complete
}

// lister gives the engine's lister, set to a chord. It is its working memory.
func (e *Engine) lister(t *tonality, in scope, n, limit int, found []candidate) *lister {
	l := &e.listing
	*l = lister{e: e, t: t, n: n, colours: in.colours, need: e.need(t, n), found: found,
		limit: limit, tries: triesEach * limit, once: e.s.Plain && n == t.tones.Len()}
	l.allowed = l.room[:0]
	for note := in.low; note <= in.high; note++ {
		if (t.tones | t.colours).Has(class(note)) {
			l.allowed = append(l.allowed, note)
		}
	}
	return l
}

func (l *lister) all() {
	l.e.eachBass(l.t, func(bass uint8) {
		l.at = candidate{Voicing: Voicing{Bass: bass}}
		l.extend(&l.at, 0, 0, 0)
	})
}

// extend finds every candidate that begins with c and goes on with allowed notes
// from number next upwards. Rough is the roughness of c, sum the sum of its notes.
func (l *lister) extend(c *candidate, next, sum int, rough float64) {
	t := l.t
	if int(c.N) == l.n {
		l.offer(c, sum, rough)
		return
	}
	high := uint8(127)
	if c.N > 0 { // no gap above an octave
		high = c.Upper[c.N-1] + 12
	}
	was := *c
	for i := next; i < len(l.allowed); i++ {
		note := l.allowed[i]
		if note > high || l.over {
			return
		}
		if l.tries--; l.tries < 0 {
			l.over = true
			return
		}
		k := class(note)
		if !t.fits(&c.Voicing, note) || l.once && c.classes.Has(k) {
			continue
		}
		classes := c.classes.Add(k)
		if classes.Minus(t.tones).Len() > l.colours ||
			(classes&t.identity).Len()+l.n-1-int(c.N) < l.need { // too few notes left for what is needed
			continue
		}
		r := rough
		if l.e.s.Weights.Roughness > 0 {
			r = l.rougher(rough, c, note)
		}
		c.Upper[c.N] = note
		c.packed |= uint64(note) << (8 * c.N)
		c.pitches.Add(note)
		c.classes = classes
		c.N++
		l.extend(c, i+1, sum+int(note), r)
		*c = was
	}
}

// rougher gives the roughness of c and one more note; rough is that of c.
func (l *lister) rougher(rough float64, c *candidate, note uint8) float64 {
	table := &l.e.rough
	if c.Bass != NoBass {
		rough += table.between(c.Bass, note)
	}
	for _, n := range c.Notes() {
		rough += table.between(n, note)
	}
	return rough
}

func (l *lister) offer(c *candidate, sum int, rough float64) {
	if l.once && c.classes != l.t.tones || l.t.otherTriad(&c.Voicing) {
		return
	}
	if len(l.found) == l.limit {
		l.over = true
		return
	}
	c.total = l.e.ownOf(c, l.t, sum, rough).Total
	l.found = append(l.found, *c)
}

// lead adds to every candidate of s the cost of coming from before.
func (e *Engine) lead(s *stage, before *candidate) {
	e.led = append(e.led[:0], s.candidates...)
	s.candidates = e.led
	for i := range s.candidates {
		s.candidates[i].total += e.stepTotal(before, &s.candidates[i])
	}
}
