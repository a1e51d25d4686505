package harmony

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bedd/internal/pitch"
)

// testdata/likeness.tsv holds pairs that were made up and labelled by hand. What
// is the same is found to be, what is unrelated is never taken for anything else;
// of what is disguised one in twenty may be missed. A part may be labelled the
// same, or disguised where a chord was put in between.
func TestLabelledProgressions(t *testing.T) {
	counts, missed := map[string]int{}, 0
	for _, row := range readTable(t, "testdata/likeness.tsv") {
		in, of := mustKey(t, row[1]), mustKey(t, row[3])
		a, b := mustProgression(t, row[2], in), mustProgression(t, row[4], of)
		counts[row[0]]++
		for _, l := range []Likeness{Compare(a, in, b, of), Compare(b, of, a, in)} {
			fits := map[Kinship]string{Unrelated: "unrelated", Disguised: "disguised", Rotated: "same", Equal: "same", Contains: "same disguised", Contained: "same disguised"}
			switch {
			case strings.Contains(fits[l.Kinship], row[0]):
			case row[0] == "disguised" && l.Kinship == Unrelated:
				missed++
				t.Logf("missed: %s in %v and %s in %v at %.2f", row[2], in, row[4], of, l.Distance)
			default:
				t.Errorf("%s in %v and %s in %v: %v at %.2f, labelled %s", row[2], in, row[4], of, l.Kinship, l.Distance, row[0])
			}
		}
	}
	if missed > 2*counts["disguised"]/20 { // each is looked at both ways
		t.Errorf("of %d disguised pairs %d are missed", counts["disguised"], missed/2)
	}
	if counts["same"] < 20 || counts["disguised"] < 20 || counts["unrelated"] < 20 {
		t.Errorf("pairs: %v, want 20 of each at least", counts)
	}
}

func mustProgression(t testing.TB, s string, k pitch.Key) []Chord {
	t.Helper()
	chords, err := ParseProgression(s, k, FromTonic)
	if err != nil {
		t.Fatal(err)
	}
	return chords
}

func TestCompare(t *testing.T) {
	for _, tt := range []struct {
		in, a, of, b string
		want         Kinship
		from         int
	}{
		{"C", "1 5 6m 4", "C", "1 5 6m 4", Equal, 0},
		{"C", "1 5 6m 4", "C", "6m 4 1 5", Rotated, 2},
		{"C", "5 6m 4", "G", "1 5 6m 4", Contained, 1},
		{"C", "4 1 5", "C", "1 5 6m 4", Contained, 3}, // round the end
		{"C", "1 4 5 2m", "C", "4 5 2m", Contains, 0},
		{"C", "1 5", "C", "1 5 6m 4", Unrelated, 0}, // two chords are no part
		{"C", "1 6m 2dom7 5", "C", "1 6m 2m 5", Disguised, 0},
		{"Am", "1 6 3 7", "C", "6m 4 1 5", Equal, 0}, // the same signature
		{"Am", "1 4", "A", "1 4", Unrelated, 0},      // the same tonic, other thirds throughout
		{"C", "C F", "G", "4 b7", Equal, 0},          // the very chords
		{"C", "1 4", "G", "4 1", Rotated, 1},
		{"C", "1", "C", "1", Unrelated, 0}, // nothing goes anywhere
	} {
		in, of := mustKey(t, tt.in), mustKey(t, tt.of)
		l := Compare(mustProgression(t, tt.a, in), in, mustProgression(t, tt.b, of), of)
		if l.Kinship != tt.want || l.From != tt.from && tt.want != Unrelated {
			t.Errorf("%s in %v and %s in %v: %v from %d (%.2f), want %v from %d", tt.a, in, tt.b, of, l.Kinship, l.From, l.Distance, tt.want, tt.from)
		}
	}
}

// Moved to another key with it, or begun elsewhere, a progression is as alike to
// another as before.
func TestLikenessStaysUnderTranspositionAndRotation(t *testing.T) {
	all := allKeys()
	triads := rapid.Custom(func(t *rapid.T) []int { return rapid.SliceOfN(rapid.IntRange(1, 7), 2, 8).Draw(t, "degrees") })
	rapid.Check(t, func(t *rapid.T) {
		in, of := rapid.SampledFrom(all).Draw(t, "in"), rapid.SampledFrom(all).Draw(t, "of")
		var a, b []Chord
		for _, d := range triads.Draw(t, "a") {
			a = append(a, Diatonic(in, d))
		}
		for _, d := range triads.Draw(t, "b") {
			b = append(b, Diatonic(of, d))
		}
		before := Compare(a, in, b, of)
		if turn := rapid.IntRange(0, len(a)-1).Draw(t, "turn"); true {
			a = append(append([]Chord{}, a[turn:]...), a[:turn]...)
		}
		if turn := rapid.IntRange(0, len(b)-1).Draw(t, "turn"); true {
			b = append(append([]Chord{}, b[turn:]...), b[:turn]...)
		}
		up := rapid.IntRange(0, 11).Draw(t, "up")
		inUp, ofUp := in.Transpose(up), of.Transpose(up)
		for i := range a {
			a[i] = a[i].Transpose(in, inUp)
		}
		for i := range b {
			b[i] = b[i].Transpose(of, ofUp)
		}
		after := Compare(a, inUp, b, ofUp)
		if before.Kinship == Equal || before.Kinship == Rotated {
			if after.Kinship != Equal && after.Kinship != Rotated {
				t.Fatalf("%v, turned and moved %v", before, after)
			}
			return
		}
		if d := before.Distance - after.Distance; before.Kinship != after.Kinship || d > 1e-9 || d < -1e-9 {
			t.Fatalf("%v, turned and moved %v", before, after)
		}
	})
}

// Whatever is compared, the distance of a progression to itself is none, and it
// is the same both ways.
func TestLikenessIsMutual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in, of := keys().Draw(t, "in"), keys().Draw(t, "of")
		a := rapid.SliceOfN(chords(), 1, 20).Draw(t, "a")
		b := rapid.SliceOfN(chords(), 1, 20).Draw(t, "b")
		there, back := Compare(a, in, b, of), Compare(b, of, a, in)
		if d := there.Distance - back.Distance; d > 1e-9 || d < -1e-9 || there.Distance < 0 || there.Distance > 1 {
			t.Fatalf("%v, the other way %v", there, back)
		}
		var s sequence
		if s.take(a, 0); s.n > 1 {
			if self := Compare(a, in, a, in); self.Kinship != Equal || self.Distance != 0 {
				t.Fatalf("%v is to itself %v", a, self)
			}
		}
	})
}

func BenchmarkCompare(b *testing.B) {
	in, of := mustKey(b, "C"), mustKey(b, "G")
	bed, song := mustProgression(b, "1 4 6m 5", in), mustProgression(b, "1 5 6m 3m 4 1 4 5", of)
	b.ReportAllocs()
	for b.Loop() {
		Compare(bed, in, song, of)
	}
}
