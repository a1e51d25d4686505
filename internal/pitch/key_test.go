package pitch

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// majorScales has the fifteen major keys from seven flats to seven sharps, by
// the line of fifths; an independent library (tonal) spells them the same.
var majorScales = []string{
	"Cb Db Eb Fb Gb Ab Bb",
	"Gb Ab Bb Cb Db Eb F",
	"Db Eb F Gb Ab Bb C",
	"Ab Bb C Db Eb F G",
	"Eb F G Ab Bb C D",
	"Bb C D Eb F G A",
	"F G A Bb C D E",
	"C D E F G A B",
	"G A B C D E F#",
	"D E F# G A B C#",
	"A B C# D E F# G#",
	"E F# G# A B C# D#",
	"B C# D# E F# G# A#",
	"F# G# A# B C# D# E#",
	"C# D# E# F# G# A# B#",
}

func written(names []Name) string {
	var words []string
	for _, n := range names {
		words = append(words, n.String())
	}
	return strings.Join(words, " ")
}

func mustKey(t *testing.T, s string) Key {
	t.Helper()
	k, err := ParseKey(s)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func TestScalesOfTheFifteenSignatures(t *testing.T) {
	for i, want := range majorScales {
		k := mustKey(t, strings.Fields(want)[0])
		scale := k.Scale()
		if got := written(scale[:]); got != want {
			t.Errorf("%v major = %s, want %s", k, got, want)
		}
		if got := k.Signature(); got != i-7 {
			t.Errorf("%v major has signature %d, want %d", k, got, i-7)
		}

		// Natural minor is the relative major's scale from its sixth degree.
		minor := k.Relative()
		scale = minor.Scale()
		wantMinor := strings.Fields(want + " " + want)[5:12]
		if got := written(scale[:]); got != strings.Join(wantMinor, " ") {
			t.Errorf("%v = %s, want %s", minor, got, wantMinor)
		}
		if got := minor.Signature(); got != i-7 {
			t.Errorf("%v has signature %d, want %d", minor, got, i-7)
		}
		if back := minor.Relative(); back != k {
			t.Errorf("relative of %v = %v, want %v", minor, back, k)
		}
		if minor.Classes() != k.Classes() || k.Classes().Len() != 7 {
			t.Errorf("%v and %v have classes %v and %v", k, minor, k.Classes(), minor.Classes())
		}
	}
}

func TestKeysBeyondSevenAccidentals(t *testing.T) {
	for text, want := range map[string]int{"G#": 8, "Fb": -8, "B#": 12, "Fb minor": -11, "E#m": 8} {
		if got := mustKey(t, text).Signature(); got != want {
			t.Errorf("%s has signature %d, want %d", text, got, want)
		}
	}
	scale := mustKey(t, "G#").Scale()
	if got := written(scale[:]); got != "G# A# B# C# D# E# F##" {
		t.Errorf("G# major = %s", got)
	}
}

var goodKeys = []struct{ text, want string }{
	{"C", "C"}, {"Eb", "Eb"}, {"E♭", "Eb"}, {"F#m", "F#m"}, {"A minor", "Am"}, {"Aminor", "Am"},
	{"Bb major", "Bb"}, {"C# min", "C#m"}, {"Gmaj", "G"}, {"DM", "D"}, {" G ", "G"},
}

var badKeys = []struct{ text, want string }{
	{"", `unknown key "": no note name: write a capital letter A to G, then b or # where needed`},
	{"am", `unknown key "am": 'a' does not start a note name: write a capital letter A to G, then b or # where needed`},
	{"Ebb", `unknown key "Ebb": a key has at most one sharp or flat in its name`},
	{"C dorian", `unknown key "C dorian": after the tonic write nothing or major, m or minor, as in Eb, F#m, A minor`},
	{"C7", `unknown key "C7": after the tonic write nothing or major, m or minor, as in Eb, F#m, A minor`},
}

func TestParseKey(t *testing.T) {
	for _, tt := range goodKeys {
		k, err := ParseKey(tt.text)
		if err != nil || k.String() != tt.want {
			t.Errorf("ParseKey(%q) = %v, %v, want %s", tt.text, k, err, tt.want)
		}
	}
	for _, tt := range badKeys {
		if k, err := ParseKey(tt.text); err == nil || err.Error() != tt.want {
			t.Errorf("ParseKey(%q) = %v, error %v\nwant error %s", tt.text, k, err, tt.want)
		}
	}
}

func FuzzParseKey(f *testing.F) {
	for _, tt := range goodKeys {
		f.Add(tt.text)
	}
	for _, tt := range badKeys {
		f.Add(tt.text)
	}
	f.Fuzz(func(t *testing.T, s string) {
		k, err := ParseKey(s)
		if err != nil {
			return
		}
		if again, err := ParseKey(k.String()); err != nil || again != k {
			t.Fatalf("ParseKey(%q) = %v, %v, want %v", k.String(), again, err, k)
		}
	})
}

// The chromatic names in C major and A minor follow from the rule on Spell;
// Ab in major and G# in minor are common practice, as is Ebb in Gb.
func TestSpell(t *testing.T) {
	for _, tt := range []struct{ key, want string }{
		{"C", "C C# D Eb E F F# G Ab A Bb B"},
		{"Am", "C C# D Eb E F F# G G# A Bb B"},
		{"Eb", "C Db D Eb E F Gb G Ab A Bb Cb"},
		{"Gb", "C Db Ebb Eb Fb F Gb G Ab Bbb Bb Cb"},
		{"E", "C C# D D# E E# F# G G# A A# B"},
		{"C#", "B# C# C## D# E E# F# F## G# A A# B"},
	} {
		k := mustKey(t, tt.key)
		var got []Name
		for c := range Class(12) {
			got = append(got, k.Spell(c))
		}
		if written(got) != tt.want {
			t.Errorf("%s spells %s\nwant       %s", tt.key, written(got), tt.want)
		}
	}
}

func keys() *rapid.Generator[Key] {
	return rapid.Custom(func(t *rapid.T) Key {
		return Key{
			Tonic: Name{rapid.Int8Range(0, 6).Draw(t, "letter"), rapid.Int8Range(-1, 1).Draw(t, "alter")},
			Minor: rapid.Bool().Draw(t, "minor"),
		}
	})
}

func TestSpellKeepsTheClassAndTheScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := keys().Draw(t, "key")
		for c := range Class(12) {
			if got := k.Spell(c); got.Class() != c {
				t.Fatalf("%v spells class %d as %v, class %d", k, c, got, got.Class())
			}
		}
		for _, n := range k.Scale() {
			if got := k.Spell(n.Class()); got != n {
				t.Fatalf("%v spells its own %v as %v", k, n, got)
			}
		}
	})
}

