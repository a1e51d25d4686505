package voicing

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

var cMinor = pitch.Key{Minor: true}

func chord(t testing.TB, symbol string) harmony.Chord {
	t.Helper()
	c, err := harmony.ParseChord(symbol)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// safe gives, spelled, the notes that a palette may add to a chord, or "-".
func safe(c harmony.Chord, key pitch.Key, p Palette) string {
	tones := tonalityWith(c, key, p)
	added := tones.colours
	if p&Suspend != 0 {
		added = tones.tones.Minus(c.Classes())
	}
	var names []string
	for k := range pitch.Class(12) {
		if added.Has(k) {
			names = append(names, c.Spell(k, key).String())
		}
	}
	if len(names) == 0 {
		return "-"
	}
	return strings.Join(names, " ")
}

// colourTable prints which colours are safe on which degree of a key.
func colourTable(key pitch.Key) string {
	rows := []string{"in " + key.String(), "9", "11", "6", "7", "sus"}
	lines := make([]string, len(rows))
	for i, row := range rows {
		lines[i] = fmt.Sprintf("//\t%-6s", row)
	}
	for degree := 1; degree <= 7; degree++ {
		c := harmony.Diatonic(key, degree)
		lines[0] += fmt.Sprintf(" %-5s", c.Symbol())
		for i, p := range []Palette{AddNinth, AddEleventh, AddSixth, AddSeventh, Suspend} {
			lines[i+1] += fmt.Sprintf(" %-5s", safe(c, key, p))
		}
	}
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ") + "\n"
	}
	return strings.Join(lines, "")
}

// The tables in the package documentation are what the rules give.
func TestColourTablesOfTheDocumentation(t *testing.T) {
	doc, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []pitch.Key{cMajor, cMinor} {
		if table := colourTable(key); !strings.Contains(string(doc), table) {
			t.Errorf("doc.go does not have the table\n%s", table)
		}
	}
}

// The notes of the key that handbooks call available above each diatonic chord
// (chord-scale practice, as in Nettles & Graf, The Chord Scale Theory, 1997; from
// memory): the other notes of the key, besides the chord's own and its seventh,
// are to be avoided.
var handbook = map[bool][7]string{
	false: {"9 13", "9 11", "11", "9 #11 13", "9 13", "9 11", "11 b13"},
	true:  {"9 11", "11 b13", "9 13", "9 11 13", "11", "9 #11 13", "9 13"},
}

// Where the rules differ from it, and why.
var differs = map[string]string{
	"major 2 13":  "let through: avoided because it is the dominant's third, but a bed has no cadence to spoil, and it rubs with nothing",
	"major 4 #11": "refused: a tritone from the bass",
	"minor 6 #11": "refused: a tritone from the bass",
}

func TestColoursAreTheHandbooks(t *testing.T) {
	numbers := map[int]string{1: "b9", 2: "9", 5: "11", 6: "#11", 8: "b13", 9: "13"}
	for _, key := range []pitch.Key{cMajor, cMinor} {
		mode := map[bool]string{false: "major", true: "minor"}[key.Minor]
		for degree := 1; degree <= 7; degree++ {
			c := harmony.Diatonic(key, degree)
			tones := tonalityOf(c, key, false)
			for _, n := range key.Scale() {
				above := int(n.Class()-c.Root.Class()+12) % 12
				number, tension := numbers[above]
				if !tension || c.Classes().Has(n.Class()) {
					continue
				}
				want := false
				for _, w := range strings.Fields(handbook[key.Minor][degree-1]) {
					want = want || w == number
				}
				place := fmt.Sprintf("%s %d %s", mode, degree, number)
				got := tones.colours.Has(n.Class())
				if reason := differs[place]; got == want && reason != "" || got != want && reason == "" {
					t.Errorf("%s: safe %v, by the handbook %v, and the reason is %q", place, got, want, reason)
				}
			}
		}
	}
}

// Borrowed and slash chords: notes that a keyboard player adds, and some never.
// From memory and by ear.
func TestColoursOfBorrowedAndSlashChords(t *testing.T) {
	for _, c := range []struct{ degree, nine, eleven, six, seven string }{
		{"4m", "G", "-", "D", "-"}, // no Fm(maj7), no B, a tritone from the bass
		{"1m", "D", "F", "A", "-"}, // no Cm(maj7)
		{"b7", "C", "-", "G", "A"}, // E is a tritone from Bb
		{"b6", "-", "-", "F", "G"}, // B is the minor third, D a tritone away
		{"b3", "F", "-", "C", "D"}, // A is a tritone from Eb
		{"2dom7", "E", "-", "B", "-"},
		{"3M", "-", "-", "-", "D"}, // F, A and C rub with E, G# and B
		{"6dom7", "B", "-", "-", "-"},
		{"1/3", "D", "-", "A", "B"},
		{"5/7", "A", "-", "E", "-"},  // F is a tritone from the bass
		{"4/1", "G", "-", "D", "E"},  // B is a tritone from the root
		{"1/b7", "D", "-", "A", "-"}, // B rubs with the bass
		{"5/4", "A", "-", "E", "-"},
		{"6m/5", "B", "D", "-", "-"},
		{"1sus4", "D", "-", "-", "-"}, // with A it is F over its fifth; B is a tritone from the fourth
		{"5sus4", "A", "-", "-", "F"},
		{"7dim/2", "-", "E", "G", "A"},
		{"1no3", "D", "F", "A", "B"}, // and no third
	} {
		list := chords(t, cMajor, c.degree)
		got := [4]string{}
		for i, p := range []Palette{AddNinth, AddEleventh, AddSixth, AddSeventh} {
			got[i] = safe(list[0], cMajor, p)
		}
		if want := [4]string{c.nine, c.eleven, c.six, c.seven}; got != want {
			t.Errorf("%s: 9, 11, 6, 7 are %q, want %q", c.degree, got, want)
		}
	}
}
