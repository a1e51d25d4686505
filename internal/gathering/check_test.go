package gathering

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bedd/configs"
	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Each made-up plan has one thing wrong, or none.
func TestCheckFindsWhatGoesWrong(t *testing.T) {
	a := adviser(t, DefaultRig())
	for name, tt := range map[string]struct{ plan, want string }{
		"sound": {"order: [{song: A, key: C, sections: {verse: 1 5 6m 4}}, {for: x, home: 1 4, away: 6m 2m, minutes: 4}, {song: B, key: G, sections: {verse: 1 b7 4 5}}]", ""},
		"the song itself": {"order: [{song: A, key: C}, {for: x, key: C, home: 1 5 6m 4, away: 2m 4}, {song: B, key: G, sections: {verse: 1 5 6m 4}}]",
			`trouble 1 x: home is the verse of "B" → ask bedd plan suggest for beds that give nothing away`},
		"turned round": {"order: [{song: A, key: C}, {for: x, home: 1 6m, away: 6m 4 1 5}, {song: B, key: C, sections: {chorus: 1 5 6m 4}}]",
			`trouble 1 x: away is the chorus of "B", begun on another chord → ask bedd plan suggest for beds that give nothing away`},
		"all through it": {"order: [{song: A, key: C}, {for: x, home: 1 5 6m 4 2m, away: 2m 4}, {song: B, key: C, sections: {chorus: 1 5 6m 4}}]",
			`trouble 1 x: home goes all through the chorus of "B" → ask bedd plan suggest for beds that give nothing away`},
		"a part of it": {"order: [{song: A, key: C}, {for: x, home: 1 5 6m, away: 2m 4}, {song: B, key: C, sections: {chorus: 1 5 6m 4 2m 4}}]",
			`remark 1 x: home is a part of the chorus of "B" → ask bedd plan suggest for beds that give nothing away`},
		"in disguise": {"order: [{song: A, key: C}, {for: x, home: 1 3m 6m 4, away: 2m 4}, {song: B, key: C, sections: {chorus: 1 5 6m 4}}]",
			`remark 1 x: home is the chorus of "B" in disguise → ask bedd plan suggest for beds that give nothing away`},
		"both together": {"order: [{song: A, key: C}, {for: x, home: 1 5, away: 6m 4}, {song: B, key: C, sections: {chorus: 1 5 6m 4}}]",
			`trouble 1 x: home and away together is the chorus of "B" → ask bedd plan suggest for beds that give nothing away`},
		"far from the song before": {"order: [{song: A, key: C}, {for: x, key: E}, {song: B, key: A, figure: 5 1}]",
			`trouble 1 x: it begins in E right after "A" in C: the keys have no chord in common → stay in C, and let the landing lead on`},
		"far to the song": {"order: [{song: A, key: C}, {for: x, ending: plain}, {song: B, key: E, figure: 5 1}]",
			`trouble 1 x: the keys clash: C and E, where "B" is, have no chord in common, and from C, F, Am and Dm the landing takes a chromatic step → be content with the step, or go by A minor, D minor or E minor: close to the one, with chords of the other`},
		"two chords too long": {"order: [{for: x, key: C, home: 1 4, minutes: 4}]",
			"trouble 1 x: two chords carry two minutes, and it is expected to last four minutes → add an away, ask bedd plan suggest for a longer pair, or leave pauses"},
		"home alone too long": {"order: [{for: x, key: C, home: 1 4 6m, minutes: 3, longest: 5}]",
			"remark 1 x: three chords carry four minutes, and it may last five minutes → add an away, ask bedd plan suggest for a longer pair, or leave pauses"},
		"too long for both": {"order: [{for: x, key: C, minutes: 12}]",
			"trouble 1 x: four chords carry ten minutes, and it is expected to last twelve minutes → add an away, ask bedd plan suggest for a longer pair, or leave pauses"},
		"unknown songs": {"order: [{song: A, key: C}, {song: B, key: C}, {song: C, key: C}, {song: D, key: C}, {song: E, key: C}, {song: F, key: C, figure: 5 1 7}, {for: x, key: C, then: A}, {for: y, key: C, then: B, home: 1 5}, {for: z, key: C, then: C}, {for: z, key: C, then: D, home: 1 5}, {for: z, key: C, then: E}, {for: z, key: C, then: F, home: 1 5}]",
			`remark 1 the songs: what a bed gives away of "A", "B", "C" and 2 more cannot be told → add sections: and figure:`},
		"twice the same": {"order: [{for: x, key: C, home: 1 4}, {for: y, key: C, home: 1 4}]",
			`remark 1 y: it has the bed that "x" had just before → ask bedd plan suggest for another`},
		"the figure on the safe notes": {"order: [{song: A, key: C}, {for: x, home: 1 4, away: 6m 2m}, {song: B, key: C, figure: 5 3 1 3}]",
			`remark 1 x: over C the figure of "B" lies on safe notes → keep your right hand off it`},
		"songs in far keys": {"order: [{song: A, key: C}, {song: B, key: F#}, {for: the end, key: F#}]",
			`trouble 1 B: it follows "A" straight from C into F#: the keys have no chord in common → put a moment between them, or agree who gives the chord`},
		"a hard key": {"comfort: {hard: F#}\norder: [{for: x, key: Gb}]", "remark 2 x: Gb does not lie well under your hands"},
		"hard keys in a row": {"comfort: {hard: F# B}\norder: [{song: A, key: F#}, {song: B, key: B}, {song: C, key: F#}, {for: x, key: C#}]",
			`remark 2 C: it is the third song in a row in a key that does not lie well under your hands → an easier key for one of them, or a rig that transposes`},
	} {
		g := mustRead(t, tt.plan)
		if got := findings(a.Check(&g)); got != tt.want {
			t.Errorf("%s:\n got %s\nwant %s", name, got, tt.want)
		}
	}
}

