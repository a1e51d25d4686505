package glance

import (
	"flag"
	"fmt"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"charm.land/lipgloss/v2"
	"github.com/charmbracelet/x/ansi"
	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the golden screens anew")

func sample() Model {
	return Model{
		Title: "after the harbour master", Key: "Bb", Chord: "Gm7", Degree: "6m7", Next: "Ebmaj7/G", Step: "swap",
		Phase: "holding", Sounds: true, Intensity: 0.62, Source: "trend", Voices: 5,
		Notes:   []Note{{43, "G2", Moved}, {53, "F3", Held}, {58, "Bb3", Held}, {62, "D4", Moved}, {65, "F4", Safe}, {70, "Bb4", Safe}},
		Missing: []string{"C"}, Elapsed: 92, OnThis: 41, Lasts: 300,
		Links: []Link{{"Stage", "in", true}, {"Board", "in", false}, {"Module", "out", true}},
		Foot:  "swap", FootAt: 5, News: []string{"stay is on"},
	}
}

// TestGoldenScreens compares the whole picture, without colour, at several sizes.
// After a wished change run it with -update, and look at what has changed.
func TestGoldenScreens(t *testing.T) {
	silent := sample()
	silent.Phase, silent.Sounds, silent.Step, silent.News, silent.Foot = "silent", false, "bring in", nil, ""
	hands := sample()
	hands.Fingers, hands.Stay, hands.Elapsed, hands.Longest, hands.Chord = "C", true, 400, 360, "F#m7b5/C"
	hearing := sample()
	hearing.Hears, hearing.Source = "hears: speech, 0.6", "listening"
	shown := sample()
	shown.Title, shown.Key, shown.Links, shown.News = "the collection for the lifeboat shed", "Bb", []Link{{"Stage", "in", true}, {"Board", "in", true}, {"Module", "out", true}}, nil
	shown.Elapsed, shown.Lasts, shown.Missing = 92, 240, nil
	for _, c := range []struct {
		name          string
		m             Model
		width, height int
	}{
		{"readme", shown, 80, 24},
		{"holding", sample(), 80, 24}, {"holding", sample(), 40, 12}, {"holding", sample(), 160, 50},
		{"hears", hearing, 80, 24}, {"holding", sample(), 20, 4}, {"silent", silent, 80, 24}, {"over", hands, 80, 24}, {"over", hands, 60, 20},
	} {
		golden(t, c.name, c.m, c.width, c.height)
	}
}

func golden(t *testing.T, name string, m Model, width, height int) {
	t.Helper()
	got := plainRows(Draw(m, width, height))
	path := filepath.Join("testdata", fmt.Sprintf("%s-%dx%d.txt", name, width, height))
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s:\n%s\nwant\n%s", path, got, want)
	}
}

// TestReadmeShowsThePicture: the one that the golden screen is.
func TestReadmeShowsThePicture(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	picture, err := os.ReadFile("testdata/readme-80x24.txt")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(readme), "```\n"+string(picture)+"```\n") {
		t.Error("the README shows another picture than testdata/readme-80x24.txt")
	}
}

// plainRows is a picture without colours and without blanks at the rows' ends.
func plainRows(picture string) string {
	rows := strings.Split(ansi.Strip(picture), "\n")
	for i := range rows {
		rows[i] = strings.TrimRight(rows[i], " ")
	}
	return strings.Join(rows, "\n") + "\n"
}

func models() *rapid.Generator[Model] {
	return rapid.Custom(func(t *rapid.T) Model {
		words := rapid.StringN(0, 40, -1).Filter(func(s string) bool { return !strings.ContainsAny(s, "\n\r\t\x1b") && ansi.Strip(s) == s })
		chords := rapid.SampledFrom([]string{"C", "F#m7b5/C", "Ebmaj7/G", "Bbsus4", "D9sus", "G#m7b5add11/D#", ""})
		m := Model{
			Title: words.Draw(t, "title"), Key: "F#m", Fingers: rapid.SampledFrom([]string{"", "Am"}).Draw(t, "fingers"),
			Chord: chords.Draw(t, "chord"), Next: chords.Draw(t, "next"), Step: "bring in", Phase: "rising",
			Sounds: rapid.Bool().Draw(t, "sounds"), Stay: rapid.Bool().Draw(t, "stay"), Follow: rapid.Bool().Draw(t, "follow"),
			Intensity: rapid.Float64Range(-0.1, 1.1).Draw(t, "intensity"), Source: "trend", Voices: 6,
			Elapsed: rapid.Float64Range(0, 1e5).Draw(t, "elapsed"), Lasts: rapid.Float64Range(0, 1e4).Draw(t, "lasts"),
			Foot: words.Draw(t, "foot"), News: rapid.SliceOfN(words, 0, 3).Draw(t, "news"),
		}
		for range rapid.IntRange(0, 6).Draw(t, "links") {
			m.Links = append(m.Links, Link{words.Draw(t, "link"), "in", rapid.Bool().Draw(t, "up")})
		}
		for n := range uint8(128) {
			if rapid.IntRange(0, 9).Draw(t, "note") == 0 {
				m.Notes = append(m.Notes, Note{n, "Eb4", Mark(rapid.IntRange(0, 2).Draw(t, "mark"))})
			}
		}
		return m
	})
}

