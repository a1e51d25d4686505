package harmony

import (
	"math/bits"
	"strings"

	"bedd/internal/pitch"
)

// quality is the set of tones above a root, one bit for each entry of tones.
// No two tones of a chord's quality sound the same class; see settled.
type quality uint32

const (
	unison quality = 1 << iota
	suspendedSecond
	minorThird
	majorThird
	suspendedFourth
	flatFifth
	perfectFifth
	sharpFifth
	majorSixth
	diminishedSeventh
	minorSeventh
	majorSeventh
	flatNinth
	majorNinth
	sharpNinth
	perfectEleventh
	sharpEleventh
	flatThirteenth
	majorThirteenth
)

// tones has the bits of quality in order.
var tones = [...]Tone{
	{pitch.Interval{Steps: 0, Semitones: 0}, RootTone},
	{pitch.Interval{Steps: 1, Semitones: 2}, Suspension},
	{pitch.Interval{Steps: 2, Semitones: 3}, Third},
	{pitch.Interval{Steps: 2, Semitones: 4}, Third},
	{pitch.Interval{Steps: 3, Semitones: 5}, Suspension},
	{pitch.Interval{Steps: 4, Semitones: 6}, Fifth},
	{pitch.Interval{Steps: 4, Semitones: 7}, Fifth},
	{pitch.Interval{Steps: 4, Semitones: 8}, Fifth},
	{pitch.Interval{Steps: 5, Semitones: 9}, Sixth},
	{pitch.Interval{Steps: 6, Semitones: 9}, Seventh},
	{pitch.Interval{Steps: 6, Semitones: 10}, Seventh},
	{pitch.Interval{Steps: 6, Semitones: 11}, Seventh},
	{pitch.Interval{Steps: 8, Semitones: 13}, Ninth},
	{pitch.Interval{Steps: 8, Semitones: 14}, Ninth},
	{pitch.Interval{Steps: 8, Semitones: 15}, Ninth},
	{pitch.Interval{Steps: 10, Semitones: 17}, Eleventh},
	{pitch.Interval{Steps: 10, Semitones: 18}, Eleventh},
	{pitch.Interval{Steps: 12, Semitones: 20}, Thirteenth},
	{pitch.Interval{Steps: 12, Semitones: 21}, Thirteenth},
}

const (
	majorTriad      = unison | majorThird | perfectFifth
	minorTriad      = unison | minorThird | perfectFifth
	diminishedTriad = unison | minorThird | flatFifth
	augmentedTriad  = unison | majorThird | sharpFifth
	bareFifth       = unison | perfectFifth

	thirds        = minorThird | majorThird
	suspensions   = suspendedSecond | suspendedFourth
	fifths        = flatFifth | perfectFifth | sharpFifth
	sevenths      = diminishedSeventh | minorSeventh | majorSeventh
	alteredNinths = flatNinth | sharpNinth
	alterations   = flatFifth | sharpFifth | alteredNinths | sharpEleventh | flatThirteenth
)

// toneClasses has the class of each of tones above a root on C.
var toneClasses = func() (sets [len(tones)]pitch.Set) {
	for i, t := range tones {
		sets[i] = pitch.SetOf(pitch.ClassOf(int(t.Interval.Semitones)))
	}
	return sets
}()

// classes returns the pitch classes of the quality above a root on C.
// Hot path: no allocation; O(tones).
func (q quality) classes() (s pitch.Set) {
	for rest := q; rest != 0; rest &= rest - 1 {
		s |= toneClasses[bits.TrailingZeros32(uint32(rest))]
	}
	return s
}

// settled drops tones that would only repeat another tone's class under a
// second name, such as a b13 beside a #5.
func (q quality) settled() quality {
	for _, same := range [...]struct{ kept, dropped quality }{
		{suspendedSecond, majorNinth},
		{suspendedFourth, perfectEleventh},
		{minorThird, sharpNinth},
		{flatFifth, sharpEleventh},
		{sharpFifth, flatThirteenth},
		{diminishedSeventh, majorSixth | majorThirteenth},
	} {
		if q&same.kept != 0 {
			q &^= same.dropped
		}
	}
	switch {
	case q&majorSixth == 0:
		return q
	case q&sevenths != 0: // a sixth beside a seventh is a thirteenth
		return q&^majorSixth | majorThirteenth
	case q&(minorThird|fifths) == minorThird|flatFifth: // Cm6b5 is Cdim7
		return q&^(majorSixth|majorThirteenth) | diminishedSeventh
	}
	return q &^ majorThirteenth
}

// recipe is a quality as a chord symbol puts it together.
type recipe struct {
	triad quality // with the third and fifth that the symbol starts from
	tall  quality // the sixth, seventh and higher tones its number names
	sus   quality // suspensions, in place of the third
	omit  quality // thirds, fifths
	alter quality // alterations, in place of the natural tone
	add   quality
}

