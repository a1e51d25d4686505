package gathering

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

func adviser(t testing.TB, rig Rig) *Adviser {
	t.Helper()
	library, err := OpenLibrary("")
	if err != nil {
		t.Fatal(err)
	}
	a, err := NewAdviser(rig, library)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// What grows keeps the rules: Piston's table of usual root progressions, two to
// four different chords, home on the tonic, away without it and back to it.
func TestProgressionsGrowByRule(t *testing.T) {
	library, err := OpenLibrary("")
	if err != nil {
		t.Fatal(err)
	}
	for _, minor := range []bool{false, true} {
		g := grow(library, minor)
		if len(g.homes) < 30 || len(g.aways) < 40 {
			t.Errorf("minor %v: %d homes and %d aways", minor, len(g.homes), len(g.aways))
		}
		seen := map[string]bool{}
		degree := func(c harmony.Chord) int {
			for i, n := range g.key.Scale() {
				if n == c.Root {
					return i + 1
				}
			}
			return 0
		}
		check := func(p progression, home bool) {
			if p.pair != "" {
				return
			}
			if seen[p.degrees] {
				t.Errorf("%s stands there twice", p.degrees)
			}
			seen[p.degrees] = true
			again, err := harmony.ParseProgression(p.degrees, g.key, harmony.FromTonic)
			if err != nil || len(again) != len(p.chords) {
				t.Errorf("%s reads as %v, %v", p.degrees, again, err)
			}
			if len(p.chords) < 2 || len(p.chords) > 4 || differentChords(p.chords, nil) != len(p.chords) {
				t.Errorf("%s is not of two to four different chords", p.degrees)
			}
			if (degree(p.chords[0]) == 1) != home {
				t.Errorf("%s, home %v, begins on %d", p.degrees, home, degree(p.chords[0]))
			}
			for i, c := range p.chords {
				d := degree(c)
				if d == 0 || i > 0 && d == 1 {
					t.Errorf("%s goes over degree %d", p.degrees, d)
					continue
				}
				if i > 0 && harmony.Following(degree(p.chords[i-1]), d) > harmony.Sometimes {
					t.Errorf("%s goes from %d to %d", p.degrees, degree(p.chords[i-1]), d)
				}
				if i == len(p.chords)-1 && (harmony.Following(d, 1) == harmony.Unusual || !home && harmony.Following(d, 1) > harmony.Sometimes) {
					t.Errorf("%s, home %v, comes back from %d", p.degrees, home, d)
				}
			}
		}
		for _, p := range g.homes {
			check(p, true)
		}
		for _, p := range g.aways {
			check(p, false)
		}
	}
}

// Nothing that is suggested is the song's progression, or gives its figure away in
// the top line, as long as there is anything else; all of it is in the moment's
// key, and reads back as it is written.
func TestSuggestionsKeepOffTheSong(t *testing.T) {
	a := adviser(t, DefaultRig())
	rapid.Check(t, func(t *rapid.T) {
		g := randomPlan(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)), 4)
		for i := range g.Moments {
			song, _ := g.Next(i)
			m := &g.Moments[i]
			list := a.Suggest(&g, i, 3)
			if len(list) != 3 {
				t.Fatalf("%d suggestions", len(list))
			}
			for n, s := range list {
				if n > 0 && s.Price < list[n-1].Price {
					t.Fatalf("%v costs less than the one before", s)
				}
				if !strings.HasSuffix(s.Why, ".") || strings.Count(s.Why, "\n") > 0 {
					t.Fatalf("no sentence: %q", s.Why)
				}
				home, err := harmony.ParseProgression(s.Home, m.Bed.Key, g.Numbers)
				if err != nil || fmt.Sprint(home) != fmt.Sprint(s.HomeChords) {
					t.Fatalf("%s in %v reads as %v, not %v: %v", s.Home, m.Bed.Key, home, s.HomeChords, err)
				}
				given := false
				for _, chords := range [][]harmony.Chord{s.HomeChords, s.AwayChords} {
					_, found := harmony.FindFigure(song.Figure, song.Key, a.voice(chords, m.Bed.Key).top, m.Bed.Key, true)
					given = given || found
				}
				if given != strings.Contains(s.Why, "its top line begins like the song's figure") {
					t.Fatalf("the figure is in the top line: %v, and it says %q", given, s.Why)
				}
				for _, section := range song.Sections {
					for what, chords := range map[string][]harmony.Chord{"home": s.HomeChords, "away": s.AwayChords} {
						if l := harmony.Compare(chords, m.Bed.Key, section.Chords, song.Key); l.Kinship > harmony.Disguised && !strings.Contains(s.Why, "but") {
							t.Fatalf("%s %v is %v to %v, and it says %q", what, chords, l.Kinship, section.Chords, s.Why)
						}
						if l := harmony.Compare(chords, m.Bed.Key, section.Chords, song.Key); l.Kinship >= harmony.Rotated {
							t.Fatalf("%s %v is %v to %v", what, chords, l.Kinship, section.Chords)
						}
					}
				}
			}
		}
	})
}

