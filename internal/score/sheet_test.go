package score

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// Songs and words are invented.
func TestChordSheets(t *testing.T) {
	for _, c := range []struct {
		name, text, title, key, by string
		tempo                      float64
		want                       string
	}{
		{"chords over words", `The Long Slipway

[Verse 1]
G            D/F#      Em7
Down by the water the ropes run dry
C            G       D
Nobody asks and nobody answers why

[Chorus]
C    D     G     Em
Haul, haul away
C    D     G
Haul for home
`, "The Long Slipway", "G", "guessed from the chords", 0, "Verse 1: G D/F# Em7 C G D; Chorus: C D G Em C D G"},
		{"headings with colons, and settings", "Title: Kittiwake\nKey: Eb\nTempo: 72 bpm\n\nIntro: Eb Bb/D Cm7 | Ab |\nVerse:\nEb  Ab\nover the bar she goes\n",
			"Kittiwake", "Eb", "as the sheet says", 72, "Intro: Eb Bb/D Cm7 Ab; Verse: Eb Ab"},
		{"plain headings, repeats, N.C.", "VERSE 2 (x2)\n| Am  F | C  G | N.C. |\nsome words, A and B\nBridge\nDm - E7 - Am\n",
			"x", "Am", "guessed from the chords", 0, "verse 2: Am F C G; bridge: Dm E7 Am"},
		{"no heading at all", "C  Am\nla la\nF  G\nla la\n", "x", "C", "guessed from the chords", 0, "song: C Am F G"},
		{"what is played over and over stands there once", "C F\nla\nC F\nla\nC F\n", "x", "C", "guessed from the chords", 0, "song: C F"},
		{"a verse that has the same chords again", "[Verse 1]\nC F\n[Chorus]\nF G\n[Verse 2]\nC F\n[Chorus]\nF G C\n", "x", "C", "guessed from the chords", 0, "Verse 1: C F; Chorus: F G; Chorus 2: F G C"},
		{"flats are spelled as written", "Gb Cb Db Gb\n", "x", "Gb", "guessed from the chords", 0, "song: Gb Cb Db Gb"},
		{"sharps too", "F# B C# F#\n", "x", "F#", "guessed from the chords", 0, "song: F# B C# F#"},
		{"words that begin with chords", "Ending\nA dog came by\nAmazed, Dad fed Ada\nD A D\n", "x", "D", "guessed from the chords", 0, "ending: D A D"},
	} {
		s, err := Read("x.txt", []byte(c.text), nil)
		var sections []string
		for _, section := range s.Sections {
			sections = append(sections, section.Name+": "+symbols(section.Chords))
		}
		if got := strings.Join(sections, "; "); err != nil || s.Title != c.title || s.Key != mustKey(t, c.key) || s.KeyBy != c.by || s.Tempo != c.tempo || got != c.want {
			t.Errorf("%s: got %q, %v %s, %v, %s, %v", c.name, s.Title, s.Key, s.KeyBy, s.Tempo, got, err)
		}
		crlf, err := Read("x.txt", []byte(strings.ReplaceAll(c.text, "\n", "\r\n")), nil)
		if err != nil || fmt.Sprint(crlf) != fmt.Sprint(s) {
			t.Errorf("%s with other line ends: %+v, %v", c.name, crlf, err)
		}
	}
}