// quality puts the recipe together.
func (r recipe) quality() quality {
	q := r.triad | r.tall
	if r.tall&perfectEleventh != 0 {
		q &^= majorThird // common practice, no source: an eleventh and a major third clash
	}
	if r.sus != 0 {
		q &^= thirds
	}
	q &^= r.omit
	if r.alter&fifths != 0 {
		q &^= fifths
	}
	if r.alter&alteredNinths != 0 {
		q &^= majorNinth
	}
	if r.alter&sharpEleventh != 0 {
		q &^= perfectEleventh
	}
	if r.alter&flatThirteenth != 0 {
		q &^= majorThirteenth
		if r.tall&sevenths != 0 {
			q &^= perfectFifth // common practice, no source: C7b13 has no G beside its Ab
		}
	}
	return (q | r.sus | r.alter | r.add).settled()
}

// stack returns the tones that a chord's number names; the seventh is the kind
// of seventh below the ninth, eleventh and thirteenth.
func stack(number string, seventh quality) quality {
	switch number {
	case "2":
		return majorNinth
	case "6":
		return majorSixth
	case "69", "6/9":
		return majorSixth | majorNinth
	case "7":
		return seventh
	case "9":
		return seventh | majorNinth
	case "11":
		return seventh | majorNinth | perfectEleventh
	case "13":
		return seventh | majorNinth | majorThirteenth
	}
	return 0
}

// suffix writes the quality as it stands after the root in a chord symbol.
func (q quality) suffix() string {
	r := recipe{triad: majorTriad, sus: q & suspensions, alter: q & (alterations &^ fifths)}
	word, big := "", "maj"
	fifth, seventh := q&fifths, q&sevenths
	switch {
	case seventh == diminishedSeventh || q&minorThird != 0 && fifth == flatFifth && seventh != minorSeventh:
		r.triad, word, big = diminishedTriad, "dim", "Maj"
	case q&minorThird != 0:
		r.triad, word, big = minorTriad, "m", "Maj"
	case q&majorThird != 0 && fifth == sharpFifth && seventh|q&majorSixth == 0:
		r.triad, word = augmentedTriad, "aug"
	case q&(thirds|suspensions|majorSixth) == 0 && fifth == perfectFifth && seventh == 0:
		r.triad, word = bareFifth, "5"
	}
	if fifth != r.triad&fifths {
		r.alter |= fifth &^ perfectFifth
	}
	if fifth == perfectFifth && seventh != 0 {
		r.alter &^= flatThirteenth // it would drive the fifth out; it is added
	}
	number := q.number()
	r.tall = stack(number, seventh)
	if seventh == majorSeventh {
		number = big + number
	}

	if r.quality()&thirds != q&thirds {
		r.omit |= thirds
	}
	if r.quality()&fifths != fifth {
		r.omit |= fifths
	}
	r.add = q &^ r.quality()

	var b strings.Builder
	b.WriteString(word + number)
	for _, s := range [...]struct {
		tone quality
		word string
	}{{suspendedSecond, "sus2"}, {suspendedFourth, "sus4"}} {
		if r.sus&s.tone != 0 {
			b.WriteString(s.word)
		}
	}
	if r.alter != 0 {
		before, after := "", ""
		if text := b.String(); text == "" || text[len(text)-1] > '9' {
			before, after = "(", ")" // so that the accidental keeps off the root
		}
		b.WriteString(before + tensionNames(r.alter, "") + after)
	}
	b.WriteString(tensionNames(r.add, "add"))
	if r.omit&thirds != 0 {
		b.WriteString("no3")
	}
	if r.omit&fifths != 0 {
		b.WriteString("no5")
	}
	return b.String()
}

// number returns the number that names most of the quality, or nothing for a
// triad.
func (q quality) number() string {
	ninth := q&(majorNinth|alteredNinths) != 0
	plainNinth := q&majorNinth != 0 && q&alteredNinths == 0
	switch {
	case q&diminishedSeventh != 0:
		return "7"
	case q&sevenths != 0 && ninth && q&majorThirteenth != 0 && q&flatThirteenth == 0:
		return "13"
	case q&sevenths != 0 && ninth && q&perfectEleventh != 0 && q&(sharpEleventh|majorThird) == 0:
		return "11"
	case q&sevenths != 0 && plainNinth:
		return "9"
	case q&sevenths != 0:
		return "7"
	case q&majorSixth != 0 && plainNinth:
		return "69"
	case q&majorSixth != 0:
		return "6"
	}
	return ""
}

// tension is a tone that a symbol alters or adds, under the name that is
// written and other names that are read.
type tension struct {
	alter  int
	number string
	tone   quality
}

// tensions lists each tone's written name first.
var tensions = [...]tension{
	{-1, "5", flatFifth},
	{+1, "5", sharpFifth},
	{-1, "9", flatNinth},
	{0, "9", majorNinth},
	{0, "2", majorNinth},
	{+1, "9", sharpNinth},
	{0, "11", perfectEleventh},
	{0, "4", perfectEleventh},
	{+1, "11", sharpEleventh},
	{+1, "4", sharpEleventh},
	{-1, "13", flatThirteenth},
	{-1, "6", flatThirteenth},
	{0, "13", majorThirteenth},
	{0, "6", majorSixth},
}

// tensionNames writes the tones of q, each after the prefix.
func tensionNames(q quality, prefix string) string {
	var b strings.Builder
	for _, t := range tensions {
		if q&t.tone != 0 {
			q &^= t.tone
			b.WriteString(prefix + [...]string{"b", "", "#"}[t.alter+1] + t.number)
		}
	}
	return b.String()
}
