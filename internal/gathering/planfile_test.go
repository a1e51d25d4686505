package gathering

import (
	"errors"
	"fmt"
	"io/fs"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"bedd/configs"
	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

var testLibrary = Library{
	{Name: "calm", Home: "1 4", Away: "6m 2m", Why: "x"},
	{Name: "wide", Home: "1 b7", Why: "x"},
	{Name: "night", Minor: true, Home: "1 4", Away: "6 7", Why: "x"},
}

func mustRead(t *testing.T, text string) Gathering {
	t.Helper()
	g, err := ReadGathering("winter.yaml", []byte(text), testLibrary)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func symbols(chords []harmony.Chord) string {
	var s []string
	for _, c := range chords {
		s = append(s, c.Symbol())
	}
	return strings.Join(s, " ")
}

// route writes a moment as "KEY: HOME / AWAY -> NEXT KEY NEXT CHORD".
func route(m Moment) string {
	s := fmt.Sprintf("%v: %s / %s", m.Bed.Key, symbols(m.Bed.Home), symbols(m.Bed.Away))
	if m.Bed.NextChord != (harmony.Chord{}) {
		s += fmt.Sprintf(" -> %v %v", m.Bed.NextKey, m.Bed.NextChord)
	}
	return s
}

func TestPlanIsReadInOrder(t *testing.T) {
	g := mustRead(t, `
title: An evening
defaults: {intensity: 0.4}
order:
  - {for: before it starts, home: 1 5}
  - {song: One, key: Eb, tempo: 76.5}
  - for: a talk
    cue: "and so: home"
    home: 1 4
    away: 6m 2m
    intensity: 0.2
    minutes: 2.5
    longest: 4
  - {for: a silence, key: Bb, home: Bb 4/1, away: Gm7 5sus4}
  - {song: Two, key: F#m, first: 6maj7}
  - {song: Three, key: C}
  - {for: the end, bed: wide}
`)
	if g.Title != "An evening" {
		t.Errorf("title is %q", g.Title)
	}
	songs := []Song{
		{Title: "One", Key: key(t, "Eb"), Tempo: 76.5, First: chord(t, "Eb"), Line: 6},
		{Title: "Two", Key: key(t, "F#m"), First: chord(t, "Dmaj7"), Line: 15},
		{Title: "Three", Key: key(t, "C"), First: chord(t, "C"), Line: 16},
	}
	if !reflect.DeepEqual(g.Songs, songs) {
		t.Errorf("songs are\n%+v, want\n%+v", g.Songs, songs)
	}
	for i, want := range []struct {
		purpose, route, next string
		after                int
		intensity            float64
	}{
		{"before it starts", "Eb: Eb Bb /  -> Eb Eb", "One", -1, 0.4},
		{"a talk", "Eb: Eb Ab / Cm Fm -> F#m Dmaj7", "Two", 0, 0.2},
		{"a silence", "Bb: Bb Eb/Bb / Gm7 Fsus4 -> F#m Dmaj7", "Two", 0, 0.4},
		{"the end", "C: C Bb / ", "", 2, 0.4},
	} {
		m := g.Moments[i]
		next, _ := g.Next(i)
		if m.For != want.purpose || route(m) != want.route || next.Title != want.next || m.After != want.after || m.Bed.Intensity != want.intensity {
			t.Errorf("moment %d is %q, %s, then %q, after %d, intensity %v\nwant %+v", i, m.For, route(m), next.Title, m.After, m.Bed.Intensity, want)
		}
		if got := g.BedMoments()[i]; route(Moment{Bed: got}) != want.route {
			t.Errorf("the bed's moment %d is %v", i, got)
		}
	}
	if m := g.Moments[1]; m.Cue != "and so: home" || m.Lasts != 150*time.Second || m.Longest != 4*time.Minute || m.Home != "1 4" || m.Away != "6m 2m" || m.Line != 7 || m.Pair != "" {
		t.Errorf("the talk is %+v", m)
	}
	if m := g.Moments[3]; m.Pair != "wide" || m.Home != "1 b7" || m.Away != "" || m.Lasts != 0 {
		t.Errorf("the end is %+v", m)
	}
}

func key(t *testing.T, s string) pitch.Key {
	t.Helper()
	k, err := pitch.ParseKey(s)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func chord(t *testing.T, s string) harmony.Chord {
	t.Helper()
	c, err := harmony.ParseChord(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestSmallestPlans(t *testing.T) {
	for _, c := range []struct {
		name, text string
		want       []string
	}{
		{"two songs have a moment between them", "order:\n- {song: A, key: C}\n- {song: B, key: Eb}\n",
			[]string{"between A and B: C: C F / Am Dm -> Eb Eb"}},
		{"three songs have two", "order:\n- {song: A, key: C}\n- {song: B, key: Am}\n- {song: D, key: G}\n",
			[]string{"between A and B: C: C F / Am Dm -> Am Am", "between B and D: Am: Am Dm / F G -> G G"}},
		{"a song alone has one after it", "order: [{song: A, key: D}]\n",
			[]string{"after A: D: D G / Bm Em"}},
		{"a moment alone", "order: [{for: a prayer, key: F}]\n",
			[]string{"a prayer: F: F Bb / Dm Gm"}},
		{"moments that are there stand for themselves", "order:\n- {song: A, key: C}\n- {song: B, key: D}\n- {for: x}\n",
			[]string{"x: D: D G / Bm Em"}},
	} {
		g := mustRead(t, c.text)
		var got []string
		for _, m := range g.Moments {
			got = append(got, m.For+": "+route(m))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
		if g.Title != "winter" {
			t.Errorf("%s: the title is %q, want the file's name", c.name, g.Title)
		}
	}
}

func TestWhereChordsComeFrom(t *testing.T) {
	for _, c := range []struct{ name, defaults, moment, want string }{
		{"the plan's", "home: 1 2m, away: 5", "key: C", "C: C Dm / G"},
		{"the moment's over the plan's, without the plan's away", "home: 1 2m, away: 5", "key: C, home: 1 3m", "C: C Em / "},
		{"a pair over the plan's", "home: 1 2m, away: 5", "key: C, bed: wide", "C: C Bb / "},
		{"the plan's pair", "bed: wide", "key: D", "D: D C / "},
		{"degrees count from the minor tonic", "home: 1 4", "key: Am", "Am: Am Dm / "},
		{"or from the relative major's", "home: 6 2, numbers: relative", "key: Am", "Am: Am Dm / "},
		{"the library always counts from the tonic", "numbers: relative", "key: Am", "Am: Am Dm / F G"},
	} {
		g := mustRead(t, fmt.Sprintf("defaults: {%s}\norder: [{for: x, %s}]\n", c.defaults, c.moment))
		if got := route(g.Moments[0]); got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}

// badPlans are well-formed YAML with what is said of them.
var badPlans = []struct{ text, want string }{
	{"title: a\nhoem: 1\n", "w.yaml:1: a plan lists songs and moments: \"order\" is missing\nw.yaml:2: unknown field \"hoem\": use one of title, comfort, defaults, order"},
	{"order:\n- for: x\n  key: C\n  hoem: 1 4\n", `w.yaml:4: unknown field "hoem": did you mean "home"?`},
	{"order: []\n", "w.yaml:1: order is empty: it lists songs and moments"},
	{"order:\n", `w.yaml:1: "order" has no value`},
	{"order: x\n", `w.yaml:1: order is a list with a dash before each item, not the value "x"`},
	{"order:\n- x\n", `w.yaml:2: an item of the order is a song (song: TITLE) or a moment (for: WHAT), not the value "x"`},
	{"order:\n- sogn: x\n  key: C\n", "w.yaml:2: this item is neither a song (song: TITLE) nor a moment (for: WHAT)"},
	{"order:\n- song: x\n  for: y\n  key: C\n", "w.yaml:2: an item is a song or a moment: leave out either song or for"},
	{"order:\n- song: x\n", `w.yaml:2: a song has a key: "key" is missing`},
	{"order:\n- song: x\n  key: H\n- for: y\n", `w.yaml:3: unknown key "H": 'H' does not start a note name: write a capital letter A to G, then b or # where needed`},
	{"order:\n- song: x\n  key: C\n  key: D\n", `w.yaml:4: "key" is here twice: it is already on line 3`},
	{"order:\n- song: [x]\n  key: C\n", "w.yaml:2: song is one value, not a list"},
	{"order:\n- song: ''\n  key: C\n", "w.yaml:2: song is empty"},
	{"order:\n- song: \"a\\e[2J\"\n  key: C\n", "w.yaml:2: song has a character that cannot be shown"},
	{"order:\n- song: " + strings.Repeat("x", 401) + "\n  key: C\n", "w.yaml:2: song is longer than 400 characters"},
	{"order:\n- song: x\n  key: C\n  tempo: fast\n", `w.yaml:4: tempo "fast" is not a number 20…300`},
	{"order:\n- song: x\n  key: C\n  tempo: 301\n", "w.yaml:4: tempo 301 is out of range 20…300"},
	{"order:\n- song: x\n  key: C\n  first: 9\n", `w.yaml:4: first: unknown chord "9": "9" does not start a chord at character 1 (a chord starts with a letter A to G, a number 1 to 7 or a roman numeral I to VII, after b or # where needed)`},
	{"order:\n- for: x\n", "w.yaml:2: this moment has no key, and there is no song to take it from: add key:"},
	{"order:\n- for: x\n  key: C\n  home: 1 q\n", `w.yaml:4: home: chord 2 of the progression, "q": "q" does not start a chord at character 3 (a chord starts with a letter A to G, a number 1 to 7 or a roman numeral I to VII, after b or # where needed)`},
	{"order:\n- for: x\n  key: C\n  home: 1\n  away: 4 8\n", `w.yaml:5: away: chord 2 of the progression, "8": "8" does not start a chord at character 3 (a chord starts with a letter A to G, a number 1 to 7 or a roman numeral I to VII, after b or # where needed)`},
	{"order:\n- for: x\n  key: C\n  home: [1, 4]\n", "w.yaml:4: home is one value, not a list"},
	{"order:\n- for: x\n  key: C\n  home: 1 #4dim7 4\n", "w.yaml:4: home ends at #4dim7 4, which reads as a comment: put the whole in quotes, or a blank after the #"},
	{"order:\n- for: x\n  key: C\n  home: #4dim7\n", `w.yaml:4: "home" has no value: #4dim7 reads as a comment, so put it in quotes`},
	{"order:\n- song: Song #1\n  key: C\n", "w.yaml:2: song ends at #1, which reads as a comment: put the whole in quotes, or a blank after the #"},
	{"order:\n- song: x\n  key: F #m\n", "w.yaml:3: key ends at #m, which reads as a comment: put the whole in quotes, or a blank after the #"},
	{"order:\n- for: x\n  key: C\n  away: 4\n", "w.yaml:4: away needs home beside it"},
	{"order:\n- for: x\n  key: C\n  bed: calm\n  home: 1\n", "w.yaml:4: bed names both progressions: leave out either bed or home and away"},
	{"order:\n- for: x\n  key: C\n  bed: clam\n", `w.yaml:4: there is no bed "clam" in the library: did you mean "calm"?`},
	{"order:\n- for: x\n  key: C\n  bed: stormy\n", `w.yaml:4: there is no bed "stormy" in the library: use one of calm, wide, night`},
	{"order:\n- for: x\n  key: Am\n  bed: calm\n", `w.yaml:4: bed "calm" is for major keys, but the moment on line 2 is in Am: give that moment a bed of its own, one of night`},
	{"defaults:\n  bed: night\norder:\n- for: x\n  key: C\n", `w.yaml:2: bed "night" is for minor keys, but the moment on line 4 is in C: give that moment a bed of its own, one of calm, wide`},
	{"defaults:\n  bed: nihgt\norder:\n- for: x\n  key: C\n- for: y\n  key: D\n", `w.yaml:2: there is no bed "nihgt" in the library: did you mean "night"?`},
	{"defaults:\n  home: 1 x4\norder:\n- for: x\n  key: C\n", `w.yaml:2: home: chord 2 of the progression, "x4": "x4" does not start a chord at character 3 (a chord starts with a letter A to G, a number 1 to 7 or a roman numeral I to VII, after b or # where needed)`},
	{"defaults:\n  numbers: relativ\norder: [{for: x, key: C}]\n", `w.yaml:2: numbers "relativ" is not known: did you mean "relative"?`},
	{"order:\n- for: x\n  key: C\n  intensity: 1.5\n", "w.yaml:4: intensity 1.5 is out of range 0…1"},
	{"order:\n- for: x\n  key: C\n  intensity: nan\n", `w.yaml:4: intensity "nan" is not a number 0…1`},
	{"order:\n- for: x\n  key: C\n  minutes: 2m\n", `w.yaml:4: minutes "2m" is not a number 0.1…240`},
	{"order:\n- for: x\n  key: C\n  minutes: 4\n  longest: 3\n", "w.yaml:5: longest 3 is shorter than minutes 4"},
	{"title: a\ntitle: b\norder:\n- {song: A, key: C, kye: D}\n- {for: x, home: 1 4, away: 1 (}\n", "w.yaml:2: \"title\" is here twice: it is already on line 1\nw.yaml:4: unknown field \"kye\": did you mean \"key\"?\nw.yaml:5: away: chord 1 of the progression, \"1 (\": \"(\" is not closed at character 3 (alterations and additions may stand in parentheses, as in C7(b9,#11))"},
}

func TestBadPlansAreExplained(t *testing.T) {
	for _, b := range badPlans {
		_, err := ReadGathering("w.yaml", []byte(b.text), testLibrary)
		if err == nil || err.Error() != b.want {
			t.Errorf("%s\ngot  %v\nwant %s", b.text, err, b.want)
		}
	}
}

func TestPlanWithoutLibraryNeedsChords(t *testing.T) {
	_, err := ReadGathering("w.yaml", []byte("order:\n- for: x\n  key: C\n"), nil)
	if want := "w.yaml:2: this moment names no chords: add home:"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
	_, err = ReadGathering("w.yaml", []byte("order:\n- for: x\n  key: C\n  bed: calm\n"), nil)
	if want := `w.yaml:4: there is no bed "calm" in the library: there are none`; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

func TestPlanHasAsManyMomentsAsTheBedTakes(t *testing.T) {
	text := "order:\n" + strings.Repeat("- {for: x, key: C}\n", 256)
	g := mustRead(t, text)
	c := bed.DefaultConfig()
	c.Moments = g.BedMoments()
	if _, err := bed.New(c); err != nil {
		t.Errorf("the bed refuses 256 moments: %v", err)
	}
	_, err := ReadGathering("w.yaml", []byte(text+"- {for: x, key: C}\n"), testLibrary)
	if want := "w.yaml:258: a plan has at most 256 moments"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
	_, err = ReadGathering("w.yaml", []byte("order:\n"+strings.Repeat("- {song: x, key: C}\n", 1001)), testLibrary)
	if want := "w.yaml:2: order has 1001 items: at most 1000 are read"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

// checkFaults wants a FileError whose lines lie in the file, in order.
func checkFaults(t *testing.T, data []byte, err error) {
	t.Helper()
	var fe *FileError
	if !errors.As(err, &fe) {
		t.Fatalf("%v is no FileError", err)
	}
	lines := strings.Count(string(data), "\n") + strings.Count(string(data), "\r") + strings.Count(string(data), "\u0085") +
		strings.Count(string(data), "\u2028") + strings.Count(string(data), "\u2029") + 1
	last := 1
	for _, f := range fe.Faults {
		if f.Line < last || f.Line > lines || f.Text == "" || strings.ContainsRune(f.Text, '\n') {
			t.Fatalf("fault %+v after line %d in %d lines", f, last, lines)
		}
		last = f.Line
	}
	if len(fe.Faults) == 0 {
		t.Fatal("an error without faults")
	}
}

// addBuiltIn seeds with every file that is built in.
func addBuiltIn(f *testing.F) {
	f.Helper()
	files, err := fs.Glob(configs.FS, "*.yaml")
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range files {
		data, err := configs.FS.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
}

func FuzzReadGathering(f *testing.F) {
	for _, b := range slices.Concat(badPlans, badSongs, brokenFiles) {
		f.Add([]byte(b.text))
	}
	addBuiltIn(f)
	f.Add([]byte(fullPlan))
	f.Add([]byte("title: x\ndefaults: {numbers: relative}\norder:\n- {song: A, key: Eb, first: 1/3}\n- {for: x, minutes: 3}\n- {song: B, key: F#m}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		g, err := ReadGathering("w.yaml", data, testLibrary)
		if err != nil {
			checkFaults(t, data, err)
			return
		}
		if len(g.Moments) == 0 {
			t.Fatal("a plan without moments")
		}
		for i, m := range g.Moments {
			if len(m.Bed.Home) == 0 || len(m.Bed.Home) > bed.MaxChords || len(m.Bed.Away) > bed.MaxChords || !(m.Bed.Intensity >= 0 && m.Bed.Intensity <= 1) {
				t.Fatalf("moment %d is not one for the bed: %+v", i, m)
			}
			if m.For == "" || m.Longest != 0 && m.Longest < m.Lasts || m.After < -1 || m.After >= len(g.Songs) {
				t.Fatalf("moment %d is wrong: %+v", i, m)
			}
			if next, ok := g.Next(i); ok && (m.Bed.NextKey != next.Key || m.Bed.NextChord != next.First) {
				t.Fatalf("moment %d leads to %v %v, not to %+v", i, m.Bed.NextKey, m.Bed.NextChord, next)
			}
		}
	})
}
