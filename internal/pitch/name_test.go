package pitch

import (
	"testing"

	"pgregory.net/rapid"
)

var goodNames = []struct {
	text, rest string
	letter     int8
	alter      int8
	class      Class
	ascii      string
}{
	{"C", "", 0, 0, 0, "C"},
	{"Bb", "", 6, -1, 10, "Bb"},
	{"B♭m7", "m7", 6, -1, 10, "Bb"},
	{"F#", "", 3, 1, 6, "F#"},
	{"F♯°", "°", 3, 1, 6, "F#"},
	{"Fx", "", 3, 2, 7, "F##"},
	{"F##", "", 3, 2, 7, "F##"},
	{"G𝄪4", "4", 4, 2, 9, "G##"},
	{"Ebb", "", 2, -2, 2, "Ebb"},
	{"A𝄫", "", 5, -2, 7, "Abb"},
	{"Cb", "", 0, -1, 11, "Cb"},
	{"B#", "", 6, 1, 0, "B#"},
	{"E♭b", "", 2, -2, 2, "Ebb"},
	{"Cb#9", "#9", 0, -1, 11, "Cb"}, // the sharp belongs to the ninth
	{"Dmaj7", "maj7", 1, 0, 2, "D"},
}

var badNames = []struct{ text, want string }{
	{"", "no note name: write a capital letter A to G, then b or # where needed"},
	{"c", "'c' does not start a note name: write a capital letter A to G, then b or # where needed"},
	{"H", "'H' does not start a note name: write a capital letter A to G, then b or # where needed"},
	{"♭", "'♭' does not start a note name: write a capital letter A to G, then b or # where needed"},
	{"Cbbb", `"Cbbb" has more than two accidentals: write at most bb or ##`},
	{"Fx#", `"Fx#" has more than two accidentals: write at most bb or ##`},
	{"F#xm", `"F#x" has more than two accidentals: write at most bb or ##`},
}

func TestParseName(t *testing.T) {
	for _, tt := range goodNames {
		n, rest, err := ParseName(tt.text)
		if err != nil || n != (Name{tt.letter, tt.alter}) || rest != tt.rest {
			t.Errorf("ParseName(%q) = %v, %q, %v, want %s, %q", tt.text, n, rest, err, tt.ascii, tt.rest)
		}
		if n.Class() != tt.class || n.String() != tt.ascii {
			t.Errorf("%q is %s, class %d, want %s, class %d", tt.text, n, n.Class(), tt.ascii, tt.class)
		}
	}
	for _, tt := range badNames {
		if n, _, err := ParseName(tt.text); err == nil || err.Error() != tt.want {
			t.Errorf("ParseName(%q) = %v, error %v\nwant error %s", tt.text, n, err, tt.want)
		}
	}
}

func FuzzParseName(f *testing.F) {
	for _, tt := range goodNames {
		f.Add(tt.text)
	}
	for _, tt := range badNames {
		f.Add(tt.text)
	}
	f.Fuzz(func(t *testing.T, s string) {
		n, rest, err := ParseName(s)
		if err != nil {
			return
		}
		if n.Alter < -2 || n.Alter > 2 || len(rest) >= len(s) {
			t.Fatalf("ParseName(%q) = %+v, rest %q", s, n, rest)
		}
		again, rest, err := ParseName(n.String())
		if err != nil || rest != "" || again != n {
			t.Fatalf("ParseName(%q) = %v, %q, %v, want %v", n.String(), again, rest, err, n)
		}
	})
}

// Interval sizes as every handbook has them; the spelled results are common
// practice.
func TestIntervalsAreSpelled(t *testing.T) {
	for _, tt := range []struct {
		from             string
		steps, semitones int8
		to               string
	}{
		{"C", 2, 4, "E"},
		{"C", 2, 3, "Eb"},
		{"B", 2, 4, "D#"},
		{"F", 3, 6, "B"},
		{"F", 4, 6, "Cb"},
		{"Cb", 4, 7, "Gb"},
		{"G#", 6, 11, "F##"},
		{"Eb", 6, 9, "Dbb"},
		{"A", 8, 14, "B"},
		{"C", -1, -1, "B"},
		{"C", -2, -3, "A"},
		{"C", 0, 1, "C#"},
	} {
		from, _, _ := ParseName(tt.from)
		if got := from.Up(Interval{tt.steps, tt.semitones}).String(); got != tt.to {
			t.Errorf("%s up %d steps, %d semitones = %s, want %s", tt.from, tt.steps, tt.semitones, got, tt.to)
		}
	}
}

func names() *rapid.Generator[Name] {
	return rapid.Custom(func(t *rapid.T) Name {
		return Name{rapid.Int8Range(0, 6).Draw(t, "letter"), rapid.Int8Range(-2, 2).Draw(t, "alter")}
	})
}

func TestUpUndoesTo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := names().Draw(t, "a"), names().Draw(t, "b")
		i := a.To(b)
		if i.Steps < 0 || i.Steps > 6 {
			t.Fatalf("%v to %v is %d steps, want 0…6", a, b, i.Steps)
		}
		if got := a.Up(i); got != b {
			t.Fatalf("%v up to %v lands on %v", a, b, got)
		}
		if got := a.Class().Up(int(i.Semitones)); got != b.Class() {
			t.Fatalf("%v up %d semitones is class %d, want %d", a, i.Semitones, got, b.Class())
		}
	})
}

func TestLineOfFifthsHoldsEveryName(t *testing.T) {
	// The line as handbooks print it, F being place -1.
	line := []string{"Fb", "Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#", "E#", "B#"}
	for i, want := range line {
		place := i - 8
		n := nameAtFifths(place)
		if n.String() != want || n.fifths() != place {
			t.Errorf("place %d = %v at %d, want %s", place, n, n.fifths(), want)
		}
	}
}
