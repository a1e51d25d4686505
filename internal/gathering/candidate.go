package gathering

import (
	"cmp"
	"slices"
	"time"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// candidate is a progression with what it costs by itself.
type candidate struct {
	progression
	price    float64
	voiced   voiced
	relation relation
	opening  bool // the song's figure is in its top line
	playable int  // chords on which it can be played
	again    harmony.Kinship
	leads    harmony.Chord // the first of its chords that is at home in the song's key as well
	chroma   bool          // some landing from it is chromatic
	settled  bool          // it was voiced in the moment's own key
	turned   bool          // and only there gives the figure away
}

// priced gives a progression its price; it is not ok where the rig's range has no
// room for it.
func (a *Adviser) priced(o *outlook, p progression, relation relation, again harmony.Kinship, home bool) (c candidate, ok bool) {
	c = candidate{progression: p, voiced: a.voice(p.chords, o.grown.key), relation: relation, again: again}
	if c.voiced.err != nil {
		return c, false
	}
	c.price = c.relation.price() + c.voiced.cost/voicingShare
	o.findFigure(&c)
	o.landing(&c)
	switch again {
	case harmony.Unrelated:
	case harmony.Disguised:
		c.price += priceAlike
	default:
		c.price += priceAgain
	}
	if home && o.hasDominant(p.chords) {
		c.price += priceRestless
	}
	if o.ease == Hard && p.rich {
		c.price += priceHard * float64(len(p.chords))
	}
	return c, true
}

// best prices progressions and gives the cheapest.
func (a *Adviser) best(o *outlook, list []progression, home bool) []candidate {
	var all []candidate
	for _, p := range list {
		if c, ok := a.priced(o, p, o.likes[p.kin], o.again[p.kin], home); ok {
			all = append(all, c)
		}
	}
	slices.SortStableFunc(all, func(c, d candidate) int { return cmp.Compare(c.price, d.price) })
	// Of each length some, so that long moments find enough chords.
	var chosen []candidate
	for length := 1; length <= mostVoiced; length++ {
		taken := 0
		for _, c := range all {
			if len(c.chords) == length && taken < mostPaired {
				chosen = append(chosen, c)
				taken++
			}
		}
	}
	return chosen
}

// hasDominant reports whether a chord on the fifth degree is among the chords.
func (o *outlook) hasDominant(chords []harmony.Chord) bool {
	return slices.ContainsFunc(chords, func(c harmony.Chord) bool { return c.Root.Class() == o.scale(5) })
}

// findFigure prices what a candidate gives away of the song's figure.
func (o *outlook) findFigure(c *candidate) {
	if len(o.figure) == 0 {
		return
	}
	c.opening, c.playable = given(o.figure, o.to, &c.voiced, o.grown.key)
	c.price += priceOf(c.opening, c.playable)
}

// given tells whether a figure's opening is in the top line of what is voiced,
// and on how many of its chords it can be played.
func given(figure []int, of pitch.Key, v *voiced, in pitch.Key) (opening bool, playable int) {
	_, opening = harmony.FindFigure(figure, of, v.top, in, true)
	for _, rest := range v.rest {
		if _, given := harmony.GivesAway(figure, of, rest, in); given {
			playable++
		}
	}
	return opening, playable
}

func priceOf(opening bool, playable int) float64 {
	price := pricePlayable * float64(playable)
	if opening {
		price += priceOpening
	}
	return price
}

// settle looks for the song's figure once more, in the moment's own key, and gives
// what the candidate costs on top.
func (a *Adviser) settle(o *outlook, c *candidate) (more float64) {
	if len(o.figure) == 0 || c.settled {
		return 0
	}
	v := a.voice(o.inKey(c), o.key)
	if v.err != nil {
		return 0 // the range was wide enough for the reference key
	}
	opening, playable := given(o.song.Figure, o.song.Key, &v, o.key)
	more = priceOf(opening, playable) - priceOf(c.opening, c.playable)
	c.turned, c.settled = opening && !c.opening, true
	c.opening, c.playable = opening, playable
	return more
}

// ways are the routes from the chords of one reference key to a song.
type ways struct {
	in, to pitch.Key
	first  harmony.Chord
	ending harmony.Ending
}

// routesTo gives the routes to a moment's song, worked out once for all moments
// that stand to their songs in the same way.
func (a *Adviser) routesTo(o *outlook) map[harmony.Chord]harmony.Route {
	if o.song == nil {
		return nil
	}
	w := ways{o.grown.key, o.to, o.first, o.moment.Ending}
	routes, known := a.routes[w]
	if !known {
		routes = map[harmony.Chord]harmony.Route{}
		for _, list := range [...][]progression{o.homes, o.aways} {
			for _, p := range list {
				for _, from := range p.chords {
					if _, known := routes[from]; !known {
						routes[from] = harmony.Land(from, w.in, w.to, w.first, w.ending)
					}
				}
			}
		}
		a.routes[w] = routes
	}
	return routes
}

// landing prices the ways from a candidate's chords into the song.
func (o *outlook) landing(c *candidate) {
	if o.song == nil {
		return
	}
	sum := 0
	for _, from := range c.chords {
		r, known := o.routes[from]
		if !known { // it has not grown here, it is the plan's
			r = harmony.Land(from, o.grown.key, o.to, o.first, o.moment.Ending)
		}
		sum += min(r.Cost, longLanding)
		c.chroma = c.chroma || r.Turn == harmony.ChromaticTurn
		if o.to != o.grown.key && c.leads.IsZero() && hasThird(from) && o.to.Classes().Contains(from.Classes()) {
			c.leads = from
		}
	}
	c.price += float64(sum) / float64(len(c.chords)) / landingShare
}

// repeats tells how a progression is related to what the moment before had, home
// to home and away to away.
func (o *outlook) repeats(k kin) harmony.Kinship {
	if o.before == nil {
		return harmony.Unrelated
	}
	had := o.before.Bed.Away
	if k.home {
		had = o.before.Bed.Home
	}
	return harmony.Compare(k.chords, o.grown.key, had, o.before.Bed.Key).Kinship
}

// hasThird reports whether a chord is major or minor.
func hasThird(c harmony.Chord) bool {
	var room [12]harmony.Tone
	return slices.ContainsFunc(c.Tones(room[:0]), func(t harmony.Tone) bool { return t.Role == harmony.Third })
}

// ranked is a pair with its price.
type ranked struct {
	home, away *candidate
	price      float64
	relation   relation // of both together
	chords     int      // different ones
	wanted     int
}

func (o *outlook) together(home, away *candidate) ranked {
	p := ranked{home: home, away: away, price: home.price + away.price}
	p.chords = differentChords(home.chords, away.chords)
	both := len(home.chords) + len(away.chords)
	p.wanted = wantedChords(o.moment)
	p.price += priceLacking*float64(max(0, p.wanted-p.chords)) + priceCrowded*float64(max(0, p.chords-p.wanted))
	p.price += priceShared * float64(both-p.chords)
	if o.ease == Hard {
		p.price += priceHard * float64(max(0, p.chords-4))
	}
	if home.rich != away.rich {
		p.price += priceMixed
	}
	return p
}

// whole compares home and away together with the song.
func (o *outlook) whole(p *ranked) {
	p.relation = o.relate(append(slices.Clone(p.home.chords), p.away.chords...))
	if p.relation.Kinship > harmony.Unrelated {
		p.price += p.relation.price()
	}
}

func sortRanked(pairs []ranked) {
	slices.SortStableFunc(pairs, func(p, q ranked) int { return cmp.Compare(p.price, q.price) })
}

// differentChords counts the chords of two progressions that sound different.
func differentChords(home, away []harmony.Chord) (n int) {
	var seen [2 * mostVoiced]pitch.Set
	for _, list := range [...][]harmony.Chord{home[:min(len(home), mostVoiced)], away[:min(len(away), mostVoiced)]} {
		for _, c := range list {
			if s := c.Classes(); !slices.Contains(seen[:n], s) {
				seen[n] = s
				n++
			}
		}
	}
	return n
}

// wantedChords is how many different chords carry a moment's minutes, home and
// away together: two chords a minute or two, home and away together five to ten.
// Trade practice, no source.
func wantedChords(m *Moment) int {
	switch lasts := m.Lasts; {
	case lasts == 0:
		return 4
	case lasts <= 2*time.Minute:
		return 3
	case lasts <= 5*time.Minute:
		return 4
	case lasts <= 8*time.Minute:
		return 5
	}
	return 6
}
