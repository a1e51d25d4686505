package gathering

import (
	"strings"

	"bedd/internal/harmony"
)

// Suggestion is a pair of progressions for a moment.
type Suggestion struct {
	Pair       string // the library's name, or empty
	Home, Away string // in degrees, counted as the plan counts them
	HomeChords []harmony.Chord
	AwayChords []harmony.Chord
	Price      float64 // the less the better, see [Adviser.Suggest]
	Why        string  // a sentence
}

// What a suggestion costs, beside the engine's cost of a chord divided by
// voicingShare and the mean cost of the landings divided by landingShare. By ear.
const (
	priceSame      = 20.0 // the next song's progression, from any chord on
	pricePart      = 12.0 // a part of it, or more than it
	priceDisguised = 6.0  // the same but for substitutions
	priceNear      = 1.5  // at most, for what is merely near
	priceOpening   = 6.0  // the song's figure in the top line
	pricePlayable  = 0.5  // for each chord on whose safe notes the figure can be played
	priceAgain     = 5.0  // what the last moment had
	priceAlike     = 1.5  // something like it
	priceLacking   = 1.5  // for each chord too few for the minutes
	priceCrowded   = 0.3  // for each too many
	priceHard      = 0.5  // for each chord with a seventh, and each beyond four, in a key that lies badly
	priceShared    = 0.6  // for each chord that home and away share
	priceMixed     = 0.4  // sevenths in the one, none in the other
	priceRestless  = 0.5  // a dominant in home
	voicingShare   = 4.0
	landingShare   = 12.0
	longLanding    = 30 // what a chromatic landing counts as
)

// mostPaired is how many of the best homes and aways of each length are tried
// together, mostTogether how many of the best pairs are compared with the song as a
// whole, mostOfKin how many of them may have the same home or away but for colour.
const (
	mostPaired   = 5
	mostTogether = 48
	mostOfKin    = 6
)

// Suggest ranks pairs of home and away for moment i of a plan, the best first, n
// at most; each has a home and an away of its own, as far as there are enough. A pair stays in the
// moment's key. Its price rises with how much it has of the next song's
// progressions in any rotation or common substitution, with the song's figure in
// its top line or safe notes, with what the moment before used, with too few
// chords for the minutes (two carry one or two minutes, home and away together
// five to ten: trade practice, no source), with the length of the ways into the
// next song, with the engine's cost, and in keys that lie badly with the chords to
// be thought of.
func (a *Adviser) Suggest(g *Gathering, i, n int) []Suggestion {
	o := a.outlook(g, i)
	homes, aways := a.best(o, o.grown.homes, true), a.best(o, o.grown.aways, false)
	var pairs []ranked
	for h := range homes {
		for w := range aways {
			pairs = append(pairs, o.together(&homes[h], &aways[w]))
		}
	}
	sortRanked(pairs)
	pairs = varied(pairs)
	for i := range pairs {
		o.whole(&pairs[i])
	}
	sortRanked(pairs)
	return a.chosen(o, pairs, n)
}

// varied keeps the best pairs, not too many of a kin.
func varied(pairs []ranked) []ranked {
	var kept []ranked
	homes, aways := map[int]int{}, map[int]int{}
	for _, p := range pairs {
		if len(kept) < mostTogether && homes[p.home.kin] < mostOfKin && aways[p.away.kin] < mostOfKin {
			homes[p.home.kin]++
			aways[p.away.kin]++
			kept = append(kept, p)
		}
	}
	return kept
}

// Judge is what the plan itself has for moment i, priced and worded as if it were
// suggested. It is not ok where the rig's range has no room for it.
func (a *Adviser) Judge(g *Gathering, i int) (s Suggestion, ok bool) {
	o := a.outlook(g, i)
	own := func(chords []harmony.Chord, home bool) (candidate, bool) {
		p := progression{pair: o.moment.Pair}
		for _, c := range chords[:min(len(chords), mostVoiced)] {
			p.chords = append(p.chords, c.Transpose(o.key, o.grown.key))
		}
		var words []string
		for _, c := range p.chords {
			words = append(words, c.Degree(o.grown.key))
		}
		p.degrees = strings.Join(words, " ")
		return a.priced(o, p, o.relate(p.chords), o.repeats(kin{p.chords, home}), home)
	}
	home, ok := own(o.moment.Bed.Home, true)
	if !ok {
		return Suggestion{}, false
	}
	var away candidate
	if len(o.moment.Bed.Away) > 0 {
		if away, ok = own(o.moment.Bed.Away, false); !ok {
			return Suggestion{}, false
		}
	}
	p := o.together(&home, &away)
	o.whole(&p)
	p.price += a.settle(o, &home) + a.settle(o, &away)
	return o.suggestion(p), true
}

// chosen picks the best pairs that differ: first those whose home and away are
// both new, then, while there are too few, those of which one is. Each is voiced
// once more in the moment's own key, whose range may turn a voicing over; where
// that gives the song's figure away, the pair waits for the second round.
func (a *Adviser) chosen(o *outlook, pairs []ranked, n int) []Suggestion {
	var list []ranked
	homes, aways := map[int]bool{}, map[int]bool{}
	for _, strict := range []bool{true, false} {
		for _, p := range pairs {
			h, w := homes[p.home.kin], aways[p.away.kin]
			if len(list) == n || h && w || strict && (h || w) {
				continue
			}
			if p.price += a.settle(o, p.home) + a.settle(o, p.away); strict && (p.home.turned || p.away.turned) {
				continue
			}
			homes[p.home.kin], aways[p.away.kin] = true, true
			list = append(list, p)
		}
	}
	sortRanked(list)
	var suggestions []Suggestion
	for _, p := range list {
		suggestions = append(suggestions, o.suggestion(p))
	}
	return suggestions
}

// suggestion puts a pair into the moment's key and words.
func (o *outlook) suggestion(p ranked) Suggestion {
	s := Suggestion{Home: o.written(p.home), Away: o.written(p.away), Price: p.price, Why: o.why(p)}
	if p.home.pair == p.away.pair {
		s.Pair = p.home.pair
	}
	s.HomeChords, s.AwayChords = o.inKey(p.home), o.inKey(p.away)
	return s
}

// inKey gives a candidate's chords in the moment's key.
func (o *outlook) inKey(c *candidate) []harmony.Chord {
	var chords []harmony.Chord
	for _, chord := range c.chords {
		chords = append(chords, chord.Transpose(o.grown.key, o.key))
	}
	return chords
}

// written is a progression as the plan counts degrees.
func (o *outlook) written(c *candidate) string {
	if !o.relative || !o.key.Minor {
		return c.degrees
	}
	var words []string
	for _, chord := range c.chords {
		words = append(words, chord.Degree(o.grown.key.Relative()))
	}
	return strings.Join(words, " ")
}
