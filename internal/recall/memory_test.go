package recall

import (
	"math"
	"slices"
	"testing"
	"time"

	"github.com/open-spaced-repetition/go-fsrs/v3"
	"pgregory.net/rapid"
)

var noon = time.Date(2022, 11, 29, 12, 30, 0, 0, time.UTC)

var hold = []Exercise{{Name: "hold", Levels: 5, Takes: time.Minute}}

// The published example of FSRS 5 with its default weights, in its form for days: the
// same grades when each is due. Intervals in days, stabilities and difficulties are
// those that the model's own implementations are tested with (the reference example of
// the free spaced repetition scheduler's project, "long term").
func TestThePublishedExample(t *testing.T) {
	marks := map[fsrs.Rating]float64{fsrs.Good: 0.8, fsrs.Again: 0.2}
	grades := []fsrs.Rating{fsrs.Good, fsrs.Good, fsrs.Good, fsrs.Good, fsrs.Good, fsrs.Good, fsrs.Again, fsrs.Again, fsrs.Good, fsrs.Good, fsrs.Good, fsrs.Good, fsrs.Good}
	intervals := []int{3, 11, 35, 101, 269, 669, 12, 2, 5, 12, 26, 55, 112}
	stabilities := []float64{3.173, 10.7389, 34.5776, 100.7483, 269.2838, 669.3093, 11.8987, 2.236, 5.2001, 11.8993, 26.4917, 55.4949, 111.9726}
	difficulties := []float64{5.2824, 5.273, 5.2635, 5.2542, 5.2448, 5.2355, 6.7654, 7.794, 7.773, 7.7521, 7.7312, 7.7105, 7.6899}
	skill := Skill{"hold", "Ab"}
	var history []Attempt
	at := noon
	for i, g := range grades {
		history = append(history, Attempt{Skill: skill, Level: 1, At: at, Whole: true, Mark: marks[g]})
		m := remember(history, levelsOf(hold), at)[skill]
		due := Stand(history, hold, []string{"Ab"}, at)[0].Due
		if days := int(due.Sub(day(at)).Hours() / 24); days != intervals[i] {
			t.Errorf("after %d attempts it comes again in %d days, want %d", i+1, days, intervals[i])
		}
		if math.Abs(m.card.Stability-stabilities[i]) > 0.00005 || math.Abs(m.card.Difficulty-difficulties[i]) > 0.00005 {
			t.Errorf("after %d attempts stability %.4f and difficulty %.4f, want %.4f and %.4f", i+1, m.card.Stability, m.card.Difficulty, stabilities[i], difficulties[i])
		}
		at = at.AddDate(0, 0, intervals[i])
	}
}

// The forgetting curve of FSRS 5 is (1 + 19/81·t/S)^−0.5, which is 0.9 after as many
// days as the stability is; for a first good attempt that is 3.173 days (published
// default weights).
func TestForgetting(t *testing.T) {
	history := []Attempt{{Skill: Skill{"hold", "C"}, Level: 1, At: noon, Whole: true, Mark: 0.8}}
	for days := range 400 {
		got := Stand(history, hold, []string{"C"}, noon.AddDate(0, 0, days))[0].Recall
		if want := math.Pow(1+19.0/81*float64(days)/3.173, -0.5); math.Abs(got-want) > 1e-9 {
			t.Fatalf("after %d days %v is left, want %v", days, got, want)
		}
	}
}

// What is repeated on its due days comes in growing intervals.
func TestIntervalsGrow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mark := rapid.Float64Range(goodFrom, 1).Draw(t, "mark")
		var history []Attempt
		at, before := noon, time.Duration(0)
		for range 5 { // beyond it reaches the model's longest, a hundred years
			history = append(history, Attempt{Skill: Skill{"hold", "C"}, Level: 1, At: at, Whole: true, Mark: mark})
			due := Stand(history, hold, []string{"C"}, at)[0].Due
			if interval := due.Sub(day(at)); interval <= before {
				t.Fatalf("%v after %v", interval, before)
			} else {
				before = interval
			}
			at = due
		}
	})
}