func findings(list []Finding) string {
	var lines []string
	for _, f := range list {
		s := fmt.Sprintf("%v %d %s: %s", f.Severity, f.Line, f.About, f.Text)
		if f.Advice != "" {
			s += " → " + f.Advice
		}
		lines = append(lines, s)
	}
	return strings.Join(lines, "\n")
}

// The top line of 1 2m 3m 4 in C as the engine voices it, taken as a song's figure
// in another key.
func TestCheckFindsTheFigureInTheTopLine(t *testing.T) {
	a := adviser(t, DefaultRig())
	g := mustRead(t, "order: [{song: A, key: C}, {for: x, home: 1 2m 3m 4, away: 6m 2m}, {song: B, key: G}]")
	top := a.voice(g.Moments[0].Bed.Home, pitch.Key{}).top
	figure := []int{}
	for i := range 4 {
		figure = append(figure, top[i%len(top)]+5)
	}
	if len(slices.Compact(slices.Clone(figure))) < 3 {
		t.Fatalf("the top line %v stands still: the test needs another progression", top)
	}
	g.Songs[1].Figure = figure
	got := findings(a.Check(&g))
	if !strings.Contains(got, "trouble 1 x: the top line of home, ") || !strings.Contains(got, `begins like the figure of "B"`) {
		t.Errorf("found %s", got)
	}
}

func TestCheckFindsAMissingRigPart(t *testing.T) {
	plan := "order: [{song: A, key: C}, {for: x}, {song: B, key: G, figure: 5 1 7}]"
	pageTurner := DefaultRig()
	pageTurner.Feet = nil
	if g := mustRead(t, plan); len(adviser(t, pageTurner).Check(&g)) > 0 {
		t.Errorf("keys alone: %s", findings(adviser(t, pageTurner).Check(&g)))
	}
	through := DefaultRig()
	through.Bed.Arms, through.Keys = []bed.Command{bed.Swap, bed.LandThrough}, nil
	if g := mustRead(t, plan); len(adviser(t, through).Check(&g)) > 0 {
		t.Errorf("landing through: %s", findings(adviser(t, through).Check(&g)))
	}
	for name, tt := range map[string]struct {
		change func(*Rig)
		want   string
	}{
		"too few switches": {func(r *Rig) { r.Feet = r.Feet[2:] }, "remark 0 the rig Default: no switch brings the bed in, only a computer key → give a switch the order step"},
		"nothing":          {func(r *Rig) { r.Feet, r.Keys = nil, nil }, "failure 0 the rig Default: nothing brings the bed in → give a switch the order step"},
		"no landing":       {func(r *Rig) { r.Bed.Arms = []bed.Command{bed.Swap}; r.Keys = nil }, "trouble 0 the rig Default: nothing lands in the next song → give a switch the order land"},
		"no swap":          {func(r *Rig) { r.Bed.Arms = []bed.Command{bed.Land}; r.Keys = nil }, "trouble 0 the rig Default: nothing goes to away → give a switch the order swap"},
		"no pedal":         {func(r *Rig) { r.Pedal.On = false; r.Keys = map[string]Order{} }, "remark 0 the rig Default: there is no pedal, and nothing else makes the bed grow but your playing → give a switch the order swell, another settle"},
		"narrow":           {func(r *Rig) { r.Bed.Voicing.Low, r.Bed.Voicing.High = 60, 64; r.Bed.Voicing.Centre = 62 }, "failure 1 x: home cannot be voiced: "},
	} {
		rig := DefaultRig()
		tt.change(&rig)
		g := mustRead(t, plan)
		if got := findings(adviser(t, rig).Check(&g)); !strings.Contains(got, tt.want) {
			t.Errorf("%s:\n got %s\nwant %s", name, got, tt.want)
		}
	}
}

