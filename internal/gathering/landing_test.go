package gathering

import (
	"fmt"
	"strings"
	"testing"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

func TestLandingsAreExplained(t *testing.T) {
	a := adviser(t, DefaultRig())
	for _, tt := range []struct {
		from, in, to, first string
		ending              harmony.Ending
		want                string
	}{
		{"C", "C", "D", "D", harmony.DominantEnding, "Em in D: 3m of C and 2m of D: here the key turns | A in D: 5 of D | D in D: 1 of D"},
		{"C", "C", "G", "G", harmony.SuspendedEnding, "Dsus4 in G: 5sus4 of G; C, where it comes from, is 4 of G as well | G in G: 1 of G"},
		{"C", "C", "Eb", "Eb", harmony.DominantEnding, "F in C: 4 of C | Bb in Eb: 5 of Eb, by a chromatic step: no chord of both keys leads there | Eb in Eb: 1 of Eb"},
		{"F", "C", "C", "C", harmony.DominantEnding, "G7 in C: 57 of C | C in C: 1 of C"},
	} {
		key := func(s string) pitch.Key {
			k, err := pitch.ParseKey(s)
			if err != nil {
				t.Fatal(err)
			}
			return k
		}
		chord := func(s string) harmony.Chord {
			c, err := harmony.ParseChord(s)
			if err != nil {
				t.Fatal(err)
			}
			return c
		}
		route, steps, err := a.Landing(chord(tt.from), key(tt.in), key(tt.to), chord(tt.first), tt.ending)
		if err != nil {
			t.Fatal(err)
		}
		if len(steps) != route.N {
			t.Errorf("%d steps of %d", len(steps), route.N)
		}
		var got []string
		for _, s := range steps {
			got = append(got, fmt.Sprintf("%v in %v: %s", s.Chord, s.Key, s.Why))
		}
		if text := strings.Join(got, " | "); text != tt.want {
			t.Errorf("from %s in %s to %s, %v:\n got %s\nwant %s", tt.from, tt.in, tt.to, tt.ending, text, tt.want)
		}
	}
}

// A range too narrow for a chord of the way is an error that says so.
func TestLandingThatDoesNotFit(t *testing.T) {
	rig := DefaultRig()
	rig.Bed.Voicing.Low, rig.Bed.Voicing.High, rig.Bed.Voicing.Centre = 60, 64, 62
	_, _, err := adviser(t, rig).Landing(harmony.Diatonic(pitch.Key{}, 1), pitch.Key{}, pitch.Key{}, harmony.Diatonic(pitch.Key{}, 4), harmony.PlainEnding)
	if err == nil || !strings.Contains(err.Error(), "C4") {
		t.Errorf("error %v, want one about the range", err)
	}
}
