package voicing_test

import (
	"fmt"
	"strings"
	"testing"

	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// libraryKeys gives the twelve keys of a mode, C or A minor first.
func libraryKeys(minor bool) (keys []pitch.Key) {
	first := pitch.Key{}
	if minor {
		first = first.Relative()
	}
	for semitones := range 12 {
		keys = append(keys, first.Transpose(semitones))
	}
	return keys
}

func library(t *testing.T) gathering.Library {
	t.Helper()
	l, err := gathering.OpenLibrary("")
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func progression(t *testing.T, s string, key pitch.Key) []harmony.Chord {
	t.Helper()
	list, err := harmony.ParseProgression(s, key, harmony.FromTonic)
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// What every progression of the library does at stillness 1, in C and A minor,
// home and away as one loop: the set, then each chord with what it -lacks and
// what it +takes in place of a note of the set. Read through by a person.
var stillest = `
rest: A G C E | C F Am Dm-F
amen: G E A C | C F/C+F Dm7-F Gsus4+D
evening: A G C E | C Am F Dm-F
open: G D G C | Csus2 Fsus2 Am7 Gsus4
climbing: A G C E | C C/E F Am F G/B+D
glow: G E A D | Cmaj7-B Fmaj7 Em7 Am7-C
waiting: G E G D | C Csus4+F Gsus4+C G-B
gathering-up: G D A E | C Am-C F Dm-F Em F
wide: C E A D | C Bb+F F Dm7-F F
candle: C E G C | C Fm+Ab Ab+Eb Bb+D
dusk: A D C E | Am Dm-F F G+B
ember: C E A D | Am F Dm-F E+B+G#
veil: A G C E | Asus2+B Fmaj7 C G+B
shore: A D G C | Am G/A+B Fmaj7-E Gsus4
lament: C E A D | Am Am/G F Dm-F Esus4+B E+B+G#
`

func TestStillestBedOfTheLibrary(t *testing.T) {
	var got strings.Builder
	got.WriteByte('\n')
	for _, pair := range library(t) {
		// Its own mode first, then the same degrees in the other.
		for i, key := range append(libraryKeys(pair.Minor), libraryKeys(!pair.Minor)...) {
			s := voicing.DefaultSettings()
			s.Stillness = 1
			e, err := voicing.New(s)
			if err != nil {
				t.Fatal(err)
			}
			p, err := e.Path(progression(t, pair.Home+" "+pair.Away, key), key, true, nil)
			if err != nil {
				t.Fatalf("%s in %v: %v", pair.Name, key, err)
			}
			line := stillestLine(pair.Name, p, key)
			if i == 0 {
				got.WriteString(line)
			}
			for _, step := range p.Steps {
				taken := step.Voicing.Pitches().Without(p.Static).Len()
				if (step.Trouble == voicing.Clear) != (taken == 0) {
					t.Errorf("%s in %v, %s: %d notes beside the set, trouble %q", pair.Name, key, step.Chord.Symbol(), taken, step.Trouble)
				}
				if step.Chord.Root == key.Tonic && step.Missing != 0 && step.Chord.Symbol() == key.String() {
					t.Errorf("%s in %v: the tonic triad does not tell its mode", pair.Name, key)
				}
			}
		}
	}
	if got.String() != stillest {
		t.Errorf("the library at stillness 1 is%s, want%s", got.String(), stillest)
	}
}

func stillestLine(name string, p voicing.Path, key pitch.Key) string {
	var b strings.Builder
	b.WriteString(name + ":")
	for _, n := range p.Static.Append(nil) {
		fmt.Fprintf(&b, " %v", key.Spell(pitch.ClassOf(int(n))))
	}
	b.WriteString(" |")
	for _, s := range p.Steps {
		b.WriteString(" " + s.Chord.Symbol())
		for c := range pitch.Class(12) {
			if s.Missing.Has(c) {
				fmt.Fprintf(&b, "-%v", s.Chord.Spell(c, key))
			}
		}
		for _, n := range s.Voicing.Pitches().Without(p.Static).Append(nil) {
			fmt.Fprintf(&b, "+%v", s.Chord.Spell(pitch.ClassOf(int(n)), key))
		}
	}
	return b.String() + "\n"
}
