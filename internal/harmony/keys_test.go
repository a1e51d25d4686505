package harmony

import (
	"strings"
	"testing"
)

// testdata/degrees.tsv holds the triads and seventh chords of the fifteen major
// and fifteen minor key signatures, natural and harmonic, as tonal 6.4.3 (npm,
// MIT) spells them; written by scripts/anchors/expect. In G# minor the leading
// tone is F## and the chord on it F##dim7.
func TestChordsOfEveryKeySignatureAreSpelled(t *testing.T) {
	rows := readTable(t, "testdata/degrees.tsv")
	if len(rows) != 45 {
		t.Fatalf("%d rows, want 15 keys in major, natural and harmonic minor", len(rows))
	}
	for _, row := range rows {
		k, kind, chords := mustKey(t, row[0]), row[1], row[2:]
		if len(chords) != 14 {
			t.Fatalf("%v has %d chords, want a triad and a seventh on each degree", k, len(chords))
		}
		for i, cell := range chords {
			symbol, names, _ := strings.Cut(cell, "=")
			c := mustChord(t, symbol)
			if got := c.spelled(); got != names {
				t.Errorf("%s in %v %s is %s, want %s", symbol, k, kind, got, names)
			}
			if triad := i%2 == 0; triad && kind != "harmonic" {
				if own := Diatonic(k, i/2+1); own != c {
					t.Errorf("degree %d of %v is %v, want %v", i/2+1, k, own, c)
				}
			}
			if got, err := ParseStep(c.Degree(k), k, FromTonic); err != nil || got != c {
				t.Errorf("%v in %v is degree %s, which reads as %v, %v", c, k, c.Degree(k), got, err)
			}
			if got, ok := Identify(c.Classes(), c.BassClass(), k); !ok || got.spelled() != names {
				t.Errorf("%s sounding in %v %s is called %v, spelled %s, want %s", names, k, kind, got, got.spelled(), names)
			}
			for _, name := range strings.Fields(names) {
				n := mustChord(t, name).Root
				if got := k.Spell(n.Class()); got != n {
					t.Errorf("%v spells the %v of %v as %v", k, n, c, got)
				}
			}
		}
	}
}

// What degrees of harmonic minor are written, by its triads and sevenths
// (standard in every handbook).
func TestHarmonicMinorByDegree(t *testing.T) {
	for _, tt := range []struct{ degree, key, want string }{
		{"5M", "G#m", "D#"}, {"5dom7", "G#m", "D#7"}, {"V7", "A#m", "E#7"}, {"#7dim", "G#m", "F##dim"}, {"#7dim7", "D#m", "C##dim7"},
		{"#vii°7", "A#m", "G##dim7"}, {"5dom7/#7", "G#m", "D#7/F##"}, {"3aug", "A#m", "C#aug"}, {"1mMaj7", "D#m", "D#mMaj7"},
		{"5M", "Abm", "Eb"}, {"#7dim7", "Abm", "Gdim7"}, {"#7dim7", "Ebm", "Ddim7"},
	} {
		k := mustKey(t, tt.key)
		c, err := ParseStep(tt.degree, k, FromTonic)
		if err != nil || c.Symbol() != tt.want {
			t.Errorf("%s in %v is %v, %v, want %s", tt.degree, k, c, err, tt.want)
		}
	}
}
