package pitch

import (
	"os"
	"strings"
	"testing"
)

// testdata/scales.tsv holds the scales of the fifteen major and fifteen minor
// key signatures as tonal 6.4.3 (npm, MIT) spells them; written by
// scripts/anchors/expect. Of a minor key's scales Scale gives the natural one;
// Spell gives the raised degrees of the others too: F## in G# minor.
func TestEveryKeySignatureIsSpelled(t *testing.T) {
	text, err := os.ReadFile("testdata/scales.tsv")
	if err != nil {
		t.Fatal(err)
	}
	rows := 0
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "# ") {
			continue
		}
		rows++
		cells := strings.Split(strings.TrimSuffix(line, "\n"), "\t")
		key, kind, want := mustKey(t, cells[0]), cells[1], cells[2]
		if scale := key.Scale(); kind != "harmonic" && kind != "melodic" && written(scale[:]) != want {
			t.Errorf("%v %s is %s, want %s", key, kind, written(scale[:]), want)
		}
		var names []Name
		for _, word := range strings.Fields(want) {
			n, rest, err := ParseName(word)
			if err != nil || rest != "" {
				t.Fatalf("%q in the file: %v", word, err)
			}
			names = append(names, key.Spell(n.Class()))
		}
		if written(names) != want {
			t.Errorf("%v spells its %s scale %s, want %s", key, kind, written(names), want)
		}
	}
	if rows != 15+3*15 {
		t.Errorf("%d scales in the file, want 60", rows)
	}
}
