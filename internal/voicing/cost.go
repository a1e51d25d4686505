package voicing

import "math"

// Weights of the cost's terms; see the package documentation. None is negative.
type Weights struct {
	Movement  float64 // per semitone
	Strike    float64 // per new upper note
	FewHeld   float64 // per held pitch class short of two
	BassMove  float64 // per semitone of the bass
	Missing   float64 // per absent identity tone
	Bare      float64 // per other absent chord tone
	Double    float64 // per upper note whose class another upper note has already, twice where it is a colour
	Colour    float64 // per upper note that is a colour
	Roughness float64 // per unit of Roughness
	Centre    float64 // per semitone from the register's centre
}

// DefaultWeights is by ear: home and away progressions in all keys at three
// densities, until nothing moved that a player would have held and nothing
// muddy was kept only because it was near.
func DefaultWeights() Weights {
	return Weights{Movement: 1, Strike: 0.5, FewHeld: 12, BassMove: 0.1,
		Missing: 25, Bare: 6, Double: 8, Colour: 1.5, Roughness: 1.8, Centre: 0.3}
}

// MovementOnly counts nothing but the semitones that the upper notes move.
func MovementOnly() Weights { return Weights{Movement: 1} }

// IdentityRule is the stillness up to which identity tones are a hard rule.
const IdentityRule = 0.5

// NearStill is the stillness that stands in for 1 where no single set of upper
// notes serves every chord.
const NearStill = 0.99

// Cost is what one step of a path costs, term by term, each already weighted.
type Cost struct {
	Movement  float64 `json:"movement"`
	Strike    float64 `json:"strike"`
	FewHeld   float64 `json:"few_held"`
	BassMove  float64 `json:"bass_move"`
	Missing   float64 `json:"missing"`
	Bare      float64 `json:"bare"`
	Double    float64 `json:"double"`
	Colour    float64 `json:"colour"`
	Roughness float64 `json:"roughness"`
	Centre    float64 `json:"centre"`
	Total     float64 `json:"total"`
}

func (c Cost) plus(d Cost) Cost {
	c.Movement += d.Movement
	c.Strike += d.Strike
	c.FewHeld += d.FewHeld
	c.BassMove += d.BassMove
	c.Missing += d.Missing
	c.Bare += d.Bare
	c.Double += d.Double
	c.Colour += d.Colour
	c.Roughness += d.Roughness
	c.Centre += d.Centre
	c.Total += d.Total
	return c
}

// still gives k, what stillness multiplies the price of moving by.
func still(stillness float64) float64 { return 1 / (1 - min(stillness, NearStill)) }

// own gives the cost of v under t that does not depend on what came before.
// Hot path: no allocation; O(voices²).
func (e *Engine) own(v *Voicing, t *tonality) Cost {
	w := &e.s.Weights
	classes := v.Classes()
	colours := 0
	for _, n := range v.Notes() {
		if !t.tones.Has(class(n)) {
			colours++
		}
	}
	doubled := int(v.N) - classes.Len() + colours - classes.Minus(t.tones).Len()
	c := Cost{
		Missing: w.Missing * float64(t.identity.Minus(classes).Len()),
		Bare:    w.Bare * float64(t.bare.Minus(classes).Len()),
		Double:  w.Double * float64(doubled),
		Colour:  w.Colour * float64(colours),
	}
	if w.Roughness > 0 {
		c.Roughness = w.Roughness * e.rough.of(v)
	}
	if v.N > 0 && w.Centre > 0 {
		sum := 0
		for _, n := range v.Notes() {
			sum += int(n)
		}
		c.Centre = w.Centre * math.Abs(float64(sum)/float64(v.N)-e.s.Centre)
	}
	c.Total = c.Missing + c.Bare + c.Double + c.Colour + c.Roughness + c.Centre
	return c
}

// step gives the cost of going from p to v, without what v costs by itself.
// Hot path: no allocation; O(voices).
func (e *Engine) step(p, v *candidate) Cost {
	w, k := &e.s.Weights, e.k
	held := p.pitches.And(v.pitches)
	c := Cost{
		Movement: k * w.Movement * float64(Movement(p.Notes(), v.Notes())),
		Strike:   k * w.Strike * float64(int(v.N)-held.Len()),
	}
	if w.FewHeld > 0 {
		c.FewHeld = k * w.FewHeld * float64(fewHeld(p, v, held))
	}
	if w.BassMove > 0 && p.Bass != NoBass && v.Bass != NoBass {
		c.BassMove = w.BassMove * float64(distance(p.Bass, v.Bass))
	}
	c.Total = c.Movement + c.Strike + c.FewHeld + c.BassMove
	return c
}

// fewHeld counts how many of two different held pitch classes are lacking,
// where p has three different ones to hold and v three notes to hold them with.
// (A v of three notes but two classes is no way out: it would be rewarded for
// doubling.)
func fewHeld(p, v *candidate, held Pitches) int {
	if p.classes.Len() < 3 || v.N < 3 {
		return 0
	}
	var room [2 * MaxUpper]uint8
	first, found := uint8(0), 0
	for _, n := range held.Append(room[:0]) {
		if found == 0 {
			first, found = n%12, 1
		} else if n%12 != first {
			return 0
		}
	}
	return 2 - found
}