// Progressions of functional harmony, invented, that begin or end away from the
// tonic too; in all 12 keys. A loop such as Am F C G is not among them: it is in
// either key.
func TestKeyOfChords(t *testing.T) {
	for _, c := range []struct{ key, chords string }{
		{"C", "C F G C"}, {"C", "C Am F G"}, {"C", "F G Em Am F G C"}, {"C", "C G/B Am7 F"},
		{"C", "C Em F Fm"}, {"C", "C Bb F C"}, {"C", "Dm7 G7 C Am7"}, {"C", "C D7 G7 C"}, {"C", "C E7 Am F C G C"},
		{"Am", "Am Dm Am E7"}, {"Am", "Am F C E"}, {"Am", "Am G F E7"}, {"Am", "Am Dm E Am"}, {"Am", "Dm Am E7 Am"}, {"Am", "Am Em F Am"},
	} {
		chords := func(by int) string {
			var out []string
			for _, name := range strings.Fields(c.chords) {
				chord := mustChord(t, name)
				k := mustKey(t, c.key).Transpose(by)
				text := k.Spell(chord.Root.Class().Up(by)).String() + strings.TrimPrefix(name, chord.Root.String())
				if root, _, slash := strings.Cut(text, "/"); slash {
					text = root + "/" + k.Spell(chord.Bass.Class().Up(by)).String()
				}
				out = append(out, text)
			}
			return strings.Join(out, " ")
		}
		for by := range 12 {
			want := mustKey(t, c.key).Transpose(by)
			s, err := Read("x.txt", []byte(chords(by)+"\n"), nil)
			if err != nil || s.Key.Tonic.Class() != want.Tonic.Class() || s.Key.Minor != want.Minor {
				t.Errorf("%s: got %v, %v, want %v", chords(by), s.Key, err, want)
			}
		}
	}
}

func TestGivenKeyCounts(t *testing.T) {
	k := mustKey(t, "F#m")
	s, err := Read("x.txt", []byte("Key: C\nC F\n"), &k)
	if err != nil || s.Key != k || s.KeyBy != "as given" {
		t.Errorf("got %v %s, %v", s.Key, s.KeyBy, err)
	}
}

func TestBadSheetsAreExplained(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"", "x: the file is empty"},
		{"\n", "x: there is no line of chords in this text: a line counts as one when every word on it is a chord's name, such as C, F#m7 or Bb/D"},
		{"only words here\n", "x: there is no line of chords in this text: a line counts as one when every word on it is a chord's name, such as C, F#m7 or Bb/D"},
		{"C F\nKey: H\n", `x: line 2: unknown key "H": 'H' does not start a note name: write a capital letter A to G, then b or # where needed`},
		{"Tempo: fast\nC\n", `x: line 1: tempo "fast" is not a number of beats a minute, 20 to 300`},
		{"\x00\x01\x02", "x: this is no MusicXML, no standard MIDI file and no plain text"},
		{"X:1\nT:Tar\nK:C\nCDE\n", "x: this is ABC notation, which is not read: save the tune as MusicXML or as a MIDI file"},
		{strings.Repeat("\n", maxLines+1), "x: more than 20000 lines, the most that are read of a chord sheet"},
	} {
		if _, err := Read("x", []byte(c.text), nil); err == nil || err.Error() != c.want {
			t.Errorf("%.30q: got %v\nwant %s", c.text, err, c.want)
		}
	}
}

func TestLongSectionsAreCutAndTold(t *testing.T) {
	text := strings.Repeat("C F G Am\n", 20) + "Dm\n" // which goes round no more
	s, err := Read("x", []byte(text), nil)
	if err != nil || len(s.Sections) != 1 || len(s.Sections[0].Chords) != maxChords || !slices.Equal(s.Remarks, []string{"song: its first 64 of 81 chords are taken"}) {
		t.Errorf("%+v, %v", s, err)
	}
	var many strings.Builder
	for i := range maxSections + 1 {
		fmt.Fprintf(&many, "[Part %d]\n%c Dm %c7\n", i+1, 'A'+i%7, 'A'+i/7)
	}
	s, err = Read("x", []byte(many.String()), nil)
	if err != nil || len(s.Sections) != maxSections || !slices.Contains(s.Remarks, "more than 32 sections: the first ones are taken") {
		t.Errorf("%d sections, %q, %v", len(s.Sections), s.Remarks, err)
	}
}

func FuzzSheet(f *testing.F) {
	f.Add([]byte("Title: x\n[Verse]\nC F#m7 Bb/D\nwords\n"))
	f.Add([]byte("Intro: C - F - G (x2)\nN.C. | % | C:|\n"))
	f.Add([]byte("\x80\nA"))
	f.Add([]byte("Key: Eb\nTempo: 72\nEb\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Read("x", data, nil)
		checkSong(t, s, err)
	})
}
