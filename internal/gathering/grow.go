package gathering

import (
	"slices"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// progression is a candidate for home or away.
type progression struct {
	degrees string
	chords  []harmony.Chord // in C or A minor
	kin     int             // which of grown.kins it is a colour of
	rich    bool            // sevenths
	pair    string          // the library's pair that it is half of, or empty
}

// grown is what there is to choose from in major or in minor keys.
type grown struct {
	key   pitch.Key // C or A minor
	homes []progression
	aways []progression
	kins  []kin
}

// kin is what progressions have in common that differ in no more than colour.
type kin struct {
	chords []harmony.Chord
	home   bool
}

// The degrees that progressions grow from: those with a major or minor triad.
var growing = map[bool][]int{false: {1, 2, 3, 4, 5, 6}, true: {1, 3, 4, 5, 6, 7}}

// mostGrown is how many chords a progression grows to.
const mostGrown = 4

// grow makes progressions of two to four different chords by the table of usual
// root progressions: each chord is followed by one that usually or sometimes
// follows it. Home begins on the tonic and may come back to it from anywhere that
// the table has. Away has no tonic and ends on a chord that usually or sometimes
// leads there. Each comes in up to three colours: plain triads; with sevenths, up
// to three chords; with its dominant suspended, or in minor, where it comes last,
// major. Beside sevenths the dominant is always suspended. The library's pairs stand before what has grown.
func grow(library Library, minor bool) *grown {
	g := &grown{key: referenceKey(minor)}
	for _, p := range library {
		if p.Minor == minor {
			g.add(&g.homes, p.Home, p.Name)
			if p.Away != "" {
				g.add(&g.aways, p.Away, p.Name)
			}
		}
	}
	var chain []int
	var extend func()
	extend = func() {
		last := chain[len(chain)-1]
		if back := harmony.Following(last, 1); len(chain) > 1 {
			switch {
			case chain[0] == 1 && back < harmony.Unusual:
				g.colour(&g.homes, chain)
			case chain[0] != 1 && back < harmony.LessOften:
				g.colour(&g.aways, chain)
			}
		}
		if len(chain) == mostGrown {
			return
		}
		for _, next := range growing[minor] {
			if next != 1 && !slices.Contains(chain, next) && harmony.Following(last, next) < harmony.LessOften {
				chain = append(chain, next)
				extend()
				chain = chain[:len(chain)-1]
			}
		}
	}
	for _, first := range growing[minor] {
		chain = []int{first}
		extend()
	}
	return g
}

// referenceKey is the key in which candidates are held.
func referenceKey(minor bool) pitch.Key {
	if minor {
		return pitch.Key{Tonic: pitch.Name{Letter: 5}, Minor: true}
	}
	return pitch.Key{}
}

// add puts in a progression as the library writes it.
func (g *grown) add(to *[]progression, degrees, pair string) {
	chords, err := harmony.ParseProgression(degrees, g.key, harmony.FromTonic)
	if err != nil {
		panic(err) // the library was read by the same rules
	}
	*to = append(*to, progression{degrees: degrees, chords: chords, kin: len(g.kins), pair: pair})
	g.kins = append(g.kins, kin{chords, to == &g.homes})
}

// colour puts in a chain of degrees in its colours.
func (g *grown) colour(to *[]progression, chain []int) {
	dominant := 5
	last := len(chain) - 1
	plain := make([]harmony.Chord, len(chain))
	for i, d := range chain {
		plain[i] = harmony.Diatonic(g.key, d)
	}
	number := len(g.kins)
	if i := slices.IndexFunc(*to, func(p progression) bool { return slices.Equal(p.chords, plain) }); i >= 0 {
		number = (*to)[i].kin // the library has it already
	} else {
		g.kins = append(g.kins, kin{plain, to == &g.homes})
	}
	put := func(chords []harmony.Chord, rich bool) {
		if slices.ContainsFunc(*to, func(p progression) bool { return slices.Equal(p.chords, chords) }) {
			return
		}
		p := progression{chords: chords, kin: number, rich: rich}
		for i, c := range chords {
			if i > 0 {
				p.degrees += " "
			}
			p.degrees += c.Degree(g.key)
		}
		*to = append(*to, p)
	}
	put(plain, false)
	if len(chain) < mostGrown {
		rich := slices.Clone(plain)
		for i := range rich {
			if rich[i] = g.seventh(rich[i]); chain[i] == dominant {
				rich[i] = g.suspended()
			}
		}
		put(rich, true)
	}
	if i := slices.Index(chain, dominant); i >= 0 {
		other := slices.Clone(plain)
		if other[i] = g.suspended(); g.key.Minor && i == last {
			other[i] = harmony.Dominant(g.key)
		}
		put(other, false)
	}
}

// suspended is the fifth degree's chord with a fourth for its third.
func (g *grown) suspended() harmony.Chord {
	c, err := harmony.ParseStep("5sus4", g.key, harmony.FromTonic)
	if err != nil {
		panic(err) // it is read in every key
	}
	return c
}

// seventh is the key's own seventh chord on a triad's root.
func (g *grown) seventh(c harmony.Chord) harmony.Chord {
	for _, word := range []string{"maj7", "7"} {
		if s, err := harmony.ParseChord(c.Symbol() + word); err == nil && g.key.Classes().Contains(s.Classes()) {
			return s
		}
	}
	return c
}
