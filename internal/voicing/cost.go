package voicing

import (
	"math"

	"bedd/internal/pitch"
)

// IdentityRule is the stillness up to which identity tones are a hard rule.
const IdentityRule = 0.5

// NearStill is the stillness that stands in for 1 where no single set of upper
// notes serves every chord.
const NearStill = 0.99

// Fourth is the widest step of the top note that is no leap, in semitones.
const Fourth = 5

// Cost is what one step of a path costs, term by term, each already weighted;
// the package documentation has the formulas.
type Cost struct {
	Movement  float64 `json:"movement"`
	Strike    float64 `json:"strike"`
	FewHeld   float64 `json:"few_held"`
	Leap      float64 `json:"leap"`
	Parallel  float64 `json:"parallel"`
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
	c.Leap += d.Leap
	c.Parallel += d.Parallel
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

// MovingCosts gives k, what the settings' stillness multiplies the price of moving
// by.
func (s *Settings) MovingCosts() float64 { return still(s.Stillness) }

// still gives k, what stillness multiplies the price of moving by.
func still(stillness float64) float64 { return 1 / (1 - min(stillness, NearStill)) }

// own gives the cost of v under t that does not depend on what came before.
// Hot path: no allocation; O(voices²).
func (e *Engine) own(v *Voicing, t *tonality) Cost {
	c := candidateOf(*v)
	return e.costOf(&c, t)
}

// costOf is own, of a candidate.
func (e *Engine) costOf(v *candidate, t *tonality) Cost {
	sum, rough := 0, 0.0
	for _, n := range v.Notes() {
		sum += int(n)
	}
	if e.s.Weights.Roughness > 0 {
		rough = e.rough.of(&v.Voicing)
	}
	return e.ownOf(v, t, sum, rough)
}

// ownOf is own, of a candidate whose notes' sum and roughness are known.
func (e *Engine) ownOf(v *candidate, t *tonality, sum int, rough float64) Cost {
	w := &e.s.Weights
	extra := v.classes.Minus(t.tones)
	colours, doubled, known := 0, 0, pitch.Set(0)
	if t.bass != t.root {
		known = known.Add(t.bass)
	}
	if extra|known != 0 || v.classes.Len() < int(v.N) {
		for _, n := range v.Notes() {
			k := class(n)
			if extra.Has(k) {
				colours++
			}
			switch {
			case !known.Has(k):
				known = known.Add(k)
			case t.cheap.Has(k):
				doubled++
			default:
				doubled += 2
			}
		}
	}
	c := Cost{
		Missing:   w.Missing * float64(t.missing(v.classes).Len()*t.weight()),
		Bare:      w.Bare * float64(t.bare.Minus(v.classes).Len()),
		Double:    w.Double * float64(doubled),
		Colour:    w.Colour * float64(colours),
		Roughness: w.Roughness * rough,
	}
	if v.N > 0 {
		c.Centre = w.Centre * math.Abs(float64(sum)/float64(v.N)-e.s.Centre)
	}
	c.Total = c.Missing + c.Bare + c.Double + c.Colour + c.Roughness + c.Centre
	return c
}

// step gives the cost of going from p to v, without what v costs by itself.
// Hot path: no allocation; O(1) between voicings of equally many notes.
func (e *Engine) step(p, v *candidate) Cost {
	m, w := motionOf(p, v), &e.perMotion
	c := Cost{
		Movement: w.Movement * float64(m.moved),
		Strike:   w.Strike * float64(m.struck),
		FewHeld:  w.FewHeld * float64(m.lacking),
		Leap:     w.Leap * float64(m.leap),
		Parallel: w.Parallel * float64(m.parallel),
		BassMove: w.BassMove * float64(m.bass),
	}
	c.Total = c.Movement + c.Strike + c.FewHeld + c.Leap + c.Parallel + c.BassMove
	return c
}

// stepTotal is step's total by itself.
func (e *Engine) stepTotal(p, v *candidate) float64 {
	m, w := motionOf(p, v), &e.perMotion
	return w.Movement*float64(m.moved) + w.Strike*float64(m.struck) + w.FewHeld*float64(m.lacking) +
		w.Leap*float64(m.leap) + w.Parallel*float64(m.parallel) + w.BassMove*float64(m.bass)
}

// perMotion gives the weights of what moves, with stillness in them.
func perMotion(s *Settings) Weights {
	w, k := s.Weights, still(s.Stillness)
	return Weights{Movement: k * w.Movement, Strike: k * w.Strike, FewHeld: k * w.FewHeld,
		Leap: k * w.Leap, Parallel: k * w.Parallel, BassMove: w.BassMove}
}
