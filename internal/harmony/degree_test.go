package harmony

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bedd/internal/pitch"
)

func mustKey(t testing.TB, s string) pitch.Key {
	t.Helper()
	k, err := pitch.ParseKey(s)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// Triads I to VII of the fifteen major keys, by the line of fifths; an
// independent library (tonal) spells them the same.
var majorTriads = []string{
	"Cb Dbm Ebm Fb Gb Abm Bbdim",
	"Gb Abm Bbm Cb Db Ebm Fdim",
	"Db Ebm Fm Gb Ab Bbm Cdim",
	"Ab Bbm Cm Db Eb Fm Gdim",
	"Eb Fm Gm Ab Bb Cm Ddim",
	"Bb Cm Dm Eb F Gm Adim",
	"F Gm Am Bb C Dm Edim",
	"C Dm Em F G Am Bdim",
	"G Am Bm C D Em F#dim",
	"D Em F#m G A Bm C#dim",
	"A Bm C#m D E F#m G#dim",
	"E F#m G#m A B C#m D#dim",
	"B C#m D#m E F# G#m A#dim",
	"F# G#m A#m B C# D#m E#dim",
	"C# D#m E#m F# G# A#m B#dim",
}

func TestDiatonicTriadsOfTheFifteenKeys(t *testing.T) {
	for _, row := range majorTriads {
		want := strings.Fields(row)
		k := mustKey(t, want[0])
		minor := k.Relative()
		for degree := 1; degree <= 7; degree++ {
			if got := Diatonic(k, degree).Symbol(); got != want[degree-1] {
				t.Errorf("degree %d of %v = %s, want %s", degree, k, got, want[degree-1])
			}
			// Natural minor has the same triads from the sixth on.
			if got := Diatonic(minor, degree).Symbol(); got != want[(degree+4)%7] {
				t.Errorf("degree %d of %v = %s, want %s", degree, minor, got, want[(degree+4)%7])
			}
			if c := Diatonic(k, degree); !k.Classes().Contains(c.Classes()) {
				t.Errorf("%v does not lie in %v", c, k)
			}
		}
	}
	for degree, want := range map[int]string{8: "C", 9: "Dm", 0: "Bdim", -6: "C", 14: "Bdim"} {
		if got := Diatonic(pitch.Key{}, degree).Symbol(); got != want {
			t.Errorf("degree %d of C = %s, want %s", degree, got, want)
		}
	}
}

// Qualities by degree, major and natural minor: standard in every handbook,
// and the same in an independent library.
func TestSeventhsOnTheDegrees(t *testing.T) {
	for key, row := range map[string]string{
		"C":  "1maj7=Cmaj7 27=Dm7 37=Em7 4maj7=Fmaj7 57=G7 67=Am7 77=Bm7b5",
		"Am": "17=Am7 27=Bm7b5 3maj7=Cmaj7 47=Dm7 57=Em7 6maj7=Fmaj7 77=G7",
	} {
		k := mustKey(t, key)
		for _, pair := range strings.Fields(row) {
			degree, want, _ := strings.Cut(pair, "=")
			c, err := ParseStep(degree, k, FromTonic)
			if err != nil || c.Symbol() != want {
				t.Errorf("%s in %s = %v, %v, want %s", degree, key, c, err, want)
			}
			if !k.Classes().Contains(c.Classes()) {
				t.Errorf("%v does not lie in %s", c, key)
			}
		}
	}
}

var goodSteps = []struct {
	text, key string
	numbers   Numbers
	symbol    string
	degree    string
}{
	{"1", "C", FromTonic, "C", "1"},
	{"2", "C", FromTonic, "Dm", "2m"},
	{"7", "C", FromTonic, "Bdim", "7dim"},
	{"2M", "C", FromTonic, "D", "2M"},
	{"2m", "C", FromTonic, "Dm", "2m"},
	{"4m", "C", FromTonic, "Fm", "4m"},
	{"7m", "C", FromTonic, "Bm", "7m"},
	{"7M", "C", FromTonic, "B", "7M"},
	{"4maj7", "C", FromTonic, "Fmaj7", "4maj7"},
	{"IVM7", "C", FromTonic, "Fmaj7", "4maj7"}, {"4MAJ7", "C", FromTonic, "Fmaj7", "4maj7"}, {"6mM7", "C", FromTonic, "AmMaj7", "6mMaj7"},
	{"5 sus4", "C", FromTonic, "Gsus4", "5sus4"}, {"2M6", "C", FromTonic, "D6", "2M6"},
	{"2maj7", "C", FromTonic, "Dmaj7", "2maj7"},
	{"5sus4", "C", FromTonic, "Gsus4", "5sus4"},
	{"57", "C", FromTonic, "G7", "57"},
	{"27", "C", FromTonic, "Dm7", "2m7"},
	{"2-7", "C", FromTonic, "Dm7", "2m7"},
	{"2dom7", "C", FromTonic, "D7", "2dom7"},
	{"2M(7)", "C", FromTonic, "Dmaj7", "2maj7"},
	{"2add9", "C", FromTonic, "Dmadd9", "2madd9"},
	{"2Madd9", "C", FromTonic, "Dadd9", "2Madd9"},
	{"2sus4", "C", FromTonic, "Dsus4", "2sus4"},
	{"2M6", "C", FromTonic, "D6", "2M6"},
	{"211", "C", FromTonic, "Dm11", "2m11"},
	{"1(b5)", "C", FromTonic, "C(b5)", "1(b5)"},
	{"15", "C", FromTonic, "C5", "15"},
	{"12", "C", FromTonic, "Cadd9", "1add9"},
	{"169", "C", FromTonic, "C69", "169"},
	{"16/9", "C", FromTonic, "C69", "169"},
	{"16/3", "C", FromTonic, "C6/E", "16/3"},
	{"1/3", "C", FromTonic, "C/E", "1/3"},
	{"1/b7", "C", FromTonic, "C/Bb", "1/b7"},
	{"1/1", "C", FromTonic, "C", "1"},
	{"5/B", "C", FromTonic, "G/B", "5/7"},
	{"6m/5", "C", FromTonic, "Am/G", "6m/5"},
	{"b7", "C", FromTonic, "Bb", "b7"},
	{"♭7", "C", FromTonic, "Bb", "b7"},
	{"b77", "C", FromTonic, "Bb7", "b77"},
	{"B7", "C", FromTonic, "B7", "7dom7"},
	{"Bb7", "C", FromTonic, "Bb7", "b77"},
	{"bb7", "C", FromTonic, "Bbb", "bb7"},
	{"b6", "C", FromTonic, "Ab", "b6"},
	{"#4dim", "C", FromTonic, "F#dim", "#4dim"},
	{"♯4°7", "C", FromTonic, "F#dim7", "#4dim7"},
	{"Eb/G", "C", FromTonic, "Eb/G", "b3/5"},
	{"F#m7b5", "C", FromTonic, "F#m7b5", "#4m7b5"},
	{"Gb", "C", FromTonic, "Gb", "b5"},
	{"1", "Eb", FromTonic, "Eb", "1"},
	{"6", "Eb", FromTonic, "Cm", "6m"},
	{"b7", "Eb", FromTonic, "Db", "b7"},
	{"b7", "E", FromTonic, "D", "b7"},
	{"#4dim", "Gb", FromTonic, "Cdim", "#4dim"},
	// roman numerals
	{"I", "C", FromTonic, "C", "1"},
	{"ii", "C", FromTonic, "Dm", "2m"},
	{"II", "C", FromTonic, "D", "2M"},
	{"II7", "C", FromTonic, "D7", "2dom7"},
	{"ii7", "C", FromTonic, "Dm7", "2m7"},
	{"iim7", "C", FromTonic, "Dm7", "2m7"},
	{"VIm", "C", FromTonic, "Am", "6m"},
	{"iimaj7", "C", FromTonic, "DmMaj7", "2mMaj7"},
	{"iii", "C", FromTonic, "Em", "3m"},
	{"IV", "C", FromTonic, "F", "4"},
	{"iv", "C", FromTonic, "Fm", "4m"},
	{"IVmaj7", "C", FromTonic, "Fmaj7", "4maj7"},
	{"V7", "C", FromTonic, "G7", "57"},
	{"vi7", "C", FromTonic, "Am7", "6m7"},
	{"vii°", "C", FromTonic, "Bdim", "7dim"},
	{"viiø7", "C", FromTonic, "Bm7b5", "7m7b5"},
	{"vii°7", "C", FromTonic, "Bdim7", "7dim7"},
	{"bVII", "C", FromTonic, "Bb", "b7"},
	{"#iv°", "C", FromTonic, "F#dim", "#4dim"},
	{"III+", "C", FromTonic, "Eaug", "3aug"},
	{"ii/4", "C", FromTonic, "Dm/F", "2m/4"},
	{"V/7", "C", FromTonic, "G/B", "5/7"},
	{"iiadd9", "C", FromTonic, "Dmadd9", "2madd9"},
	{"viiadd9", "C", FromTonic, "Bmadd9", "7madd9"},
	{"V7alt", "C", FromTonic, "G7#5#9", "57#5#9"},
	{"57alt/7", "C", FromTonic, "G7#5#9/B", "57#5#9/7"},
	{"57/9", "C", FromTonic, "G9", "59"},
	{"6m/maj7", "C", FromTonic, "AmMaj7", "6mMaj7"},
	{"V7-9", "C", FromTonic, "G7b9", "57b9"},
	{"57+5", "C", FromTonic, "G7#5", "57#5"},
	{"6MIN7", "C", FromTonic, "Am7", "6m7"},
	{"iiADD9", "C", FromTonic, "Dmadd9", "2madd9"},
	// minor keys
	{"1", "Am", FromTonic, "Am", "1m"},
	{"2", "Am", FromTonic, "Bdim", "2dim"},
	{"3", "Am", FromTonic, "C", "3"},
	{"5", "Am", FromTonic, "Em", "5m"},
	{"5M", "Am", FromTonic, "E", "5M"},
	{"V7", "Am", FromTonic, "E7", "5dom7"},
	{"7", "Am", FromTonic, "G", "7"},
	{"#7dim", "Am", FromTonic, "G#dim", "#7dim"},
	{"1/b7", "Am", FromTonic, "Am/Gb", "1m/b7"},
	{"1/7", "Am", FromTonic, "Am/G", "1m/7"},
	{"1", "Am", Relative, "C", "3"},
	{"6", "Am", Relative, "Am", "1m"},
	{"1/3", "Am", Relative, "C/E", "3/5"},
	{"IV", "Am", Relative, "F", "6"},
	{"Dm", "Am", Relative, "Dm", "4m"},
	{"1", "C", Relative, "C", "1"},
	{"1", "Ebm", Relative, "Gb", "3"},
}

const (
	acceptedStep = "(a chord starts with a letter A to G, a number 1 to 7 or a roman numeral I to VII, after b or # where needed)"
	acceptedBass = "(after the slash write the bass as a degree or a name, as in 1/3, 1/b7, 5/B)"
)

var badSteps = []struct{ text, want string }{
	{"", `unknown chord "": "" does not start a chord at character 1 ` + acceptedStep},
	{"8", `unknown chord "8": "8" does not start a chord at character 1 ` + acceptedStep},
	{"0", `unknown chord "0": "0" does not start a chord at character 1 ` + acceptedStep},
	{"b", `unknown chord "b": "b" does not start a chord at character 1 ` + acceptedStep},
	{"b#7", `unknown chord "b#7": "b#7" does not start a chord at character 1 ` + acceptedStep},
	{"am", `unknown chord "am": "am" does not start a chord at character 1 ` + acceptedStep},
	{"-5", `unknown chord "-5": "-5" does not start a chord at character 1 ` + acceptedStep},
	{"10", `unknown chord "10": "0" after "1" is not understood at character 2 ` + accepted},
	{"Iv", `unknown chord "Iv": "v" after "I" is not understood at character 2 ` + accepted},
	{"iiaj7", `unknown chord "iiaj7": "aj7" after "ii" is not understood at character 3 ` + accepted},
	{"4xyz", `unknown chord "4xyz": "xyz" after "4" is not understood at character 2 ` + accepted},
	{"♭7xyz", `unknown chord "♭7xyz": "xyz" after "♭7" is not understood at character 3 ` + accepted},
	{"Cxyz", `unknown chord "Cxyz": "xyz" after "C" is not understood at character 2 ` + accepted},
	{"bbb7", `unknown chord "bbb7": "bbb7" is no note in C at character 1 (at most two flats or sharps are read)`},
	{"1/###4", `unknown chord "1/###4": "###4" is no note in C at character 3 (at most two flats or sharps are read)`},
	{"1/", `unknown chord "1/": no bass after the slash at character 3 ` + acceptedBass},
	{"1/8", `unknown chord "1/8": no bass after the slash at character 3 ` + acceptedBass},
	{"5M7", `unknown chord "5M7": M7 after "5" may be a major seventh chord or a seventh on the major triad at character 2 (write 5maj7, or 5dom7)`},
	{"b7M9sus4", `unknown chord "b7M9sus4": M9 after "b7" may be a major seventh chord or a seventh on the major triad at character 3 (write b7maj9sus4, or b7dom9sus4)`},
	{"57-9", `unknown chord "57-9": "-9" after "57" is not understood at character 3 ` + accepted},
	{"N.C.", `unknown chord "N.C.": "N.C." is no chord at character 1 (a bed always holds one: leave this out and fade the bed there)`},
	{"V/V", `unknown chord "V/V": no bass after the slash at character 3 ` + acceptedBass},
	{"1/35", `unknown chord "1/35": "5" after "1/3" is not understood at character 4 ` + accepted},
	{"1/Em", `unknown chord "1/Em": "m" after "1/E" is not understood at character 4 ` + accepted},
	{"C/3", `unknown chord "C/3": no bass after the slash at character 3 (after the slash write the name of the bass, as in C/E)`},
}

func TestParseStep(t *testing.T) {
	for _, tt := range goodSteps {
		k := mustKey(t, tt.key)
		c, err := ParseStep(tt.text, k, tt.numbers)
		if err != nil || c.Symbol() != tt.symbol {
			t.Errorf("%s in %s = %v, %v, want %s", tt.text, tt.key, c, err, tt.symbol)
			continue
		}
		if got := c.Degree(k); got != tt.degree {
			t.Errorf("%s in %s is written %s, want %s", tt.symbol, tt.key, got, tt.degree)
		}
	}
	for _, tt := range badSteps {
		if c, err := ParseStep(tt.text, pitch.Key{}, FromTonic); err == nil || err.Error() != tt.want {
			t.Errorf("ParseStep(%q) = %v\n error %v\n want  %s", tt.text, c, err, tt.want)
		}
	}
}

func keys() *rapid.Generator[pitch.Key] {
	return rapid.Custom(func(t *rapid.T) pitch.Key {
		return pitch.Key{
			Tonic: pitch.Name{Letter: rapid.Int8Range(0, 6).Draw(t, "letter"), Alter: rapid.Int8Range(-1, 1).Draw(t, "alter")},
			Minor: rapid.Bool().Draw(t, "minor"),
		}
	})
}

func names() *rapid.Generator[pitch.Name] {
	return rapid.Custom(func(t *rapid.T) pitch.Name {
		return pitch.Name{Letter: rapid.Int8Range(0, 6).Draw(t, "letter"), Alter: rapid.Int8Range(-2, 2).Draw(t, "alter")}
	})
}

func chords() *rapid.Generator[Chord] {
	all := everyQuality()
	return rapid.Custom(func(t *rapid.T) Chord {
		c := Chord{Root: names().Draw(t, "root"), quality: rapid.SampledFrom(all).Draw(t, "quality")}
		c.Bass = c.Root
		if rapid.Bool().Draw(t, "slash") {
			c.Bass = names().Draw(t, "bass")
		}
		return c
	})
}

func TestSymbolAndDegreeReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, k := chords().Draw(t, "chord"), keys().Draw(t, "key")
		if got, err := ParseChord(c.Symbol()); err != nil || got != c {
			t.Fatalf("%s reads as %v, %v", c.Symbol(), got, err)
		}
		if got, err := ParseStep(c.Degree(k), k, FromTonic); err != nil || got != c {
			t.Fatalf("%v in %v is %s, which reads as %v, %v", c, k, c.Degree(k), got, err)
		}
	})
}