// The sentence says what a musician would: made-up plans, each with the point it
// is about.
func TestSuggestionsSayWhy(t *testing.T) {
	a := adviser(t, DefaultRig())
	for name, tt := range map[string]struct {
		plan string
		best string // the first, home and away
		why  string // a part of what it says
	}{
		"nothing follows": {"order: [{for: a silence, key: D, minutes: 3}]",
			"1maj7 6m7 | 2m7 4maj7", "four chords carry three minutes"},
		"a song of thirds down": {"order: [{song: Low Tide, key: C, sections: {verse: 1 6m 3m}}, {for: a silence}, {song: Low Tide, key: C, sections: {verse: 1 6m 3m, chorus: 4 2m 4}}]",
			"", `it has nothing of "Low Tide"`},
		"a far key":  {"order: [{song: A, key: C}, {for: a silence}, {song: B, key: E}]", "", "the way to E needs a chromatic step"},
		"a near key": {"order: [{song: A, key: C}, {for: a silence}, {song: B, key: G}]", "", "of G, where the song is"},
	} {
		g := mustRead(t, tt.plan)
		list := a.Suggest(&g, 0, 3)
		if got := list[0].Home + " | " + list[0].Away; tt.best != "" && got != tt.best {
			t.Errorf("%s: %s, want %s", name, got, tt.best)
		}
		if !strings.Contains(list[0].Why, tt.why) {
			t.Errorf("%s: %q, want %q in it", name, list[0].Why, tt.why)
		}
	}
}

// What the plan has is judged by the same measure.
func TestWhatThePlanHasIsJudged(t *testing.T) {
	a := adviser(t, DefaultRig())
	for name, tt := range map[string]struct{ plan, want string }{
		"sound": {"order: [{song: A, key: C}, {for: x, minutes: 4, home: 1 6m, away: 4 5}, {song: B, key: F, sections: {verse: 1 b7 4 b7}}]",
			`Home rests without a dominant, away comes back by 5, strongly; it has nothing of "B", its 4 is already 1 of F, where the song is, four chords carry four minutes, and three of its notes stay at a change.`},
		"the song, and too few chords": {"order: [{song: A, key: C}, {for: x, minutes: 9, home: 1 6m 4 5}, {song: B, key: C, sections: {verse: 4 5 1 6m}}]",
			`Home goes round by the dominant, and there is no away; three of its notes stay at a change; but home is the verse of "B", begun on another chord, and four chords are few for nine minutes.`},
	} {
		g := mustRead(t, tt.plan)
		now, ok := a.Judge(&g, 0)
		if !ok || now.Why != tt.want {
			t.Errorf("%s: %v\n got %s\nwant %s", name, ok, now.Why, tt.want)
		}
		if best := a.Suggest(&g, 0, 1)[0]; name != "sound" && best.Price >= now.Price {
			t.Errorf("%s: %v costs %.1f, what the plan has %.1f", name, best, best.Price, now.Price)
		}
	}
}

