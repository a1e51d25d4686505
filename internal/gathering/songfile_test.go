package gathering

import (
	"slices"
	"testing"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

const fullPlan = `
title: An evening
comfort: {easy: C G Am, hard: "F# Gbm"}
defaults: {ending: plagal}
order:
  - song: Salt on the Window
    key: Eb
    tempo: 72
    starts: Tilda alone, two bars
    sections:
      verse: 4 1 | 6m 5
      chorus: Ab Bb/D Eb
    figure: 5 1 7 | 6 5
  - for: the collection
    mood: glad, not loud
    cue: the baskets go round
    cue-by: Maud Terrick
    ending: suspended
    then: low tide
  - {song: Herring Moon, key: G, first: 1/3}
  - {for: a silence, then: none}
  - {song: Low Tide, key: Am, figure: E4 C' B A G#}
  - {for: the end}
`

func TestSongsAndMomentsSayAllTheyMay(t *testing.T) {
	g := mustRead(t, fullPlan)
	s := g.Songs[0]
	if s.Starts != "Tilda alone, two bars" || len(s.Sections) != 2 || s.First.Symbol() != "Ab" {
		t.Errorf("the song is %+v", s)
	}
	if v, c := s.Sections[0], s.Sections[1]; v.Name != "verse" || symbols(v.Chords) != "Ab Eb Cm Bb" || v.Line != 11 || c.Name != "chorus" || symbols(c.Chords) != "Ab Bb/D Eb" || c.Line != 12 {
		t.Errorf("the sections are %+v", s.Sections)
	}
	if want := []int{70, 75, 74, 72, 70}; !slices.Equal(s.Figure, want) {
		t.Errorf("the figure is %v, want %v", s.Figure, want)
	}
	if want := []int{64, 72, 71, 69, 68}; !slices.Equal(g.Songs[2].Figure, want) {
		t.Errorf("the figure is %v, want %v", g.Songs[2].Figure, want)
	}
	for i, want := range []struct {
		mood, by, next string
		ending         harmony.Ending
	}{
		{"glad, not loud", "Maud Terrick", "Low Tide", harmony.SuspendedEnding},
		{"", "", "", harmony.PlagalEnding},
		{"", "", "", harmony.PlagalEnding},
	} {
		m := g.Moments[i]
		next, _ := g.Next(i)
		if m.Mood != want.mood || m.CueBy != want.by || m.Ending != want.ending || next.Title != want.next {
			t.Errorf("moment %d is %+v, then %q; want %+v", i, m, next.Title, want)
		}
	}
	if got := route(g.Moments[0]); got != "Eb: Eb Ab / Cm Fm -> Am Am" {
		t.Errorf("the collection leads %s", got)
	}
	for text, want := range map[string]Ease{"C": Easy, "B#": Easy, "Am": Easy, "A": Fair, "Gb": Hard, "F#m": Hard, "Eb": Fair} {
		if got := g.Comfort.Of(key(t, text)); got != want {
			t.Errorf("%s is %v, want %v", text, got, want)
		}
	}
}

func TestASongSungTwiceFollowsWhereItIsNext(t *testing.T) {
	g := mustRead(t, "order: [{song: A, key: C}, {for: x, then: a}, {song: B, key: D}, {song: A, key: E}, {for: y, then: A}]\n")
	if g.Moments[0].Then != 2 || g.Moments[1].Then != 2 {
		t.Errorf("got songs %d and %d, want 2 and 2", g.Moments[0].Then, g.Moments[1].Then)
	}
}

// Octaves as in LilyPond's relative mode (its manual, Notation Reference 1.1.1):
// the interval to the next note is a fourth or less, by the letters.
func TestFigures(t *testing.T) {
	for _, c := range []struct {
		text, key string
		numbers   harmony.Numbers
		want      []int
	}{
		{"1 2 3", "C", harmony.FromTonic, []int{60, 62, 64}},
		{"1 5", "C", harmony.FromTonic, []int{60, 55}},
		{"1 4", "C", harmony.FromTonic, []int{60, 65}},
		{"1 5' 1'", "C", harmony.FromTonic, []int{60, 67, 84}},
		{"C F# B", "C", harmony.FromTonic, []int{60, 66, 71}},
		{"F B", "C", harmony.FromTonic, []int{65, 71}},
		{"B F", "C", harmony.FromTonic, []int{71, 65}},
		{"B Cb C", "C", harmony.FromTonic, []int{71, 71, 72}},
		{"C5 B C", "C", harmony.FromTonic, []int{72, 71, 72}},
		{"Cb4 B3 B#3 C4", "C", harmony.FromTonic, []int{59, 59, 60, 60}},
		{"1 3 b3 #4", "Am", harmony.FromTonic, []int{69, 72, 71, 75}},
		{"6 1 7", "Am", harmony.Relative, []int{69, 72, 71}},
		{"1 1,, 1''", "D", harmony.FromTonic, []int{62, 38, 62}},
		{" 1 | 2 ", "Cb", harmony.FromTonic, []int{59, 61}},
	} {
		got, err := ParseFigure(c.text, key(t, c.key), c.numbers)
		if err != nil || !slices.Equal(got, c.want) {
			t.Errorf("ParseFigure(%q, %s) = %v, %v, want %v", c.text, c.key, got, err, c.want)
		}
	}
}

func FuzzParseFigure(f *testing.F) {
	for _, s := range []string{"1 2 3", "5 1' 7 6 5,", "C4 E G C'", "b3 #4 | Bb B", "C5' C", "9", "♭7 ♯1", "1,,,,,,,,,,, 1", "Cbbb 1", ""} {
		f.Add(s, false)
		f.Add(s, true)
	}
	f.Fuzz(func(t *testing.T, s string, minor bool) {
		notes, err := ParseFigure(s, pitch.Key{Tonic: pitch.Name{Letter: 5, Alter: -1}, Minor: minor}, harmony.FromTonic)
		if err != nil {
			return
		}
		if len(notes) < 2 || len(notes) > maxFigure {
			t.Fatalf("%d notes", len(notes))
		}
		for _, n := range notes {
			if n < 0 || n > 127 {
				t.Fatalf("%q gives note %d", s, n)
			}
		}
	})
}

// Each is a song or moment with what is said of it.
var badSongs = []struct{ text, want string }{
	{"order:\n- song: x\n  key: C\n  figrue: 1 2\n", `w.yaml:4: unknown field "figrue": did you mean "figure"?`},
	{"order:\n- song: x\n  key: C\n  figure: 1\n", "w.yaml:4: figure: a figure has at least two notes: write names or degrees with blanks between them, as in G4 C5 B4 or 5 1 7"},
	{"order:\n- song: x\n  key: C\n  figure: 1 8\n", `w.yaml:4: figure: note 2 of the figure, "8": a note is a name, as in C4 or Bb, or a degree 1 to 7, after b or # where needed`},
	{"order:\n- song: x\n  key: C\n  figure: C4 D5'\n", `w.yaml:4: figure: note 2 of the figure, "D5'": an octave is a number or marks, not both`},
	{"order:\n- song: x\n  key: C\n  figure: 1 1,,,,,,\n", `w.yaml:4: figure: note 2 of the figure, "1,,,,,,": it lies beyond the notes C-1 to G9`},
	{"order:\n- song: x\n  key: C\n  figure: 1 bbb2\n", `w.yaml:4: figure: note 2 of the figure, "bbb2": it is no note in C: at most two flats or sharps are read`},
	{"order:\n- song: x\n  key: C\n  sections: 1 4\n", `w.yaml:4: sections are written as a name, a colon and chords each, not as the value "1 4"`},
	{"order:\n- song: x\n  key: C\n  sections:\n    verse: 1 H\n    verse: 1\n", "w.yaml:5: verse: chord 2 of the progression, \"H\": \"H\" does not start a chord at character 3 (a chord starts with a letter A to G, a number 1 to 7 or a roman numeral I to VII, after b or # where needed)\nw.yaml:6: \"verse\" is here twice: it is already on line 5"},
	{"order:\n- song: x\n  key: C\n  sections:\n    verse:\n", "w.yaml:5: section verse has no value"},
	{"order:\n- song: x\n  key: C\n- for: y\n  then: z\n", `w.yaml:5: then: there is no song "z": use one of x, none`},
	{"order:\n- song: Herring Moon\n  key: C\n- for: y\n  then: Hering Moon\n", `w.yaml:5: then: there is no song "Hering Moon": did you mean "Herring Moon"?`},
	{"order:\n- for: y\n  key: C\n  ending: plagel\n", `w.yaml:4: ending "plagel" is not known: did you mean "plagal"?`},
	{"comfort: {easy: C X, hard: B# D}\norder: [{for: y, key: C}]\n", "w.yaml:1: easy: unknown key \"X\": 'X' does not start a note name: write a capital letter A to G, then b or # where needed\nw.yaml:1: hard: B# is there already, as easy C"},
	{"comfort: {esay: C}\norder: [{for: y, key: C}]\n", `w.yaml:1: unknown field "esay": did you mean "easy"?`},
}

func TestBadSongsAreExplained(t *testing.T) {
	for _, b := range badSongs {
		_, err := ReadGathering("w.yaml", []byte(b.text), testLibrary)
		if err == nil || err.Error() != b.want {
			t.Errorf("%s\ngot  %v\nwant %s", b.text, err, b.want)
		}
	}
}
