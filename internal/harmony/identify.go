package harmony

import (
	"math/bits"

	"bedd/internal/pitch"
)

// The price of a name for what sounds; the lowest wins.
// By ear and common practice, no source.
const (
	priceNoThird    = 4 // the name needs a third that does not sound
	priceNoFifth    = 3
	priceNoSusFifth = 5 // with the root alone, a suspension is a bare fourth or second
	priceNoAugFifth = 6
	priceNoOther    = 12 // a suspension, a sixth, a seventh or a tension
	priceOutOfKey   = 3  // for each of these that is not in the key's scale
	priceStray      = 10 // a tone sounds that the name does not have
	priceSlash      = 5  // the bass is such a tone
	priceInversion  = 2  // the bass is the third, the fifth or the suspension
	priceTallBass   = 6  // the bass is a sixth, a seventh or a tension: Am/G, not Am7/G
	priceSixthBass  = 5  // a sixth chord is inverted: C E G A over E is Am7/E
)

// candidate is a quality with what Identify needs to price it.
type candidate struct {
	quality quality
	classes pitch.Set // above a root on C
	rarity  int
}

// candidates has the qualities that Identify knows, the common ones first.
var candidates = rated(
	[]quality{
		majorTriad,
		minorTriad,
	},
	[]quality{
		majorTriad | minorSeventh,
		minorTriad | minorSeventh,
		majorTriad | majorSeventh,
	},
	[]quality{
		diminishedTriad,
		majorTriad | majorNinth,
		unison | suspendedFourth | perfectFifth,
		unison | suspendedSecond | perfectFifth,
		majorTriad | majorSixth,
		diminishedTriad | minorSeventh,
		minorTriad | majorSixth,
	},
	[]quality{
		minorTriad | majorNinth,
		unison | suspendedFourth | perfectFifth | minorSeventh,
		minorTriad | minorSeventh | majorNinth,
		majorTriad | minorSeventh | majorNinth,
		majorTriad | majorSeventh | majorNinth,
		majorTriad | majorSixth | majorNinth,
		diminishedTriad | diminishedSeventh,
		augmentedTriad,
		minorTriad | majorSeventh,
	},
	[]quality{
		unison | suspendedFourth | perfectFifth | minorSeventh | majorNinth,
		majorTriad | perfectEleventh,
		minorTriad | perfectEleventh,
		minorTriad | minorSeventh | perfectEleventh,
		minorTriad | minorSeventh | majorNinth | perfectEleventh,
		majorTriad | minorSeventh | majorThirteenth,
		majorTriad | minorSeventh | majorNinth | majorThirteenth,
		majorTriad | minorSeventh | flatNinth,
		majorTriad | minorSeventh | sharpNinth,
		majorTriad | minorSeventh | sharpEleventh,
		majorTriad | majorSeventh | sharpEleventh,
		majorTriad | majorSeventh | majorNinth | sharpEleventh,
		majorTriad | majorSeventh | majorThirteenth,
		augmentedTriad | minorSeventh,
		augmentedTriad | majorSeventh,
		unison | majorThird | flatFifth | minorSeventh,
		unison | suspendedSecond | perfectFifth | minorSeventh,
		unison | suspendedFourth | perfectFifth | majorSeventh,
		minorTriad | majorSeventh | majorNinth,
		minorTriad | majorSixth | majorNinth,
		unison | suspendedSecond | suspendedFourth | perfectFifth,
		unison | majorThird | flatFifth,
	},
)

// rated lists the qualities of each rank, the first rank having rarity 0.
func rated(ranks ...[]quality) []candidate {
	var list []candidate
	for rarity, rank := range ranks {
		for _, q := range rank {
			list = append(list, candidate{q, q.classes(), rarity})
		}
	}
	return list
}

// Identify names what sounds over a bass as a keyboard player in key k would,
// spelled for the key; it is not ok only when nothing sounds. The bass counts
// as sounding.
//
// One class is the key's own triad on it, or a major triad where the key has
// none. Where a third or fifth is missing, the key fills it in. C E G A is C6
// over C and Am7 over A; C F G is Csus4 over C and Fsus2 over F; a triad over a
// bass of its own or a foreign one is a slash chord. Clusters get the name that
// misses least. Equal names are settled by the nearer root upwards from the
// bass, then by the order of candidates.
// Hot path: no allocation; 12 roots × 43 candidates at most.
func Identify(sounding pitch.Set, bass pitch.Class, k pitch.Key) (Chord, bool) {
	if sounding == 0 {
		return Chord{}, false
	}
	sounding = sounding.Add(bass)
	scale := k.Classes()
	if sounding.Len() == 1 {
		return alone(k.Spell(bass), k), true
	}
	best, root, lowest := candidate{}, bass, 1<<30
	for up := range 12 {
		r := bass.Up(up)
		if !sounding.Has(r) {
			continue
		}
		down := -int(r)
		heard, inKey := sounding.Transpose(down), scale.Transpose(down)
		for _, c := range candidates {
			if p := c.price(heard, bass.Up(down), inKey, lowest); p < lowest {
				best, root, lowest = c, r, p
			}
		}
	}
	name := k.Spell(root)
	return Chord{Root: name, Bass: best.quality.bassName(name, bass, k), quality: best.quality}, true
}

// alone returns the triad that a single note stands for.
func alone(n pitch.Name, k pitch.Key) Chord {
	for i, own := range k.Scale() {
		if own == n {
			return Diatonic(k, i+1)
		}
	}
	return Chord{Root: n, Bass: n, quality: majorTriad}
}

// price rates the candidate as a name for what is heard, everything being
// counted from the candidate's root. A price that is not below the limit may
// be incomplete.
func (c candidate) price(heard pitch.Set, bass pitch.Class, inKey pitch.Set, limit int) int {
	p := c.rarity + priceStray*heard.Minus(c.classes).Without(bass).Len()
	if p >= limit {
		return p
	}
	q := c.quality
	for rest := q; rest != 0; rest &= rest - 1 {
		t := tones[bits.TrailingZeros32(uint32(rest))]
		class := pitch.ClassOf(int(t.Interval.Semitones))
		if !heard.Has(class) {
			p += q.priceWithout(t)
			if !inKey.Has(class) {
				p += priceOutOfKey
			}
		}
		if class == bass {
			p += q.priceOver(t)
		}
	}
	if !c.classes.Has(bass) {
		p += priceSlash
	}
	return p
}

// priceWithout is what it costs that a tone of the quality does not sound.
func (q quality) priceWithout(t Tone) int {
	switch {
	case t.Role == Third:
		return priceNoThird
	case t.Role != Fifth:
		return priceNoOther
	case q&suspensions != 0:
		return priceNoSusFifth
	case q&sharpFifth != 0:
		return priceNoAugFifth
	}
	return priceNoFifth
}

// priceOver is what it costs that a tone of the quality is the bass.
func (q quality) priceOver(t Tone) int {
	switch {
	case t.Role == RootTone:
		return 0
	case t.Role > Fifth:
		return priceTallBass
	case q&majorSixth != 0:
		return priceSixthBass
	}
	return priceInversion
}

// bassName spells a bass as a tone of the chord where it is one.
func (q quality) bassName(root pitch.Name, bass pitch.Class, k pitch.Key) pitch.Name {
	for i, t := range tones {
		if n := root.Up(t.Interval); q&(1<<i) != 0 && n.Class() == bass {
			return plain(n, k)
		}
	}
	return k.Spell(bass)
}
