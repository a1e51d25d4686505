package harmony

import (
	"testing"

	"bedd/internal/pitch"
)

// A chord's tones are spelled by thirds from its root (standard chord
// construction, common practice); other notes by the key.
func TestSpell(t *testing.T) {
	for _, c := range []struct {
		chord, key string
		class      pitch.Class
		want       string
	}{
		{"F#", "C", 10, "A#"}, {"Fm", "Am", 8, "Ab"}, {"Abm", "C", 11, "Cb"}, {"Cm7b5", "C", 6, "Gb"},
		{"Cdim7", "C", 9, "Bbb"}, {"C7b9", "C", 1, "Db"}, {"A#m", "F#m", 1, "C#"}, {"E7", "Am", 8, "G#"},
		{"C/Bb", "D", 10, "Bb"}, {"C9", "C", 2, "D"}, {"C", "Db", 3, "Eb"}, {"G", "F#", 10, "A#"},
	} {
		k, err := pitch.ParseKey(c.key)
		if err != nil {
			t.Fatal(err)
		}
		chord, err := ParseChord(c.chord)
		if err != nil {
			t.Fatal(err)
		}
		if got := chord.Spell(c.class, k).String(); got != c.want {
			t.Errorf("class %d under %s in %s is %s, want %s", c.class, c.chord, c.key, got, c.want)
		}
	}
}