// What the moment before had is not suggested again first.
func TestSuggestionsChange(t *testing.T) {
	a := adviser(t, DefaultRig())
	g := mustRead(t, "order: [{for: one, key: C}, {for: two, key: C}]")
	first := a.Suggest(&g, 0, 1)[0]
	g.Moments[0].Bed.Home, g.Moments[0].Bed.Away = first.HomeChords, first.AwayChords
	second := a.Suggest(&g, 1, 1)[0]
	for _, pair := range [][2][]harmony.Chord{{first.HomeChords, second.HomeChords}, {first.AwayChords, second.AwayChords}} {
		if l := harmony.Compare(pair[0], pitch.Key{}, pair[1], pitch.Key{}); l.Kinship > harmony.Disguised {
			t.Errorf("after %v comes %v", pair[0], pair[1])
		}
	}
}

func TestSuggestionsCountAsThePlanDoes(t *testing.T) {
	a := adviser(t, DefaultRig())
	g := mustRead(t, "defaults: {numbers: relative}\norder: [{for: one, key: Am}]")
	s := a.Suggest(&g, 0, 1)[0]
	home, err := harmony.ParseProgression(s.Home, g.Moments[0].Bed.Key, harmony.Relative)
	if err != nil || fmt.Sprint(home) != fmt.Sprint(s.HomeChords) || !strings.HasPrefix(s.Home, "6m") {
		t.Errorf("%s reads as %v, not %v: %v", s.Home, home, s.HomeChords, err)
	}
}

// randomPlan makes a plan of so many songs with a moment after each but the last.
func randomPlan(r *rand.Rand, songs int) Gathering {
	var g Gathering
	for i := range songs {
		key := pitch.Key{Minor: r.IntN(3) == 0}.Transpose(r.IntN(12))
		s := Song{Title: fmt.Sprint("Song ", i+1), Key: key, First: harmony.Diatonic(key, 1), Line: 2*i + 1}
		for _, name := range []string{"verse", "chorus", "bridge"} {
			section := Section{Name: name}
			for range 2 + r.IntN(7) {
				section.Chords = append(section.Chords, harmony.Diatonic(key, 1+r.IntN(6)))
			}
			s.Sections = append(s.Sections, section)
		}
		for range 5 {
			s.Figure = append(s.Figure, 60+r.IntN(13))
		}
		g.Songs = append(g.Songs, s)
		if i == 0 {
			continue
		}
		before := &g.Songs[i-1]
		m := Moment{For: fmt.Sprint("moment ", i), After: i - 1, Then: i, Line: 2 * i, Lasts: time.Duration(1+r.IntN(9)) * time.Minute}
		m.Bed.Key, m.Bed.NextKey, m.Bed.NextChord = before.Key, key, s.First
		m.Bed.Home = []harmony.Chord{harmony.Diatonic(before.Key, 1), harmony.Diatonic(before.Key, 2+r.IntN(5))}
		m.Bed.Away = []harmony.Chord{harmony.Diatonic(before.Key, 6), harmony.Diatonic(before.Key, 4)}
		m.Ending = harmony.Ending(r.IntN(4))
		g.Moments = append(g.Moments, m)
	}
	return g
}

// A plan of 200 songs in 24 keys with a moment between each two: all that bedd
// plan check and bedd plan suggest work out, from nothing.
func BenchmarkCheckAndSuggest200Songs(b *testing.B) {
	g := randomPlan(rand.New(rand.NewPCG(1, 1)), 200)
	for b.Loop() {
		a := adviser(b, DefaultRig())
		a.Check(&g)
		for i := range g.Moments {
			a.Suggest(&g, i, 3)
		}
	}
}