// Cramming on one day makes nothing last longer.
func TestOneDayIsOneDay(t *testing.T) {
	var history []Attempt
	for i := range 10 {
		history = append(history, Attempt{Skill: Skill{"hold", "C"}, Level: 1, At: noon.Add(time.Duration(i) * time.Minute), Whole: true, Mark: 0.8})
	}
	often := Stand(history, hold, []string{"C"}, noon)[0]
	if once, often := remember(history[:1], levelsOf(hold), noon), remember(history, levelsOf(hold), noon); once[history[0].Skill].card.Stability != often[history[0].Skill].card.Stability {
		t.Error("ten times on one day last longer than once")
	}
	if often.Played != 10 {
		t.Errorf("%d attempts of 10 count", often.Played)
	}
}

// An evening and the next afternoon are two days, though not 24 hours.
func TestTheNextDay(t *testing.T) {
	evening := time.Date(2026, 3, 28, 21, 0, 0, 0, time.UTC)
	history := []Attempt{
		{Skill: Skill{"hold", "C"}, Level: 1, At: evening, Whole: true, Mark: 0.8},
		{Skill: Skill{"hold", "C"}, Level: 1, At: evening.Add(18 * time.Hour), Whole: true, Mark: 0.8},
	}
	one, two := Stand(history[:1], hold, []string{"C"}, evening)[0], Stand(history, hold, []string{"C"}, evening.Add(18*time.Hour))[0]
	if a, b := one.Due.Sub(day(evening)), two.Due.Sub(day(evening.Add(18*time.Hour))); b <= a {
		t.Errorf("the second day's interval is %v after %v", b, a)
	}
}

func TestLevels(t *testing.T) {
	for name, c := range map[string]struct {
		marks []float64
		level int
	}{
		"never played":      {nil, 1},
		"once well":         {[]float64{0.9}, 1},
		"twice well":        {[]float64{0.9, 0.9}, 2},
		"perfect":           {[]float64{1}, 2},
		"well, ill, well":   {[]float64{0.9, 0.6, 0.9}, 1},
		"up and down again": {[]float64{1, 0.3}, 1},
		"not below one":     {[]float64{0.1, 0.1}, 1},
		"not above five":    {[]float64{1, 1, 1, 1, 1, 1, 1}, 5},
	} {
		var history []Attempt
		level := 1
		for i, mark := range c.marks {
			at := noon.AddDate(0, 0, i)
			history = append(history, Attempt{Skill: Skill{"hold", "C"}, Level: level, At: at, Whole: true, Mark: mark})
			level = Stand(history, hold, []string{"C"}, at)[0].Level
		}
		if level != c.level {
			t.Errorf("%s: level %d, want %d", name, level, c.level)
		}
	}
}

// A clock that was wrong loses nothing and breaks nothing.
func TestWrongClocks(t *testing.T) {
	future := Attempt{Skill: Skill{"hold", "C"}, Level: 1, At: noon.AddDate(30, 0, 0), Whole: true, Mark: 0.8}
	s := Stand([]Attempt{future}, hold, []string{"C"}, noon)[0]
	if s.Played != 1 || s.Recall != 1 || s.Last.After(noon) {
		t.Errorf("an attempt in thirty years is one of now: %+v", s)
	}
	past := Attempt{Skill: Skill{"hold", "C"}, Level: 1, At: time.Unix(0, 0), Whole: true, Mark: 0.8}
	if s := Stand([]Attempt{past, future}, hold, []string{"C"}, noon)[0]; s.Played != 2 || !(s.Strength > 0 && s.Strength <= 1) {
		t.Errorf("%+v", s)
	}
}

