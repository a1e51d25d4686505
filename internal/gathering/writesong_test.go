package gathering

import (
	"reflect"
	"strings"
	"testing"

	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"pgregory.net/rapid"
)

func plainText(s Song, _ int, indent string, numbers harmony.Numbers) string {
	return SongText(s, []string{"a remark"}, indent, numbers, false)
}

func TestSongText(t *testing.T) {
	s := mustRead(t, fullPlan).Songs[0]
	const want = `  # a remark
  - song: Salt on the Window
    key: Eb
    tempo: 72
    starts: Tilda alone, two bars
    sections:
      verse: 4 1 6m 5
      chorus: 4 5/7 1
    figure: Bb4 Eb5 D5 C5 Bb4
`
	if got := plainText(s, 0, "  ", harmony.FromTonic); got != want {
		t.Errorf("got\n%s", got)
	}
	if got := SongText(s, nil, "", harmony.FromTonic, true); !strings.Contains(got, "\n    verse: Ab Eb Cm Bb\n") {
		t.Errorf("by name:\n%s", got)
	}
}

// What is written of a song reads back as the same song, under any title and
// section names, whatever degrees count from.
func TestWrittenSongsReadBack(t *testing.T) {
	title := rapid.StringMatching(`[A-Za-z0-9:#'"\-\[\]{}&*!|>%@ ]{1,20}`).Filter(func(s string) bool { return strings.TrimSpace(s) != "" })
	rapid.Check(t, func(t *rapid.T) {
		k := pitch.Key{Minor: rapid.Bool().Draw(t, "minor")}.Transpose(rapid.IntRange(0, 11).Draw(t, "key"))
		s := Song{Title: strings.Join(strings.Fields(title.Draw(t, "title")), " "), Key: k, Tempo: float64(rapid.IntRange(20, 300).Draw(t, "tempo")), First: harmony.Diatonic(k, 1)}
		for i := range rapid.IntRange(0, 3).Draw(t, "sections") {
			section := Section{Name: strings.Join(strings.Fields(title.Draw(t, "name")), " ") + string(rune('a'+i))}
			for range rapid.IntRange(1, 5).Draw(t, "chords") {
				name := k.Spell(pitch.Class(rapid.IntRange(0, 11).Draw(t, "root"))).String() +
					rapid.SampledFrom([]string{"", "m", "7", "maj7", "m7b5", "sus4", "add9", "dim", "6"}).Draw(t, "kind")
				c, err := harmony.ParseChord(name)
				if err != nil {
					t.Fatal(err)
				}
				section.Chords = append(section.Chords, c)
			}
			s.Sections = append(s.Sections, section)
		}
		if len(s.Sections) > 0 {
			s.First = s.Sections[0].Chords[0]
		}
		for range rapid.SampledFrom([]int{0, 2, 5}).Draw(t, "notes") {
			s.Figure = append(s.Figure, rapid.IntRange(0, 127).Draw(t, "note"))
		}
		numbers := rapid.SampledFrom([]harmony.Numbers{harmony.FromTonic, harmony.Relative}).Draw(t, "numbers")
		head := "defaults: {numbers: " + map[harmony.Numbers]string{harmony.FromTonic: "tonic", harmony.Relative: "relative"}[numbers] + "}\n"
		text := head + "order:\n" + plainText(s, 0, "  ", numbers)
		g, err := ReadGathering("w.yaml", []byte(text), testLibrary)
		if err != nil {
			t.Fatalf("%s\n%v", text, err)
		}
		got := g.Songs[0]
		got.Line = 0
		for i := range got.Sections {
			got.Sections[i].Line = 0
		}
		if !reflect.DeepEqual(got, s) {
			t.Fatalf("%s\ngot  %+v\nwant %+v", text, got, s)
		}
	})
}

func TestSongsAreAddedAndTheRestStays(t *testing.T) {
	song := Song{Title: "Kittiwake", Key: key(t, "G"), First: chord(t, "G")}
	for _, c := range []struct{ name, before, after string }{
		{"at the end of the file", "# mine\norder:\n  - {song: A, key: C} # a comment\n",
			"# mine\norder:\n  - {song: A, key: C} # a comment\n\n  # a remark\n  - song: Kittiwake\n    key: G\n"},
		{"without a line's end", "order:\n- song: A\n  key: C", "order:\n- song: A\n  key: C\n\n# a remark\n- song: Kittiwake\n  key: G\n"},
		{"before what follows the order", "order:\n  - {song: A, key: C}\n\n# of the whole\ntitle: An evening\n",
			"order:\n  - {song: A, key: C}\n\n  # a remark\n  - song: Kittiwake\n    key: G\n\n# of the whole\ntitle: An evening\n"},
	} {
		got, err := AddSongs("w.yaml", []byte(c.before), testLibrary, []Song{song}, plainText)
		if err != nil || string(got) != c.after {
			t.Errorf("%s: got\n%s%v\nwant\n%s", c.name, got, err, c.after)
		}
	}
}

func TestSongsThatCannotBeAdded(t *testing.T) {
	for _, c := range []struct{ before, want string }{
		{"order: [{song: A, key: C}]\n", "w.yaml: order is written in brackets: write its items one below the other, each after a dash"},
		{"order:\n- {song: kittiwake, key: C}\n", `w.yaml:2: the song "kittiwake" is there already: take it out first, or give the new one another title`},
		{"order:\n- {song: A, kye: C}\n", "w.yaml:2: unknown field \"kye\": did you mean \"key\"?\nw.yaml:2: a song has a key: \"key\" is missing"},
	} {
		_, err := AddSongs("w.yaml", []byte(c.before), testLibrary, []Song{{Title: "Kittiwake", Key: key(t, "G")}}, plainText)
		if err == nil || err.Error() != c.want {
			t.Errorf("%s\ngot  %v\nwant %s", c.before, err, c.want)
		}
	}
}

func FuzzAddSongs(f *testing.F) {
	for _, s := range []string{fullPlan, "order:\n- {song: A, key: C}\n", "order:\n  - song: A\n    key: C\n...\n", "'order':\n- song: |\n    A\n  key: C\ntitle: x", "? order\n:\n - song: A\n   key: C"} {
		f.Add([]byte(s))
	}
	addBuiltIn(f)
	song := []Song{{Title: "Kittiwake with a title of its own", Key: pitch.Key{}, First: harmony.Diatonic(pitch.Key{}, 1)}}
	f.Fuzz(func(t *testing.T, data []byte) {
		whole, err := AddSongs("w.yaml", data, testLibrary, song, plainText)
		if err != nil {
			return
		}
		before, _ := ReadGathering("w.yaml", data, testLibrary)
		after, err := ReadGathering("w.yaml", whole, testLibrary)
		if err != nil || len(after.Songs) != len(before.Songs)+1 || after.Songs[len(after.Songs)-1].Title != song[0].Title {
			t.Fatalf("%s\n%v", whole, err)
		}
	})
}