// Every built-in rig has all that a whole plan needs.
func TestBuiltInRigsHaveAllParts(t *testing.T) {
	for _, name := range RigNames() {
		rig, err := OpenRig(name)
		if err != nil {
			t.Fatal(err)
		}
		g := mustRead(t, "order: [{song: A, key: C}, {for: x}, {song: B, key: G}]")
		for _, f := range adviser(t, rig).Check(&g) {
			if f.Severity > Remark {
				t.Errorf("%s: %v", name, f)
			}
		}
	}
}

// The worst stands first, equals in the order of the file; the same plan gives
// the same list; nothing panics.
func TestCheckIsOrdered(t *testing.T) {
	a := adviser(t, DefaultRig())
	rapid.Check(t, func(t *rapid.T) {
		g := randomPlan(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2)), rapid.IntRange(1, 8).Draw(t, "songs"))
		list := a.Check(&g)
		for i := range list {
			if i > 0 && (list[i].Severity > list[i-1].Severity || list[i].Severity == list[i-1].Severity && list[i].Line < list[i-1].Line) {
				t.Fatalf("%v comes before %v", list[i-1], list[i])
			}
			if list[i].Text == "" || list[i].About == "" {
				t.Fatalf("nothing is said: %+v", list[i])
			}
		}
		if again := a.Check(&g); findings(again) != findings(list) {
			t.Fatalf("the second time it finds\n%s\nthe first time\n%s", findings(again), findings(list))
		}
	})
}

// Over all pairs of the 24 keys, from every chord of the key, in every ending, the
// bed as it is voiced holds at least one upper note at each step of a landing, or
// says why not.
func TestLandingsHoldANoteOrSayWhyNot(t *testing.T) {
	a := adviser(t, DefaultRig())
	var keys []pitch.Key
	for _, minor := range []bool{false, true} {
		for up := range 12 {
			keys = append(keys, pitch.Key{Minor: minor}.Transpose(up))
		}
	}
	steps, bare := 0, 0
	for _, in := range keys {
		if testing.Short() && in.Tonic.Class() != 0 {
			continue
		}
		for _, to := range keys {
			for degree := 1; degree <= 6; degree++ {
				from := harmony.Diatonic(in, degree)
				if in.Minor && degree == 2 {
					continue // a diminished triad is no bed
				}
				for e := range harmony.NumEndings {
					_, landing, err := a.Landing(from, in, to, harmony.Diatonic(to, 1), e)
					if err != nil {
						t.Fatal(err)
					}
					last := from
					for _, s := range landing {
						steps++
						shared := last.Classes().Intersect(s.Chord.Classes())
						switch why := unheld(last, s.Chord); {
						case s.Held.Len() > 0:
							if strings.Contains(s.Why, "no note is held") {
								t.Errorf("from %v in %v to %v, %v: %v holds %v, and says %q", from, in, to, e, s.Chord, s.Held, s.Why)
							}
						case !strings.HasSuffix(s.Why, why) || strings.Contains(why, "share none") != (shared == 0):
							t.Errorf("from %v in %v to %v, %v: %v holds nothing, and says %q", from, in, to, e, s.Chord, s.Why)
						default:
							bare++
						}
						last = s.Chord
					}
				}
			}
		}
	}
	t.Logf("of %d steps %d hold nothing", steps, bare)
	if bare*50 > steps {
		t.Errorf("of %d steps %d hold nothing, more than one in fifty", steps, bare)
	}
}

// Whatever lines are missing in a plan, what is left of it can be checked and
// suggested for.
func TestSalvagedPlansAreChecked(t *testing.T) {
	whole, err := configs.FS.ReadFile("gathering-winter-lights.yaml")
	if err != nil {
		t.Fatal(err)
	}
	library, err := OpenLibrary("")
	if err != nil {
		t.Fatal(err)
	}
	a := adviser(t, DefaultRig())
	lines := strings.SplitAfter(string(whole), "\n")
	rapid.Check(t, func(t *rapid.T) {
		var left strings.Builder
		share := rapid.IntRange(1, 20).Draw(t, "share")
		for i, line := range lines {
			if rapid.IntRange(0, share).Draw(t, fmt.Sprint("line ", i+1)) > 0 {
				left.WriteString(line)
			}
		}
		g, _ := SalvageGathering("plan.yaml", []byte(left.String()), library)
		a.Check(&g)
		for i := range g.Moments {
			if len(a.Suggest(&g, i, 2)) != 2 {
				t.Fatalf("nothing is suggested for %q", g.Moments[i].For)
			}
			a.Judge(&g, i)
		}
	})
}
