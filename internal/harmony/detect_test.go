package harmony

import (
	"slices"
	"strings"
	"testing"

	"bedd/internal/pitch"
)

// Names of tonal's that charts do not have: each says a common chord over
// another root, or a stack that no player reads at sight. Common practice, no
// source.
var oddNames = strings.Fields("mb6M7 mMaj7b6 mMaj9b6 mb6b9 m#5 m7#5 m9#5 m11A 7#5sus4 M7#5sus4 M9#5sus4 M9sus4 M7b6 M7b9 M9b5 M6#11 +add#9 M#5add9 4")

// Sets over C that Identify names otherwise than tonal and for no reason that
// the test knows: what tonal calls them, what Identify does, and why.
var namedDifferently = []struct{ classes, theirs, ours, why string }{
	{"0 1 5 9", "DbM7b6/C", "F(b13)/C", "F major sounds whole, in the key; tonal's roots are augmented"},
	{"0 6 8 9", "Abalt7/C", "F#dimadd9/C", "a diminished triad sounds whole; tonal leaves the fifth out"},
	{"0 3 9 11", "Balt7/C", "Adimadd9/C", "a diminished triad sounds whole; tonal leaves the fifth out"},
	{"0 5 6 10", "F#M7b5/C", "Fsus4b9/C", "the sus4 sounds whole; tonal has an altered fifth"},
	{"0 1 3 6 8 10", "F#69#11/C", "Ebm7add11/C", "Ebm7 sounds whole with one tone added; tonal adds three"},
	{"0 5 6 8 10", "F#M9b5/C", "Fm(b9)add11/C", "F minor sounds whole; tonal needs a flat fifth or leaves one out"},
	{"0 2 3 5 8 10", "Cm11A/C", "Fm7add11add13/C", "F minor sounds whole; tonal's m11A has a raised fifth"},
	{"0 2 5 6 8 10", "Ab13b5/C", "Bb7addb13/C", "Bb7 sounds whole; tonal has an altered fifth"},
	{"0 1 3 5 7 9", "Eb13b5/C", "F9addb13/C", "F9 sounds whole; tonal has an altered fifth"},
	{"0 1 4 5 7 9", "A7#9b13/C", "Fmaj9addb13/C", "Fmaj9 sounds whole with one tone added; tonal alters two"},
	{"0 2 3 4 6 8 9", "Ab7b9b13#11/C", "D7b9#11add9/C", "seven classes of which four lie side by side"},
	{"0 2 5 6 9 10", "D7#9b13/C", "Bbmaj7addb13/C", "Bbmaj7 sounds whole with one tone added"},
	{"0 2 3 6 8 9 10", "D7b9b13#11/C", "Ab7b9#11add9/C", "seven classes of which four lie side by side"},
	{"0 3 5 6 7 9 11", "B7b9b13#11/C", "F7b9#11add9/C", "seven classes of which three lie side by side"},
}

// testdata/detect.tsv holds what tonal 6.4.3 (npm, MIT) calls every set over C
// that is one of its chords; written by scripts/anchors/expect. tonal's names
// hold exactly what sounds, so a name agrees with it when it does too and has the
// same root. It may differ where the key fills in a third or fifth, keeps the
// bass as its root, is shorter than tonal's, or where tonal has but odd names.
func TestNamesAgreeWithAnIndependentDetection(t *testing.T) {
	listed := map[string]bool{}
	count := map[string]int{}
	for _, row := range readTable(t, "testdata/detect.tsv") {
		sounding, theirs := parseClasses(t, row[0]), row[1:]
		ours, ok := Identify(sounding, 0, pitch.Key{})
		if !ok || ours.BassClass() != 0 || !ours.Classes().Contains(sounding) {
			t.Errorf("%s over C is called %v", row[0], ours)
		}
		sameRoot, allOverOtherRoots, shortest, odd := false, true, 99, true
		for _, name := range theirs {
			name, slashed := strings.CutSuffix(name, "/C")
			root, suffix, err := pitch.ParseName(name)
			if err != nil {
				t.Fatal(err)
			}
			sameRoot = sameRoot || root.Class() == ours.Root.Class()
			allOverOtherRoots = allOverOtherRoots && slashed
			shortest = min(shortest, len(strings.TrimPrefix(suffix, "M")))
			odd = odd && slices.Contains(oddNames, suffix)
		}
		exact := ours.Classes() == sounding
		switch {
		case exact && sameRoot:
			count["same"]++
		case sameRoot, !exact && !ours.Slash():
			count["filled in by the key"]++
		case exact && !ours.Slash() && allOverOtherRoots:
			count["rooted on the bass"]++
		case exact && len(strings.Replace(ours.quality.suffix(), "maj", "M", 1)) <= shortest:
			count["shorter"]++
		case odd:
			count["odd in tonal"]++
		default:
			found := false
			for _, d := range namedDifferently {
				if d.classes == row[0] && d.ours == ours.Symbol() {
					found, listed[row[0]] = true, true
				}
			}
			if !found {
				t.Errorf("%s over C is called %v, by tonal %s", row[0], ours, strings.Join(theirs, ", "))
			}
			count["listed"]++
		}
	}
	for _, d := range namedDifferently {
		if !listed[d.classes] {
			t.Errorf("the exception for %s (%s) is not needed", d.classes, d.theirs)
		}
	}
	t.Log(count)
	if count["same"] < 235 { // scales of seven are named from their bass
		t.Errorf("only %d names agree outright", count["same"])
	}
}
