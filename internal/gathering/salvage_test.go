package gathering

import (
	"errors"
	"io/fs"
	"os"
	"slices"
	"strings"
	"testing"

	"bedd/internal/bed"
)

func TestWhatIsSoundOfABrokenPlanIsKept(t *testing.T) {
	for _, c := range []struct {
		name, text, want string
		left             []int // lines with faults
	}{
		{"an unknown field", "order:\n- {song: A, key: C, kye: D}\n- {for: x}\n- {song: B, key: D}\n",
			"x: C: C F / Am Dm -> D D", []int{2}},
		{"chords that are none", "order:\n- {for: x, key: C, home: 1 H}\n- {for: y, key: D, home: 1 5}\n",
			"x: C: C F / Am Dm; y: D: D A / ", []int{2}},
		{"away that is none", "order:\n- {for: x, key: C, home: 1 4, away: Q}\n",
			"x: C: C F / ", []int{2}},
		{"a bed that is not there", "order:\n- {for: x, key: C, bed: clam}\n",
			"x: C: C F / Am Dm", []int{2}},
		{"a bed for the other mode", "order:\n- {for: x, key: C, bed: night}\n",
			"x: C: C F / Am Dm", []int{2}},
		{"a song without a key leads nowhere, and gives none", "order:\n- {song: A, key: C}\n- {for: x}\n- {song: B, key: H}\n- {for: y}\n- {song: D, key: G}\n",
			"x: C: C F / Am Dm; y: G: G C / Em Am -> G G", []int{4}},
		{"a moment that can have no key is left out", "order:\n- {for: x}\n- {for: y, key: C}\n",
			"y: C: C F / Am Dm", []int{2}},
		{"a line that is no YAML", "order:\n- {for: x, key: C}\n\t- tab\n- {for: y, key: D}\n",
			"x: C: C F / Am Dm; y: D: D G / Bm Em", []int{3}},
		{"an open quote, and a fault after it", "title: \"An evening\norder:\n- {for: x, key: C}\n- {for: y, key: D, hom: 1}\n",
			"x: C: C F / Am Dm; y: D: D G / Bm Em", []int{1, 4}},
		{"a longest time below the expected one", "order:\n- {for: x, key: C, minutes: 4, longest: 3}\n",
			"x: C: C F / Am Dm", []int{2}},
		{"only songs", "order:\n- {song: A, key: C}\n- {song: B, key: D, tempo: fast}\n",
			"between A and B: C: C F / Am Dm -> D D", []int{3}},
		{"nothing at all", "hello\n", "", []int{1}},
		{"an empty file", "", "", []int{1}},
		{"one moment too many", "order:\n" + strings.Repeat("- {for: x, key: C}\n", 257),
			strings.TrimSuffix(strings.Repeat("x: C: C F / Am Dm; ", 256), "; "), []int{258}},
	} {
		g, err := SalvageGathering("w.yaml", []byte(c.text), testLibrary)
		var got []string
		for _, m := range g.Moments {
			got = append(got, m.For+": "+route(m))
		}
		if s := strings.Join(got, "; "); s != c.want {
			t.Errorf("%s: got %s\nwant %s", c.name, s, c.want)
		}
		var fe *FileError
		if !errors.As(err, &fe) {
			t.Errorf("%s: the error is %v", c.name, err)
			continue
		}
		var lines []int
		for _, f := range fe.Faults {
			lines = append(lines, f.Line)
		}
		if lines = slices.Compact(lines); !slices.Equal(lines, c.left) {
			t.Errorf("%s: faults on lines %v, want %v: %v", c.name, lines, c.left, err)
		}
	}
}

func TestASoundPlanIsSalvagedWhole(t *testing.T) {
	g, err := SalvageGathering("w.yaml", []byte(fullPlan), testLibrary)
	if err != nil || len(g.Moments) != 3 || g.Title != "An evening" {
		t.Errorf("got %+v, %v", g, err)
	}
}

func TestSalvageOpen(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.WriteFile("w.yaml", []byte("order: [{for: x, key: C, kye: D}]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	g, left, err := SalvageOpen("w.yaml", testLibrary)
	if err != nil || left == nil || len(g.Moments) != 1 || g.Title != "w" {
		t.Errorf("got %+v, %v, %v", g, left, err)
	}
	if g, left, err = SalvageOpen("winter-lights", mustLibrary(t)); err != nil || left != nil || len(g.Moments) != 5 {
		t.Errorf("got %d moments, %v, %v", len(g.Moments), left, err)
	}
	if _, _, err = SalvageOpen("nowhere.yaml", nil); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a missing file: %v", err)
	}
}

func mustLibrary(t *testing.T) Library {
	t.Helper()
	l, err := OpenLibrary("")
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// Whatever the file is, the bed takes what is salvaged of it, and the error is
// the same as the strict reader's where the file is YAML.
func FuzzSalvageGathering(f *testing.F) {
	for _, b := range slices.Concat(badPlans, badSongs, brokenFiles) {
		f.Add([]byte(b.text))
	}
	f.Add([]byte(fullPlan))
	f.Add([]byte(" 0:\n0\n"))
	f.Add([]byte("order:\n- {song: A}\n- {for: x}\n- {song: B, key: D}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		g, err := SalvageGathering("w.yaml", data, testLibrary)
		if strict, wrong := ReadGathering("w.yaml", data, testLibrary); (wrong == nil) != (err == nil) || err == nil && len(strict.Moments) != len(g.Moments) {
			t.Fatalf("salvaged with %v, read with %v", err, wrong)
		}
		if err != nil {
			checkFaults(t, data, err)
		}
		if len(g.Moments) == 0 {
			return
		}
		c := bed.DefaultConfig()
		c.Moments = g.BedMoments()
		if _, err := bed.New(c); err != nil {
			t.Fatalf("the bed refuses what was salvaged: %v", err)
		}
		for i, m := range g.Moments {
			if next, ok := g.Next(i); ok && !next.NoKey && (m.Bed.NextKey != next.Key || m.Bed.NextChord != next.First) {
				t.Fatalf("moment %d leads to %v %v, not to %+v", i, m.Bed.NextKey, m.Bed.NextChord, next)
			}
		}
	})
}
