package voicing

import (
	"errors"
	"fmt"
	"slices"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Settings is what a voicing must keep to. Note numbers are MIDI, 0…127.
type Settings struct {
	Low, High         uint8   // range of the upper notes, inclusive
	BassLow, BassHigh uint8   // range of the bass, inclusive; it needs an octave
	NoBass            bool    // leave the bass to a bass player
	Voices            int     // reference number of upper notes, 1…MaxUpper
	Thin, Full        int     // a ladder's fewest and most upper notes, around Voices
	Stillness         float64 // 0 free … 1 only the bass moves
	Colours           int     // how many different colours a voicing may have
	Centre            float64 // note number about which the upper notes should lie
	Plain             bool    // chord tones only
	Palette           Palette // which colours, and whether thirds are heard
	PedalPoint        PedalPoint
	Weights           Weights

	// RungWeight is how much each number of upper notes, Thin…Full, counts where a
	// ladder must suit all of them, 0…1000; not all are 0.
	RungWeight [MaxUpper + 1]float64
}

// DefaultSettings suits a soft pad under speech beside a piano.
func DefaultSettings() Settings {
	return Settings{
		Low: 53, High: 76, BassLow: 36, BassHigh: 50,
		Voices: 4, Thin: 3, Full: 6, Stillness: 0.6, Colours: 1, Palette: AnyColour, Centre: 64,
		Weights:    DefaultWeights(),
		RungWeight: EvenRungs(),
	}
}

// EvenRungs counts every number of voices alike.
func EvenRungs() (w [MaxUpper + 1]float64) {
	for r := 1; r < len(w); r++ {
		w[r] = 1
	}
	return w
}

func (s *Settings) check() error {
	switch {
	case s.Voices < 1 || s.Voices > MaxUpper:
		return fmt.Errorf("%d voices are out of range 1…%d", s.Voices, MaxUpper)
	case s.Thin < 1 || s.Thin > s.Voices || s.Full < s.Voices || s.Full > MaxUpper:
		return fmt.Errorf("a ladder from %d to %d voices does not lie around %d inside 1…%d", s.Thin, s.Full, s.Voices, MaxUpper)
	case s.Colours < 0 || s.Colours > MaxUpper:
		return fmt.Errorf("%d colours are out of range 0…%d", s.Colours, MaxUpper)
	case s.PedalPoint > DominantPedal:
		return fmt.Errorf("pedal point %d is out of range 0…%d", s.PedalPoint, DominantPedal)
	case !(s.Stillness >= 0 && s.Stillness <= 1):
		return fmt.Errorf("stillness %v is out of range 0…1", s.Stillness)
	case s.Low > s.High || s.High > 127:
		return fmt.Errorf("the upper range %s…%s is empty or beyond G9", name(s.Low), name(s.High))
	case !s.NoBass && (int(s.BassHigh)-int(s.BassLow) < 11 || s.BassHigh > 127 || s.BassLow == NoBass):
		return fmt.Errorf("the bass range %s…%s does not hold every note: it needs twelve semitones", name(s.BassLow), name(s.BassHigh))
	case !(s.Centre >= 0 && s.Centre <= 127):
		return fmt.Errorf("the centre %v is out of range 0…127", s.Centre)
	}
	if err := s.Weights.check(); err != nil {
		return err
	}
	sum := 0.0
	for r, w := range s.RungWeight[s.Thin : s.Full+1] {
		if !(w >= 0 && w <= MaxWeight) {
			return fmt.Errorf("the weight %v of the rung of %d voices is out of range 0…%d", w, s.Thin+r, MaxWeight)
		}
		sum += w
	}
	if sum == 0 {
		return fmt.Errorf("no rung from %d to %d voices has a weight", s.Thin, s.Full)
	}
	return nil
}

// oneSet reports whether one set of upper notes is looked for to lie under every
// chord: at stillness 1, if colours are allowed. Chords have few tones in common,
// so a set without colours would fit next to none.
func (s *Settings) oneSet() bool {
	return s.Stillness == 1 && !s.Plain && s.Colours > 0 && s.Palette&AnyColour != 0
}

func name(note uint8) string { return pitch.NoteName(int(note), pitch.Key{}) }

var (
	errNoChord   = errors.New("there is no chord to voice")
	errNoVoicing = errors.New("what sounds before is no voicing")
)

// check finds fault with a voicing that was made elsewhere.
func (v *Voicing) check() error {
	if v.N < 1 || v.N > MaxUpper {
		return fmt.Errorf("%w: it has %d upper notes, not 1…%d", errNoVoicing, v.N, MaxUpper)
	}
	below := v.Bass // or NoBass, under all notes
	for _, n := range v.Notes() {
		if n <= below || n > 127 {
			return fmt.Errorf("%w: note %d is beyond 127 or not above note %d", errNoVoicing, n, below)
		}
		below = n
	}
	return nil
}

// Engine searches for voicings under fixed settings. It keeps its working
// memory from call to call, so an Engine serves one goroutine at a time.
type Engine struct {
	s         Settings
	perMotion Weights // of what moves, with stillness in them
	onlyMoves bool    // nothing but Movement costs anything in a step
	rough     roughTable

	known          prepared
	stages         []stage
	led            []candidate // of the first stage, with the step that leads to them
	search         search
	listing        lister
	chord          tonality // whose lattice is built
	weave          weave
	shelf          shelf
	climber        climber
	outer          [2]outerPrices // over neighbouring octaves of a bass
	joint          joint
	some           rung                    // for some of a lattice's
	through, above [MaxUpper + 1][]float64 // least own cost of a ladder through a voicing, and of its rungs above
	ranked         []float64
	before         densities
	stilled        []Ladder
	near           [1]neighbour

	still stillBed
}

// New makes an engine; it fails when the settings contradict each other.
func New(s Settings) (*Engine, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	e := &Engine{s: s, perMotion: perMotion(&s), search: search{budget: maxWork, small: smallWork}, joint: joint{budget: atLength}}
	e.onlyMoves = e.perMotion == Weights{Movement: e.perMotion.Movement}
	if s.Weights.Roughness > 0 {
		low, high := s.Low, s.High
		if !s.NoBass {
			low, high = min(low, s.BassLow), max(high, s.BassHigh)
		}
		e.rough = newRoughTable(int(low), int(high))
	}
	return e, nil
}

// Settings gives what the engine was made with.
func (e *Engine) Settings() Settings { return e.s }

// Step is one chord of a path.
type Step struct {
	Chord    harmony.Chord
	Voicing  Voicing
	Held     Pitches // upper notes that go on sounding from the step before
	Struck   Pitches // upper notes that begin
	Released Pitches // upper notes of the step before that end
	Movement int     // semitones moved by the upper notes
	Missing  pitch.Set
	Trouble  Trouble // at stillness 1: why the step departs from the static set; Clear where it does not
	Cost     Cost
}

// Path is a voiced progression. In a loop the first step's movement and cost
// are those of coming from the last.
type Path struct {
	Loop bool
	// Proved says that no other path over the candidates costs less, or at stillness
	// 1 that no other set of upper notes comes before; else that is not certain.
	Proved   bool
	Static   Pitches // at stillness 1: the upper notes that stay, where there is such a set
	Steps    []Step
	Movement int
	Cost     Cost
}

// Path voices chords in key with the reference number of upper notes, at the
// least total cost over the candidate set. A loop closes: its last chord leads
// to its first. From, if not nil, is what sounds before the first chord of a
// line. Allocates; not for the callback.
func (e *Engine) Path(chords []harmony.Chord, key pitch.Key, loop bool, from *Voicing) (Path, error) {
	if len(chords) == 0 {
		return Path{}, errNoChord
	}
	if from != nil {
		if err := from.check(); err != nil {
			return Path{}, err
		}
	}
	if e.s.oneSet() {
		if p, ok := e.stillPath(chords, key, loop, from); ok {
			return p, nil
		}
	}
	chosen, proved, err := e.path(chords, key, e.s.Voices, loop, from)
	if err != nil {
		return Path{}, err
	}
	p := e.report(chords, key, loop, from, func(i int) Voicing { return chosen[i] })
	p.Proved = proved
	return p, nil
}

// path finds the best path of n upper notes, valid until the next search.
func (e *Engine) path(chords []harmony.Chord, key pitch.Key, n int, loop bool, from *Voicing) (path []Voicing, proved bool, err error) {
	complete, err := e.fill(chords, key, n)
	if err != nil {
		return nil, false, err
	}
	var lead *candidate
	if from != nil && !loop {
		before := candidateOf(*from)
		lead = &before
	}
	path, exact := e.search.solve(e, e.stages[:len(chords)], loop, lead)
	return path, complete && exact, nil
}

func (e *Engine) report(chords []harmony.Chord, key pitch.Key, loop bool, from *Voicing, at func(int) Voicing) Path {
	p := Path{Loop: loop, Steps: make([]Step, len(chords))}
	var before, v candidate
	moves := loop || from != nil
	if loop {
		before = candidateOf(at(len(chords) - 1))
	} else if from != nil {
		before = candidateOf(*from)
	}
	for i, c := range chords {
		t := &e.known.of(e, c, key).tonality
		v = candidateOf(at(i))
		s := &p.Steps[i]
		s.Chord, s.Voicing, s.Struck = c, v.Voicing, v.pitches
		s.Missing, s.Cost = t.missing(v.classes), e.costOf(&v, t)
		if moves {
			s.Held = before.pitches.And(v.pitches)
			s.Struck = v.pitches.Without(s.Held)
			s.Released = before.pitches.Without(s.Held)
			s.Movement = Movement(before.Notes(), v.Notes())
			s.Cost = s.Cost.plus(e.step(&before, &v))
		}
		p.Movement += s.Movement
		p.Cost = p.Cost.plus(s.Cost)
		before, moves = v, true
	}
	return p
}

// grow gives s room for n elements, keeping what it holds.
func grow[T any](s []T, n int) []T {
	if n <= cap(s) {
		return s[:max(n, len(s))]
	}
	return slices.Grow(s, n-len(s))[:n]
}