func TestPictureFitsEveryTerminal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := models().Draw(t, "model")
		width, height := rapid.IntRange(0, 250).Draw(t, "width"), rapid.IntRange(0, 80).Draw(t, "height")
		for name, picture := range map[string]string{"": Draw(m, width, height), "help": m.drawHelp([]string{"space step", strings.Repeat("x", 300)}, width, height, onDark)} {
			rows := strings.Split(picture, "\n")
			if picture != "" && len(rows) > height {
				t.Errorf("%s: %d rows on %d", name, len(rows), height)
			}
			for _, row := range rows {
				if w := ansi.StringWidth(row); w > width {
					t.Errorf("%s: %d columns on %d: %q", name, w, width, row)
				}
			}
		}
	})
}

// TestGlanceKeepsWhatMatters: whatever is left out where there is no room, it is never
// the chord, and what the foot does goes only after all the rest.
func TestGlanceKeepsWhatMatters(t *testing.T) {
	m := sample()
	for height := 2; height <= 40; height++ {
		rows := plainRows(Draw(m, 80, height))
		hasChord := strings.Contains(rows, m.Chord+"  then") || strings.Contains(rows, "██")
		if !hasChord || !strings.Contains(rows, "left foot: swap ▸ Ebmaj7/G") {
			t.Errorf("%d rows:\n%s", height, rows)
		}
	}
	if got := plainRows(Draw(m, 80, 1)); got != "Gm7  then Ebmaj7/G\n" {
		t.Errorf("one row: %q", got)
	}
}

// TestTheChordGrowsWithTheTerminal, however long the next one's name is, and the next
// one after it.
func TestTheChordGrowsWithTheTerminal(t *testing.T) {
	m := sample()
	for _, c := range []struct{ width, height, chord, next int }{
		{80, 24, 1, 1}, {80, 31, 2, 1}, {132, 43, 3, 1}, {132, 50, 3, 2}, {60, 50, 2, 0}, {300, 90, 3, 2},
	} {
		chord, next := chordRows(m, c.width, c.height, onDark)
		if len(chord) != c.chord*BigHeight || len(next) != c.next*BigHeight {
			t.Errorf("%d × %d: %d and %d rows, want %d and %d times %d", c.width, c.height, len(chord), len(next), c.chord, c.next, BigHeight)
		}
	}
}

// TestMarksDifferByShape reads the picture without colour.
func TestMarksDifferByShape(t *testing.T) {
	m := sample()
	m.Notes = []Note{{60, "C4", Held}, {62, "D4", Moved}, {64, "E4", Safe}, {61, "C#4", Held}, {66, "F#4", Moved}, {68, "G#4", Safe}}
	rows := keyboard(m.Notes, 60, 15, onDark)
	want := []string{"│ ● █ │ ◆ █ █ │", "│●│◆│·│ │ │ │ │", " C4"}
	for i := range want {
		if got := ansi.Strip(rows[i]); got != want[i] {
			t.Errorf("row %d: %q, want %q", i, got, want[i])
		}
	}
}

// TestColoursAreReadable: contrast of at least 4.5 : 1 on their ground, by the formula of
// WCAG 2.2, "relative luminance" and "contrast ratio"; black on white is 21 there.
func TestColoursAreReadable(t *testing.T) {
	if got := contrast(color.White, color.Black); math.Abs(got-21) > 1e-9 {
		t.Fatalf("white on black is %v", got)
	}
	for _, p := range []Palette{Dark, Light} {
		s, ground := newStyles(p), lipgloss.Color(p.Ground)
		for name, look := range map[string]lipgloss.Style{
			"plain": s.plain, "strong": s.strong, "dim": s.dim, "next": s.next, "alarm": s.alarm,
			"held": s.marks[Held], "moved": s.marks[Moved], "safe": s.marks[Safe],
		} {
			if got := contrast(look.GetForeground(), ground); got < 4.5 {
				t.Errorf("%s on %s: %.2f : 1", name, p.Ground, got)
			}
		}
	}
}

func contrast(a, b color.Color) float64 {
	la, lb := luminance(a), luminance(b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

func luminance(c color.Color) float64 {
	r, g, b, _ := c.RGBA()
	linear := func(v uint32) float64 {
		if s := float64(v) / 0xFFFF; s > 0.04045 {
			return math.Pow((s+0.055)/1.055, 2.4)
		} else {
			return s / 12.92
		}
	}
	return 0.2126*linear(r) + 0.7152*linear(g) + 0.0722*linear(b)
}

// TestBigLettersHaveAccidentals: a flat and a sharp are drawn, and nothing that a chord
// symbol may hold is left blank.
func TestBigLettersHaveAccidentals(t *testing.T) {
	blank := strings.Repeat("\n", BigHeight-1)
	for _, r := range "ABCDEFGmajdimsugo7b#5/913(46)2+-°ø" {
		if got := strings.Join(big(string(r), 1), "\n"); got == blank {
			t.Errorf("%q is blank", r)
		}
	}
	flat, letter := strings.Join(big("b", 1), "\n"), strings.Join(big("h", 1), "\n")
	if flat == letter || strings.Join(big("#", 1), "\n") == strings.Join(big("x", 1), "\n") {
		t.Error("accidentals look like letters")
	}
	for i, row := range big("Bb", 2) {
		if w := ansi.StringWidth(row); w > 2*bigWidth("Bb") {
			t.Errorf("row %d is %d wide", i, w)
		}
	}
}

func BenchmarkDraw(b *testing.B) {
	m := sample()
	for b.Loop() {
		Draw(m, 80, 24)
	}
}
