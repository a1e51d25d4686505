package harmony

import "bedd/internal/pitch"

// The price of a name for what sounds; the lowest wins.
// By ear and common practice, no source.
const (
	priceNoThird      = 4 // the name needs a third that does not sound
	priceNoTallThird  = 8 // the same in a chord with tensions or an altered fifth
	priceNoSlashThird = 4 // and the bass is foreign to it as well
	priceNoFifth      = 3
	priceNoSusFifth   = 5 // with the root alone, a suspension is a bare fourth or second
	priceNoAugFifth   = 6
	priceNoOther      = 12 // a suspension, a sixth, a seventh or a tension
	priceNoneOfMany   = 2  // for each class beyond four that sounds, where one of these does not
	priceOutOfKey     = 3  // for each of these that is not in the key's scale
	priceForeignRoot  = 2  // the root is neither the bass nor in the key's scale
	priceAdded        = 9  // a tone sounds that the name has to add
	priceThirdAdded   = 9  // and two are added already
	priceUnsaid       = 99 // a tone sounds that the name cannot add
	priceInversion    = 2  // the bass is the third, the fifth or the suspension
	priceTallOver     = 4  // the same in a chord with tensions or an altered fifth
	priceSixthBass    = 5  // a sixth chord is inverted: C E G A over E is Am7/E
	priceTallBass     = 6  // the bass is a sixth, a seventh or a tension: Am/G, not Am7/G
	priceSlash        = 5  // the bass is foreign to the name
	priceOddSlash     = 2  // and a semitone or tritone over the root, or the name lacks a third or a plain fifth
	priceRivalBass    = 6  // and it is the other third, or the plain fifth beside an altered one
	priceScaleBass    = 6  // the root is not the bass, though a whole scale sounds
)

// wholeScale is how many classes are a scale rather than a chord: of names about as
// long it gets the one that counts from the bass. C D E F G A B is Cmaj13add11, not
// G13/C. Common practice, no source.
const wholeScale = 7

// candidate is a quality with what Identify needs to price it; its sets are
// above a root on C.
type candidate struct {
	quality quality
	classes pitch.Set
	sayable pitch.Set // what an addition can name
	third   pitch.Set // the class of its third, where it has one
	fifth   pitch.Set
	rarity  int
	noThird int
	noFifth int
	over    [12]int // price of each bass
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
		augmentedTriad | minorSeventh,
		augmentedTriad | majorSeventh,
		unison | majorThird | flatFifth | minorSeventh,
		unison | suspendedSecond | perfectFifth | minorSeventh,
		unison | suspendedFourth | perfectFifth | majorSeventh,
		minorTriad | majorSeventh | majorNinth,
		minorTriad | majorSixth | majorNinth,
		minorTriad | minorSeventh | majorNinth | majorThirteenth,
		unison | suspendedFourth | perfectFifth | minorSeventh | flatNinth,
		majorTriad | minorSeventh | majorNinth | sharpEleventh,
		majorTriad | minorSeventh | majorNinth | sharpEleventh | majorThirteenth,
		majorTriad | majorSeventh | majorNinth | majorThirteenth,
		majorTriad | minorSeventh | flatNinth | majorThirteenth,
		augmentedTriad | minorSeventh | flatNinth,
		augmentedTriad | minorSeventh | majorNinth,
		augmentedTriad | minorSeventh | sharpNinth,
		augmentedTriad | majorNinth,
		unison | suspendedSecond | perfectFifth | majorSixth,
		unison | suspendedSecond | suspendedFourth | perfectFifth,
	},
	[]quality{
		majorTriad | majorSeventh | majorThirteenth,
		unison | majorThird | flatFifth,
	},
)

// rated lists the qualities of each rank, the first rank having rarity 0.
func rated(ranks ...[]quality) []candidate {
	var list []candidate
	for rarity, rank := range ranks {
		for _, q := range rank {
			c := candidate{
				quality: q, classes: q.classes(), sayable: q.sayable(), rarity: rarity,
				third: (q & thirds).classes(), fifth: (q & fifths).classes(),
				noThird: priceNoThird, noFifth: priceNoFifth,
			}
			if q.tall() {
				c.noThird = priceNoTallThird
			}
			switch {
			case q&suspensions != 0:
				c.noFifth = priceNoSusFifth
			case q&sharpFifth != 0:
				c.noFifth = priceNoAugFifth
			}
			for bass := range pitch.Class(12) {
				c.over[bass] = q.priceOver(bass)
			}
			list = append(list, c)
		}
	}
	return list
}

// priceOver is what it costs that a class above the root is the bass.
func (q quality) priceOver(bass pitch.Class) int {
	for i, t := range tones {
		if q&(1<<i) == 0 || pitch.ClassOf(int(t.Interval.Semitones)) != bass {
			continue
		}
		switch {
		case t.Role == RootTone:
			return 0
		case t.Role > Fifth:
			return priceTallBass
		case q&majorSixth != 0:
			return priceSixthBass
		case q.tall():
			return priceTallOver
		}
		return priceInversion
	}
	p := priceSlash
	if q&thirds == 0 || q&perfectFifth == 0 || bass == 1 || bass == 6 {
		p += priceOddSlash
	}
	if q&thirds != 0 && (bass == 3 || bass == 4) || bass == 7 {
		p += priceRivalBass
	}
	return p
}

// tall reports whether the quality has tensions or, with a major third, an
// altered fifth.
func (q quality) tall() bool {
	return q&(alterations&^fifths|majorNinth|perfectEleventh|majorThirteenth) != 0 ||
		q&majorThird != 0 && q&(flatFifth|sharpFifth) != 0
}

// additions has the tone that stands for each class above the root when it is
// added to a chord. A major third and a plain fifth are never added: a chord
// without them is another chord.
var additions = [12]quality{
	1: flatNinth, 2: majorNinth, 3: sharpNinth, 5: perfectEleventh, 6: sharpEleventh,
	8: flatThirteenth, 9: majorSixth, 10: minorSeventh, 11: majorSeventh,
}

// bothSevenths cannot both be added to a chord.
var bothSevenths = (minorSeventh | majorSeventh).classes()

// sayable returns the classes above a root on C that can be added to q, not
// more than one seventh.
func (q quality) sayable() pitch.Set {
	var s pitch.Set
	for class, tone := range additions {
		if tone != 0 && (tone&sevenths == 0 || q&sevenths == 0) {
			s = s.Add(pitch.Class(class))
		}
	}
	return s.Minus(q.classes())
}

// with returns q with sayable classes above the root added to it.
func (q quality) with(more pitch.Set) quality {
	for class, tone := range additions {
		if more.Has(pitch.Class(class)) {
			q |= tone
		}
	}
	return q.settled()
}
