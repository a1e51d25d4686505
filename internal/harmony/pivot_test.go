package harmony

import (
	"fmt"
	"strings"
	"testing"

	"bedd/internal/pitch"
)

// Major keys: as handbooks list them, such as the table of G and D major in the
// article "Common chord (music)" of Wikipedia: C to G has it as I IV, iii vi,
// V I, vi ii. Relative keys have all their chords in common. To and from minor,
// with both forms of the fifth and the seventh degree: common practice, no source.
func TestPivots(t *testing.T) {
	for _, tt := range []struct{ here, there, want string }{
		{"C", "G", "1=4 3m=6m 5=1 6m=2m"},
		{"G", "D", "1=4 3m=6m 5=1 6m=2m"},
		{"C", "F", "1=5 2m=6m 4=1 6m=3m"},
		{"C", "D", "3m=2m 5=4"},
		{"C", "Bb", "2m=3m 4=5"},
		{"C", "Eb", ""}, {"C", "A", ""}, {"C", "E", ""}, {"C", "Ab", ""}, {"C", "Db", ""}, {"C", "B", ""}, {"C", "F#", ""},
		{"C", "Am", "1=3 2m=4m 3m=5m 4=6 5=7 6m=1m 7dim=2dim"},
		{"C", "Em", "1=6 3m=1m 5=3 6m=4m"},
		{"C", "Dm", "1=7 2m=1m 4=3 6m=5m"},
		{"C", "Cm", "5=5M 7dim=#7dim"},
		{"Am", "Em", "1m=4m 3=6 5m=1m 7=3"},
		{"Am", "A", "5M=5 #7dim=7dim"},
		{"F#", "Gb", "1=1 2m=2m 3m=3m 4=4 5=5 6m=6m 7dim=7dim"},
	} {
		here, there := mustKey(t, tt.here), mustKey(t, tt.there)
		var got []string
		for _, p := range Pivots(here, there) {
			got = append(got, p.Here.Degree(here)+"="+p.There.Degree(there))
		}
		if strings.Join(got, " ") != tt.want {
			t.Errorf("pivots from %v to %v are %v, want %s", here, there, got, tt.want)
		}
	}
}

// testdata/degrees.tsv holds the triads of the thirty key signatures as tonal
// 6.4.3 (npm, MIT) has them, in natural and harmonic minor: what it has in both
// keys of a pair, the augmented triad of harmonic minor aside, are the pivots.
func TestPivotsBetweenAllKeysAgreeWithAnIndependentLibrary(t *testing.T) {
	tones := map[string]map[string]bool{} // by key: the classes of its triads
	for _, cells := range readTable(t, "testdata/degrees.tsv") {
		key := cells[0]
		if tones[key] == nil {
			tones[key] = map[string]bool{}
		}
		for i, degree := range []int{0, 1, 2, 3, 4, 5, 6} {
			if cells[1] == "harmonic" && degree < 4 || cells[1] == "harmonic" && degree == 5 {
				continue // as in natural minor, but for the augmented third
			}
			_, names, _ := strings.Cut(cells[2+2*i], "=")
			set := pitch.Set(0)
			for _, word := range strings.Fields(names) {
				n, rest, err := pitch.ParseName(word)
				if err != nil || rest != "" {
					t.Fatalf("%q in the file: %v", word, err)
				}
				set = set.Add(n.Class())
			}
			if set.Len() != 3 {
				t.Fatalf("%s in the file has %d classes", cells[2+2*i], set.Len())
			}
			tones[key][set.String()] = true
		}
	}
	if len(tones) != 30 {
		t.Fatalf("%d keys in the file, want 30", len(tones))
	}
	for a := range tones {
		for b := range tones {
			want := 0
			for set := range tones[a] {
				if tones[b][set] {
					want++
				}
			}
			pivots := Pivots(mustKey(t, a), mustKey(t, b))
			for _, p := range pivots {
				if set := p.Here.Classes().String(); !tones[a][set] || !tones[b][set] {
					t.Errorf("from %s to %s: %v is not in both", a, b, p)
				}
			}
			if len(pivots) != want {
				t.Errorf("from %s to %s: %v, want %d", a, b, pivots, want)
			}
		}
	}
}

// The table of closely related keys as the article "Closely related key" of
// Wikipedia has had it: the relative key, then subdominant, dominant, supertonic
// and mediant. Those of a minor key are those of its relative major, with that in
// its own place.
func TestCloselyRelatedKeys(t *testing.T) {
	for _, row := range []string{
		"C Am F G Dm Em", "G Em C D Am Bm", "D Bm G A Em F#m", "A F#m D E Bm C#m", "E C#m A B F#m G#m", "B G#m E F# C#m D#m",
		"Gb Ebm Cb Db Abm Bbm", "Db Bbm Gb Ab Ebm Fm", "Ab Fm Db Eb Bbm Cm", "Eb Cm Ab Bb Fm Gm", "Bb Gm Eb F Cm Dm", "F Dm Bb C Gm Am",
	} {
		names := strings.Fields(row)
		major, minor := mustKey(t, names[0]), mustKey(t, names[1])
		check := func(k pitch.Key, want ...string) {
			t.Helper()
			if got := fmt.Sprint(CloselyRelated(k)); got != fmt.Sprint(want) {
				t.Errorf("close to %v are %v, want %v", k, got, want)
			}
		}
		check(major, names[1], names[2], names[4], names[3], names[5])
		check(minor, names[0], names[4], names[2], names[5], names[3])
		for _, close := range CloselyRelated(major) {
			if d := close.Signature() - major.Signature(); d < -1 || d > 1 {
				t.Errorf("%v and %v differ by %d accidentals", major, close, d)
			}
		}
	}
}