func TestEveryQualityReadsBackAsADegree(t *testing.T) {
	k := mustKey(t, "C")
	for _, q := range everyQuality() {
		for _, root := range k.Scale() {
			c := Chord{Root: root, Bass: root, quality: q}
			if got, err := ParseStep(c.Degree(k), k, FromTonic); err != nil || got != c {
				t.Fatalf("%v is %s, which reads as %v, %v", c, c.Degree(k), got, err)
			}
		}
	}
}

func FuzzParseStep(f *testing.F) {
	for _, tt := range goodSteps {
		f.Add(tt.text, int8(0), int8(0), false, uint8(tt.numbers))
		f.Add(tt.text, int8(2), int8(-1), true, uint8(tt.numbers))
	}
	for _, tt := range badSteps {
		f.Add(tt.text, int8(0), int8(0), false, uint8(0))
	}
	for _, tt := range goodChords {
		f.Add(tt.text, int8(5), int8(0), true, uint8(0))
	}
	f.Fuzz(func(t *testing.T, s string, letter, alter int8, minor bool, n uint8) {
		k := pitch.Key{Tonic: pitch.Name{Letter: (letter%7 + 7) % 7, Alter: alter % 2}, Minor: minor}
		c, err := ParseStep(s, k, Numbers(n%2))
		if err != nil {
			if strings.ContainsAny(err.Error(), "\n\r") {
				t.Fatalf("ParseStep(%q): the error has more than one line: %v", s, err)
			}
			return
		}
		if again, err := ParseChord(c.Symbol()); err != nil || again != c {
			t.Fatalf("%q is written %s, which reads as %v, %v", s, c.Symbol(), again, err)
		}
		if again, err := ParseStep(c.Degree(k), k, FromTonic); err != nil || again != c {
			t.Fatalf("%q in %v is written %s, which reads as %v, %v", s, k, c.Degree(k), again, err)
		}
	})
}