func TestWhatDoesNotCount(t *testing.T) {
	at := Attempt{Skill: Skill{"hold", "C"}, Level: 1, At: noon, Whole: true, Mark: 0.8}
	for name, spoil := range map[string]func(*Attempt){
		"cut short":           func(a *Attempt) { a.Whole = false },
		"no mark":             func(a *Attempt) { a.Mark = math.NaN() },
		"a mark above one":    func(a *Attempt) { a.Mark = 3 },
		"an unknown exercise": func(a *Attempt) { a.Exercise = "juggle" },
	} {
		a := at
		spoil(&a)
		if s := Stand([]Attempt{a}, hold, []string{"C"}, noon)[0]; s.Played != 0 {
			t.Errorf("%s counts: %+v", name, s)
		}
	}
}

func TestEase(t *testing.T) {
	var history []Attempt
	play := func(key string, mark float64, level, times int) {
		for i := range times {
			history = append(history, Attempt{Skill: Skill{"hold", key}, Level: level, At: noon.AddDate(0, 0, -i), Whole: true, Mark: mark})
		}
	}
	play("C", 1, 4, 6)
	play("F#", 0.3, 1, 6)
	play("D", 0.7, 2, 6)
	play("Ab", 0.1, 1, 2)
	both := append(hold, Exercise{Name: "land", Levels: 4, Takes: time.Minute}) // never played: it says nothing of a key
	got := map[string]int{}
	for _, k := range ByKey(Stand(history, both, Keys, noon)) {
		got[k.Key] = k.Ease()
	}
	for key, want := range map[string]int{"C": 1, "F#": -1, "D": 0, "Ab": 0, "G": 0} {
		if got[key] != want {
			t.Errorf("%s is %d, want %d", key, got[key], want)
		}
	}
}

// A key is one, however it is written; major and minor are two.
func TestKeysThatSoundAlikeAreOne(t *testing.T) {
	for written, same := range map[string]string{"Gb": "F#", "C#": "Db", "Cb": "B", "B#": "C", "D#m": "Ebm", "G#m": "Abm", "F#": "F#"} {
		history := []Attempt{{Skill: Skill{"hold", written}, Level: 1, At: noon, Whole: true, Mark: 0.8}}
		for _, key := range append(slices.Clone(Keys), same, written) {
			s := Stand(history, hold, []string{key}, noon)[0]
			if counts := s.Played == 1; counts != (key == same || key == written) || s.Key != key {
				t.Errorf("played in %s: %+v", written, s)
			}
		}
	}
	strange := []Attempt{{Skill: Skill{"hold", "H"}, Level: 1, At: noon, Whole: true, Mark: 0.8}}
	if s := Stand(strange, hold, []string{"H", "C"}, noon); s[0].Played != 1 || s[1].Played != 0 {
		t.Errorf("%+v", s)
	}
}

// Once through the history gives the same as going through what was there each time.
func TestStandAtIsStandEachTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var history []Attempt
		for range rapid.IntRange(0, 30).Draw(t, "attempts") {
			history = append(history, Attempt{Skill: Skill{"hold", rapid.SampledFrom([]string{"C", "Gb", "F#"}).Draw(t, "key")}, Level: rapid.IntRange(0, 6).Draw(t, "level"),
				At: noon.Add(time.Duration(rapid.IntRange(-50, 150).Draw(t, "hours")) * time.Hour), Whole: rapid.Bool().Draw(t, "whole"), Mark: rapid.Float64Range(0, 1).Draw(t, "mark")})
		}
		times := []time.Time{noon.AddDate(0, 0, -1), noon, noon.AddDate(0, 0, 3), noon.AddDate(0, 0, 4)}
		all := StandAt(history, hold, Keys, times)
		for i, at := range times {
			var until []Attempt
			for _, a := range history {
				if !a.At.After(at) || i == len(times)-1 {
					until = append(until, a)
				}
			}
			if want := Stand(until, hold, Keys, at); !slices.Equal(all[i], want) {
				t.Fatalf("at %v %+v, want %+v", at, all[i], want)
			}
		}
	})
}
