package voicing

import (
	"errors"
	"testing"

	"bedd/internal/harmony"

	"pgregory.net/rapid"
)

// The direct search and the one by bounds choose the same of equal paths: those
// of no weights or movement only are many.
func TestBothSearchesChooseTheSamePath(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawInstance(t)
		in.settings.High += rapid.Uint8Range(0, 10).Draw(t, "more")
		for range rapid.IntRange(0, 4).Draw(t, "again") {
			in.chords = append(in.chords, in.chords[rapid.IntRange(0, len(in.chords)-1).Draw(t, "chord")])
		}
		var paths [2]Path
		for i, small := range []int{1 << 40, -1} {
			e, err := New(in.settings)
			if err != nil {
				t.Fatal(err)
			}
			e.search.small = small
			paths[i], err = e.Path(in.chords, in.key, in.loop, in.from)
			var tooSmall *RangeError
			if errors.As(err, &tooSmall) {
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if work := directWork(e.stages[:len(in.chords)], in.loop); work > 1<<24 {
				return
			}
			if !paths[i].Proved {
				t.Fatal("a small instance is not proved")
			}
		}
		for i, s := range paths[0].Steps {
			if other := paths[1].Steps[i]; s.Voicing != other.Voicing {
				t.Fatalf("chord %d, %s: %+v directly, %+v by bounds; costs %v and %v", i, s.Chord.Symbol(), s.Voicing, other.Voicing,
					paths[0].Cost.Total, paths[1].Cost.Total)
			}
		}
	})
}

// What is kept of earlier calls changes no answer.
func TestKeptListsChangeNothing(t *testing.T) {
	change := func(s *Settings) { s.Voices, s.Thin, s.Plain, s.Weights = 3, 3, true, MovementOnly() }
	used := engine(t, change)
	for tonic := range 12 {
		key := cMajor.Transpose(tonic)
		for _, progression := range []string{"1 4 5 1", "2m7 5 1 6m", "1 b7 4 1", "1 4m 1 5", "1 3M 6m 4m", "1 b6 b7 1", "1aug 4 2dim", "5sus4 5 1/3 4"} {
			list := chords(t, key, progression)
			for range 2 {
				p, err := used.Path(list, key, true, nil)
				if err != nil {
					t.Fatal(err)
				}
				fresh, err := engine(t, change).Path(list, key, true, nil)
				if err != nil {
					t.Fatal(err)
				}
				for i := range p.Steps {
					if p.Steps[i] != fresh.Steps[i] {
						t.Fatalf("%v in %v: %+v by an engine in use, %+v by a new one", progression, key, p.Steps[i], fresh.Steps[i])
					}
				}
			}
		}
	}
}

func TestKeptListsHaveABound(t *testing.T) {
	for _, voices := range []int{3, 5} { // many short lists, fewer long ones
		e := engine(t, func(s *Settings) { s.Voices, s.Thin, s.Plain = voices, 3, true })
		calls := 0
		for tonic := range 12 {
			for _, minor := range []bool{false, true} {
				key := cMajor.Transpose(tonic)
				key.Minor = minor
				for _, symbol := range symbols {
					for transposed := range 3 {
						c := chords(t, cMajor, symbol)[0].Transpose(cMajor, cMajor.Transpose(transposed))
						if _, err := e.Path([]harmony.Chord{c}, key, false, nil); err != nil {
							t.Fatal(err)
						}
						calls++
						kept := 0
						for _, known := range e.known.chords {
							for _, list := range known.lists {
								kept += len(list)
							}
						}
						if kept != e.known.kept || kept > keptTogether || len(e.known.chords) > preparedChords {
							t.Fatalf("after %d calls %d candidates of %d chords are kept, counted as %d", calls, kept, len(e.known.chords), e.known.kept)
						}
					}
				}
			}
		}
		if calls <= preparedChords {
			t.Fatalf("%d chords do not reach the bound", calls)
		}
	}
}

// Equal chords share a long list; what leads to the first of them must not.
func TestAStartLeadsToTheFirstChordOnly(t *testing.T) {
	from := Of(43, 55, 60, 64)
	list := chords(t, cMajor, "G7b9 G7b9")
	var paths [2]Path
	for i, small := range []int{1 << 40, -1} {
		e := engine(t, func(s *Settings) { s.Colours = 2 })
		e.search.small = small
		var err error
		if paths[i], err = e.Path(list, cMajor, false, &from); err != nil {
			t.Fatal(err)
		}
		if n := len(e.stages[0].candidates); n <= keptEach {
			t.Fatalf("%d candidates are no long list", n)
		}
	}
	if a, b := paths[0].Cost.Total, paths[1].Cost.Total; a != b {
		t.Errorf("%v directly, %v by bounds", a, b)
	}
}
