package voicing

import (
	"fmt"

	"bedd/internal/pitch"
)

// PedalPoint is a bass that stays while the chord above it changes. A pedal
// point under one chord alone is a slash chord: 4/1.
type PedalPoint uint8

// The pedal points. Whatever the chord, and whatever bass its name asks for,
// the bass is the degree of the key; the rules hold over it, and what lies a
// minor ninth above it does not sound, unless the chord on it asks for that by
// name. A tone shut out so is reported, and paid for, as missing.
const (
	NoPedalPoint PedalPoint = iota // each chord's own bass
	TonicPedal
	DominantPedal
)

var pedalPointWords = [...]string{NoPedalPoint: "none", TonicPedal: "tonic", DominantPedal: "dominant"}

// ParsePedalPoint reads none, tonic or dominant.
func ParsePedalPoint(s string) (PedalPoint, error) {
	for p, word := range pedalPointWords {
		if s == word {
			return PedalPoint(p), nil
		}
	}
	return 0, fmt.Errorf("pedal point %q is not known: use none, tonic or dominant", s)
}

// String writes the pedal point as ParsePedalPoint reads it.
func (p PedalPoint) String() string {
	if int(p) < len(pedalPointWords) {
		return pedalPointWords[p]
	}
	return "no pedal point"
}

// name gives the bass in a key.
func (p PedalPoint) name(key pitch.Key) pitch.Name {
	if p == DominantPedal {
		return key.Scale()[4]
	}
	return key.Tonic
}

// clearOfPedal takes out of t what would stand a minor ninth above its bass.
func (t *tonality) clearOfPedal() {
	rub := up(t.bass, 1)
	if t.flatNine && t.root == t.bass {
		return
	}
	if t.tones.Has(rub) {
		t.lacks = t.lacks.Add(rub)
	}
	t.tones, t.bare = t.tones.Without(rub), t.bare.Without(rub)
	t.identity, t.borrowed = t.identity.Without(rub), t.borrowed.Without(rub)
}
