package harmony

import (
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bedd/internal/pitch"
)

// exception is a list of suffixes on which bedd and a library do not agree.
type exception struct{ library, suffixes, why string }

// Where ParseChord knowingly differs from a library, by the suffix after the
// root. Common practice, no source, where no reason outside is given.
var readDifferently = []exception{
	{"chord-symbol", "m13 min13 mi13 -13 mMaj13 m7(13) m13b5", "it puts the eleventh below a minor thirteenth; players leave it out, and tonal does"},
	{"chord-symbol", "7(13)", "it takes (13) for 13, ninth and all; in parentheses stands what is added, as in its own 7add13"},
	{"chord-symbol", "7(11) m7(11) ø(11)", "it takes (11) for 11, ninth and all; in parentheses stands what is added, as in its own m7add11"},
	{"chord-symbol", "(9) 6(9) sus4(9)", "it takes (9) for 9, seventh and all; in parentheses stands what is added"},
	{"chord-symbol", "5add9", "it loses the ninth"},
	{"chord-symbol", "mb13 addb13 7addb13", "it drops the fifth beside a flat thirteenth that is only added"},
	{"chord-symbol", "alt 7alt 7(alt) 7ALT", "it sounds every alteration at once; bedd the four that tonal has, which a hand can hold"},
	{"chord-symbol", "7-9 7-13 7+9 7+11", "it takes the sign for the chord's, minor or augmented, though a seventh stands before it"},
	{"tonal", "7b9b13 7#9b13 7#11b13 9#11b13 7b9#11b13 7sus4b9b13 7b9b13sus4", "it keeps the fifth beside b13, though not in its own 7b13; chord-symbol drops it"},
	{"tonal", "7b5b9 7b9b5 7b5#9 7#9b5", "it takes b5 for #11, with a fifth, once there is an altered ninth; chord-symbol does not"},
	{"tonal", "^", "it takes the triangle alone for a triad; chord-symbol for a major seventh"},
}

// What a library accepts and ParseChord refuses.
var refused = []exception{
	{"chord-symbol", "-5", "C-5 may be C(b5) or Cm with its fifth"},
	{"chord-symbol", "4", "C4 may be Csus4, Cadd4 or a chord of fourths, as tonal has it"},
	{"tonal", "4", "C4 may be Csus4, as chord-symbol has it, Cadd4 or a chord of fourths"},
	{"chord-symbol", "dim9 °9 dim11", "the seventh may be diminished, as in dim7, or minor, as this library has it"},
}

// testdata/symbols.tsv holds what two libraries sound for every suffix that
// charts contain, on roots in turn: tonal 6.4.3 and chord-symbol 4.0.0 (npm,
// MIT), written by scripts/anchors/expect.
func TestSymbolsSoundAsTwoLibrariesReadThem(t *testing.T) {
	used := map[string]bool{}
	excuse := func(list []exception, kind, library, suffix string) bool {
		for _, e := range list {
			if e.library == library && slices.Contains(strings.Fields(e.suffixes), suffix) {
				used[kind+library+" "+suffix] = true
				return true
			}
		}
		return false
	}
	both, accepted := 0, 0
	for _, row := range readTable(t, "testdata/symbols.tsv") {
		symbol := row[0]
		c, err := ParseChord(symbol)
		_, suffix, nameErr := pitch.ParseName(symbol)
		if nameErr != nil {
			t.Fatal(nameErr)
		}
		if err == nil && c.Slash() {
			suffix = suffix[:strings.LastIndex(suffix, "/")]
		}
		theirs := 0
		for i, library := range []string{"tonal", "chord-symbol"} {
			if row[1+i] == "-" {
				continue
			}
			theirs++
			want := parseClasses(t, row[1+i])
			switch {
			case err != nil:
				if !excuse(refused, "refused ", library, suffix) {
					t.Errorf("%s knows %s: %v", library, symbol, err)
				}
			case c.Classes() != want:
				if !excuse(readDifferently, "differs ", library, suffix) {
					t.Errorf("%s sounds %v, in %s %v", symbol, c.Classes(), library, want)
				}
			default:
				accepted++
			}
		}
		if err == nil && theirs == 2 {
			both++
		}
	}
	if both < 400 {
		t.Errorf("only %d symbols that both libraries and ParseChord accept, want 400", both)
	}
	t.Logf("%d symbols accepted by all three; %d readings equal", both, accepted)
	for kind, list := range map[string][]exception{"differs ": readDifferently, "refused ": refused} {
		for _, e := range list {
			for _, suffix := range strings.Fields(e.suffixes) {
				if !used[kind+e.library+" "+suffix] {
					t.Errorf("the exception %q is not needed for %s", suffix, e.library)
				}
			}
		}
	}
}

// readTable reads the rows of a file of columns between tabs; lines that begin
// with # say where it comes from.
func readTable(t *testing.T, file string) (rows [][]string) {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(text)) {
		if !strings.HasPrefix(line, "# ") {
			rows = append(rows, strings.Split(strings.TrimSuffix(line, "\n"), "\t"))
		}
	}
	return rows
}

// parseClasses reads class numbers between blanks.
func parseClasses(t *testing.T, s string) (classes pitch.Set) {
	t.Helper()
	for _, word := range strings.Fields(s) {
		n, err := strconv.Atoi(word)
		if err != nil || n < 0 || n > 11 {
			t.Fatalf("%q is no list of pitch classes", s)
		}
		classes = classes.Add(pitch.Class(n))
	}
	return classes
}
