package harmony

import (
	"math/bits"
	"testing"
)

// sound reports whether the quality has a root and no class twice.
func (q quality) sound() bool {
	return q&unison != 0 && q.classes().Len() == bits.OnesCount32(uint32(q))
}

// everyQuality returns each settled quality that symbols can say: a third, or
// suspensions, or neither, with any fifth, sixth or seventh and tensions.
func everyQuality() []quality {
	subsets := func(tones ...quality) []quality {
		all := []quality{0}
		for _, t := range tones {
			for _, q := range all {
				all = append(all, q|t)
			}
		}
		return all
	}
	var all []quality
	for _, third := range append(subsets(suspendedSecond, suspendedFourth), minorThird, majorThird) {
		for _, fifth := range []quality{0, flatFifth, perfectFifth, sharpFifth, flatFifth | sharpFifth} {
			for _, seventh := range []quality{0, majorSixth, diminishedSeventh, minorSeventh, majorSeventh} {
				for _, high := range subsets(flatNinth, majorNinth, sharpNinth, perfectEleventh, sharpEleventh, flatThirteenth, majorThirteenth) {
					q := unison | third | fifth | seventh | high
					if seventh == diminishedSeventh && q&(majorThird|perfectFifth) != 0 {
						continue // no symbol has one of these beside a diminished seventh
					}
					if q == q.settled() {
						all = append(all, q)
					}
				}
			}
		}
	}
	return all
}

func TestEveryQualityReadsBack(t *testing.T) {
	all := everyQuality()
	if len(all) < 5000 {
		t.Fatalf("only %d qualities", len(all))
	}
	seen := map[string]quality{}
	for _, q := range all {
		s := q.suffix()
		if other, ok := seen[s]; ok {
			t.Errorf("%v and %v are both written %q", q.classes(), other.classes(), s)
		}
		seen[s] = q
		sc := scanner{text: s}
		got, f := sc.quality(majorTriad, false)
		if f != nil || sc.at != len(s) || got != q {
			t.Errorf("%019b is written %q, which reads as %019b, %v", q, s, got, f)
		}
		if !q.sound() {
			t.Errorf("%q has two tones of one class", s)
		}
	}
}