func TestTransposeGivesPracticalKeys(t *testing.T) {
	for _, tt := range []struct{ from, want string }{
		{"C", "C Db D Eb E F F# G Ab A Bb B"},
		{"Cm", "Cm C#m Dm Ebm Em Fm F#m Gm G#m Am Bbm Bm"},
	} {
		var got []string
		for n := range 12 {
			got = append(got, mustKey(t, tt.from).Transpose(n).String())
		}
		if s := strings.Join(got, " "); s != tt.want {
			t.Errorf("up from %s: %s, want %s", tt.from, s, tt.want)
		}
	}
	for _, tt := range []struct {
		from      string
		semitones int
		want      string
	}{
		{"Gb", 0, "Gb"}, {"Gb", 12, "Gb"}, {"Cb", 0, "B"}, {"Ebm", -24, "Ebm"}, {"D#m", 0, "D#m"}, {"G", -1, "F#"}, {"A#m", 0, "Bbm"},
	} {
		if got := mustKey(t, tt.from).Transpose(tt.semitones).String(); got != tt.want {
			t.Errorf("%s moved %d = %s, want %s", tt.from, tt.semitones, got, tt.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		k, n := keys().Draw(t, "key"), rapid.IntRange(-40, 40).Draw(t, "semitones")
		moved := k.Transpose(n)
		if moved.Tonic.Class() != k.Tonic.Class().Up(n) || moved.Minor != k.Minor {
			t.Fatalf("%v moved %d = %v", k, n, moved)
		}
		if s := moved.Signature(); s < -6 || s > 6 {
			t.Fatalf("%v moved %d = %v with %d accidentals", k, n, moved, s)
		}
	})
}

// Shared scale tones of related keys: computed from the scales, and standard
// in every handbook.
func TestRelatedKeysShareScaleTones(t *testing.T) {
	home := mustKey(t, "C").Classes()
	for text, want := range map[string]int{
		"F": 6, "G": 6, "D": 5, "Bb": 5, "Eb": 4, "A": 4, "E": 3, "Ab": 3, "Db": 2, "B": 2, "F#": 2, "Am": 7,
	} {
		if got := home.Intersect(mustKey(t, text).Classes()).Len(); got != want {
			t.Errorf("C and %s share %d scale tones, want %d", text, got, want)
		}
	}
}
