package gathering

import (
	"bedd/internal/harmony"
)

// Suggestion is a pair of progressions for a moment.
type Suggestion struct {
	Pair       string // the library's name, or empty
	Home, Away string // in degrees counted from the tonic
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
// whole.
const (
	mostPaired   = 5
	mostTogether = 48
)

// Suggest ranks pairs of home and away for moment i of a plan, the best first, n
// at most; no two have both progressions alike but for colour. A pair stays in the
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
	pairs = pairs[:min(len(pairs), mostTogether)]
	for i := range pairs {
		o.whole(&pairs[i])
	}
	sortRanked(pairs)
	var list []Suggestion
	seen := map[[2]int]int{}
	used := map[int]int{}
	for _, p := range pairs {
		h, w := p.home.kin, p.away.kin
		if len(list) == n {
			break
		}
		if seen[[2]int{h, w}] > 0 || used[h] > 1 || used[w] > 1 {
			continue
		}
		seen[[2]int{h, w}]++
		used[h]++
		used[w]++
		list = append(list, o.suggestion(p))
	}
	return list
}

// suggestion puts a pair into the moment's key and words.
func (o *outlook) suggestion(p ranked) Suggestion {
	s := Suggestion{Home: p.home.degrees, Away: p.away.degrees, Price: p.price, Why: o.why(p)}
	if p.home.pair == p.away.pair {
		s.Pair = p.home.pair
	}
	for _, c := range p.home.chords {
		s.HomeChords = append(s.HomeChords, c.Transpose(o.grown.key, o.key))
	}
	for _, c := range p.away.chords {
		s.AwayChords = append(s.AwayChords, c.Transpose(o.grown.key, o.key))
	}
	return s
}
