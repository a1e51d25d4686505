package harmony

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bedd/internal/pitch"
)

func notes(t testing.TB, s string) (list []int) {
	t.Helper()
	for _, word := range strings.Fields(s) {
		n, err := pitch.ParseNote(word)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, n)
	}
	return list
}

// Figures and lines made up for this test.
func TestFindFigure(t *testing.T) {
	for _, tt := range []struct {
		figure, of, line, in string
		loop, want           bool
		at                   int
	}{
		{"G4 C5 B4 A4 G4", "C", "G4 C5 B4 A4", "C", false, true, 0},
		{"G4 C5 B4 A4 G4", "C", "E4 E4 Bb4 Eb5 D5 C5", "Eb", false, true, 2}, // transposed
		{"G4 C5 B4 A4 G4", "C", "D4 G4 F4 E4", "C", false, true, 0},          // by the steps of the key
		{"G4 C5 B4 A4 G4", "C", "G4 A4 C5 B4 B4 C5 A4", "C", false, true, 0}, // adorned
		{"G4 C5 B4 A4 G4", "C", "G4 C5 C5 B4 A4", "C", false, true, 0},       // repeated
		{"G4 G4 C5 B4 A4", "C", "G4 C5 B4 A4", "C", false, true, 0},
		{"G4 C5 B4 A4 G4", "C", "B4 A4 G4 C5", "C", true, true, 2}, // round the end
		{"G4 C5 B4 A4 G4", "C", "B4 A4 G4 C5", "C", false, false, 0},
		{"G4 C5 B4 A4 G4", "C", "G4 C5 B4", "C", false, false, 0},             // not far enough
		{"G4 C5 B4 A4 G4", "C", "G4 C5 E5 B4 A4", "C", false, false, 0},       // another note between
		{"G4 C5 B4 A4 G4", "C", "G4 A4 B4 A4 C5 B4 A4", "C", false, false, 0}, // too many of them
		{"G4 C5 B4 A4 G4", "C", "E4 F4", "C", true, false, 0},
		{"G4 E4 C4", "C", "B4 G#4 E4", "E", false, true, 0},
		{"G4 E4 C4", "C", "D4 B3 G3", "C", false, true, 0},
		{"G4 E4 C4", "C", "A4 F4 D4", "C", false, false, 0}, // three notes by semitones alone
		{"G4 C5", "C", "G4 C5", "C", true, false, 0},        // too short to be known by
		{"E4 F4 E4 F4", "C", "E4 F4", "C", true, true, 0},   // the line goes round and round
	} {
		at, found := FindFigure(notes(t, tt.figure), mustKey(t, tt.of), notes(t, tt.line), mustKey(t, tt.in), tt.loop)
		if found != tt.want || at != tt.at {
			t.Errorf("%s in %s, loop %v: %v at %d, want %v at %d", tt.figure, tt.line, tt.loop, found, at, tt.want, tt.at)
		}
	}
}

// Whatever the figure, it is found where it is transposed, with ornaments between
// its notes and other notes round it.
func TestFigureIsFoundAfterTranspositionAndOrnament(t *testing.T) {
	all := allKeys()
	rapid.Check(t, func(t *rapid.T) {
		figure := rapid.SliceOfN(rapid.IntRange(55, 79), 3, 8).Draw(t, "figure")
		figure = slices.Compact(figure)
		_, n, ok := opening(figure)
		key, up := rapid.SampledFrom(all).Draw(t, "key"), rapid.IntRange(-12, 12).Draw(t, "up")
		line := rapid.SliceOfN(rapid.IntRange(48, 84), 0, 3).Draw(t, "before")
		for i, note := range figure {
			line = append(line, note+up)
			for range rapid.IntRange(0, ornamentNotes).Draw(t, "ornaments") {
				to := note
				if i+1 < len(figure) && rapid.Bool().Draw(t, "next") {
					to = figure[i+1]
				}
				line = append(line, to+up+rapid.IntRange(-ornamentStep, ornamentStep).Draw(t, "ornament"))
			}
		}
		line = append(line, rapid.SliceOfN(rapid.IntRange(48, 84), 0, 3).Draw(t, "after")...)
		if _, found := FindFigure(figure, key, line, key.Transpose(up), false); found != ok && ok {
			t.Fatalf("%v, known by %d notes, is not found in %v", figure, n, line)
		}
	})
}

func TestGivesAway(t *testing.T) {
	c := mustKey(t, "C")
	for _, tt := range []struct {
		figure, of string
		chord, in  string
		leave      string // or empty
	}{
		{"G4 E4 C4 E4", "C", "C", "C", "C"},
		{"G4 E4 C4 E4", "C", "Am7", "C", "C"},
		{"G4 E4 C4 E4", "C", "F", "C", ""},
		{"G4 E4 C4 E4", "C", "D", "D", "D"}, // moved to its tonic
		{"D4 A4 F#4", "D", "D", "C", "F#"},  // where it stands
		{"G4 C5 B4 A4", "C", "C", "C", ""},
		{"G4 C5", "C", "C", "C", ""},
	} {
		leave, given := GivesAway(notes(t, tt.figure), mustKey(t, tt.of), mustChord(t, tt.chord).Classes(), mustKey(t, tt.in))
		got := ""
		if given {
			got = c.Spell(leave).String()
			if got == "Gb" {
				got = "F#"
			}
		}
		if got != tt.leave {
			t.Errorf("%s over %s: leave %q, want %q", tt.figure, tt.chord, got, tt.leave)
		}
	}
}

// Left out what it says, again and again, nothing gives the figure away any more.
func TestLeavingNotesOutKeepsTheFigure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		figure := rapid.SliceOfN(rapid.IntRange(48, 84), 0, 8).Draw(t, "figure")
		of, in := keys().Draw(t, "of"), keys().Draw(t, "in")
		notes := pitch.Set(rapid.Uint16Range(0, 1<<12-1).Draw(t, "notes"))
		for range 3 {
			leave, given := GivesAway(figure, of, notes, in)
			if !given {
				return
			}
			if !notes.Has(leave) {
				t.Fatalf("%v is not among %v", leave, notes)
			}
			notes = notes.Without(leave)
		}
		t.Fatalf("%v still gives %v away", notes, figure)
	})
}

// The longest line that is looked at, full of what might be a beginning.
func BenchmarkFindFigure(b *testing.B) {
	figure := notes(b, "G4 A4 G4 C5")
	var line []int
	for range 32 {
		line = append(line, 67, 67, 69, 69, 67, 67)
	}
	b.ReportAllocs()
	for b.Loop() {
		FindFigure(figure, pitch.Key{}, line, pitch.Key{}, true)
	}
}
