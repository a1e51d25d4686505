package recall

import (
	"encoding/binary"
	"math"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func attempts(t *rapid.T) []Attempt {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Attempt {
		return Attempt{
			Skill: Skill{rapid.SampledFrom([]string{"hold", "line", "land", "juggle"}).Draw(t, "exercise"), rapid.SampledFrom(append(Keys, "", "F#m")).Draw(t, "key")},
			Level: rapid.IntRange(-1, 9).Draw(t, "level"), At: evening.Add(time.Duration(rapid.IntRange(-1e6, 1e5).Draw(t, "minutes")) * time.Minute),
			Whole: rapid.Bool().Draw(t, "whole"), Mark: rapid.Float64Range(-0.1, 1.1).Draw(t, "mark"),
		}
	}), 0, 60).Draw(t, "history")
}

func TestPlanHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		history := attempts(t)
		w := Want{Exercises: all, Time: time.Duration(rapid.IntRange(0, 30).Draw(t, "minutes")) * time.Minute, Seed: rapid.Uint64().Draw(t, "seed")}
		list := Plan(history, w, evening)
		if want := max(int(w.Time/time.Minute), 1); len(list) != want {
			t.Fatalf("%d tasks of a minute for %v", len(list), w.Time)
		}
		for i, c := range list {
			if i > 0 && c.Key == list[i-1].Key {
				t.Fatalf("%s twice in a row", c.Key)
			}
			if c.Level < 1 || c.Level > 5 || !slices.Contains(Keys, c.Key) || c.Why == "" {
				t.Fatalf("%+v", c)
			}
		}
		if again := Plan(history, w, evening); !reflect.DeepEqual(again, list) {
			t.Fatalf("%v, then %v", list, again)
		}
		slices.Reverse(history) // the same, but for attempts of the same minute
		slices.SortStableFunc(history, func(a, b Attempt) int { return b.At.Compare(a.At) })
		for _, s := range Stand(history, all, Keys, evening) {
			if !(s.Strength >= 0 && s.Strength <= 1) || !(s.Recall >= 0 && s.Recall <= 1) {
				t.Fatalf("%+v", s)
			}
		}
	})
}

// Whatever is weakest and longest unpractised comes first.
func TestWorstFirst(t *testing.T) {
	var history []Attempt
	play := func(key string, mark float64, daysAgo int) {
		for _, e := range all {
			for range 3 {
				history = append(history, Attempt{Skill: Skill{e.Name, key}, Level: 2, At: evening.AddDate(0, 0, -daysAgo), Whole: true, Mark: mark})
			}
		}
	}
	for _, key := range Keys {
		play(key, 0.9, 2)
	}
	play("F#", 0.2, 1)
	if first := Plan(history, Want{Exercises: all, Time: time.Minute}, evening)[0]; first.Key != "F#" {
		t.Errorf("%+v", first)
	}
	history = nil
	for _, key := range Keys {
		play(key, 0.8, 1)
	}
	for i := range history { // one key has lain for long
		if history[i].Key == "Db" {
			history[i].At = history[i].At.AddDate(0, 0, -60)
		}
	}
	if first := Plan(history, Want{Exercises: all, Time: time.Minute}, evening)[0]; first.Key != "Db" || first.Why != "not for 61 days" {
		t.Errorf("%+v", first)
	}
}

// Who has never practised gets different keys and exercises.
func TestTheFirstEvening(t *testing.T) {
	list := Plan(nil, Want{Exercises: all, Time: 12 * time.Minute}, evening)
	keys, exercises := map[string]bool{}, map[string]int{}
	for _, c := range list {
		keys[c.Key] = true
		exercises[c.Exercise]++
		if c.Level != 1 || c.Why != "new in "+c.Key {
			t.Errorf("%+v", c)
		}
	}
	if len(keys) < 9 || len(exercises) != len(all) {
		t.Errorf("%d keys, %v", len(keys), exercises)
	}
}

func TestOneKeyAlone(t *testing.T) {
	list := Plan(nil, Want{Exercises: all, Keys: []string{"Ab"}, Time: 5 * time.Minute, Level: 9}, evening)
	if len(list) != 5 {
		t.Fatalf("%v", list)
	}
	for _, c := range list {
		if c.Key != "Ab" || c.Level != 5 {
			t.Errorf("%+v", c)
		}
	}
	if list := Plan(nil, Want{Time: time.Hour}, evening); list != nil {
		t.Errorf("without exercises: %v", list)
	}
}

func TestAgain(t *testing.T) {
	rest := []Choice{{Skill: Skill{"hold", "C"}, Level: 2}, {Skill: Skill{"line", "G"}, Level: 1}, {Skill: Skill{"land", "D"}, Level: 1}}
	failed := Attempt{Skill: Skill{"land", "Ab"}, Level: 3, Whole: true, Mark: 0.3}
	got := Again(rest, failed)
	if len(got) != 3 || got[0] != rest[0] || got[1].Skill != failed.Skill || got[1].Level != 2 || got[2] != rest[1] {
		t.Errorf("%v", got)
	}
	for name, change := range map[string]func(*Attempt){
		"well":       func(a *Attempt) { a.Mark = 0.9 },
		"cut short":  func(a *Attempt) { a.Whole = false },
		"comes soon": func(a *Attempt) { a.Skill = rest[2].Skill },
		"no mark":    func(a *Attempt) { a.Mark = math.NaN() },
	} {
		a := failed
		change(&a)
		if got := Again(rest, a); !reflect.DeepEqual(got, rest) {
			t.Errorf("%s: %v", name, got)
		}
	}
	if got := Again(nil, failed); len(got) != 1 {
		t.Errorf("at the end of a plan it comes once more: %v", got)
	}
}

func FuzzPlan(f *testing.F) {
	f.Add([]byte("hold ab, and more of it than fits"), int64(600), uint64(1))
	f.Fuzz(func(t *testing.T, bytes []byte, seconds int64, seed uint64) {
		var history []Attempt
		for len(bytes) >= 20 && len(history) < 200 {
			history = append(history, Attempt{
				Skill: Skill{all[int(bytes[0])%len(all)].Name, Keys[int(bytes[1])%len(Keys)]}, Level: int(int8(bytes[2])), Whole: bytes[3]&1 == 0,
				Mark: math.Float64frombits(binary.LittleEndian.Uint64(bytes[4:])), At: time.Unix(int64(binary.LittleEndian.Uint64(bytes[12:])), 0),
			})
			bytes = bytes[20:]
		}
		list := Plan(history, Want{Exercises: all, Time: time.Duration(seconds) * time.Second, Seed: seed}, evening)
		if len(list) == 0 || len(list) > mostPlanned {
			t.Fatalf("%d tasks", len(list))
		}
		for _, s := range Stand(history, all, Keys, evening) {
			if !(s.Strength >= 0 && s.Strength <= 1) {
				t.Fatalf("%+v", s)
			}
		}
	})
}

// Ten years of practice.
func BenchmarkPlanAfterTenYears(b *testing.B) {
	var history []Attempt
	for i := range 20_000 {
		history = append(history, Attempt{Skill: Skill{all[i%3].Name, Keys[i%12]}, Level: 1 + i%5, At: evening.Add(-time.Duration(i) * 4 * time.Hour), Whole: true, Mark: float64(i%10) / 10})
	}
	for b.Loop() {
		Plan(history, Want{Exercises: all, Time: 20 * time.Minute}, evening)
	}
}
