package practice_test

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/practice"
	"bedd/internal/practice/practicetest"

	"pgregory.net/rapid"
)

// seeds is how many tasks of each exercise are played.
const seeds = 50

func set(t testing.TB, e practice.Exercise, k pitch.Key, level int, seed uint64) practice.Task {
	t.Helper()
	task, err := e.Set(k, level, seed)
	if err != nil {
		t.Fatal(err)
	}
	return task
}

func play(t testing.TB, task practice.Task, p practicetest.Player, seed uint64) practice.Take {
	t.Helper()
	take, err := practicetest.Play(task, p, seed)
	if err != nil {
		t.Fatalf("%s %d in %s, seed %d: %v", task.Exercise, task.Level, task.Key, task.Seed, err)
	}
	return take
}

func judge(t testing.TB, task practice.Task, take practice.Take) practice.Result {
	t.Helper()
	r, err := practice.Judge(task, take)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// part gives the mark of a part, 1 where it was not measured.
func part(r practice.Result, name string) float64 {
	for _, p := range r.Parts {
		if p.Name == name {
			return p.Mark
		}
	}
	return 1
}

// transpose moves a take up or down.
func transpose(take practice.Take, by int, from, to pitch.Key) practice.Take {
	take.Notes, take.Chords = slices.Clone(take.Notes), slices.Clone(take.Chords)
	for i := range take.Notes {
		take.Notes[i].Number = uint8(int(take.Notes[i].Number) + by)
	}
	for i := range take.Chords {
		take.Chords[i].Chord = take.Chords[i].Chord.Transpose(from, to)
	}
	return take
}

// Each player's fault is found, whatever the exercise, level, task and key; and who
// plays perfectly has full marks.
func TestPlayersAreRankedRightly(t *testing.T) {
	if raced { // nothing here has a second goroutine
		t.Skip("slow under the race detector")
	}
	for _, e := range practice.Exercises {
		t.Run(e.Name, func(t *testing.T) {
			t.Parallel()
			for seed := range uint64(seeds) {
				level, low := 1+int(seed)%len(e.Levels), pitch.Key{}
				task := set(t, e, low, level, seed)
				takes := map[practicetest.Player]practice.Take{}
				for _, p := range practicetest.Players {
					takes[p] = play(t, task, p, seed)
				}
				for up := range 12 {
					k := low.Transpose(up)
					task := set(t, e, k, level, seed)
					results := map[practicetest.Player]practice.Result{}
					for p, take := range takes {
						results[p] = judge(t, task, transpose(take, up, low, k))
					}
					rank(t, fmt.Sprintf("level %d, seed %d, in %v", level, seed, k), e, results)
				}
			}
		})
	}
}

func rank(t *testing.T, where string, e practice.Exercise, r map[practicetest.Player]practice.Result) {
	t.Helper()
	mark := func(p practicetest.Player) float64 { return r[p].Mark }
	wrong := func(what string) { t.Errorf("%s: %s: %v", where, what, marks(r)) }
	if mark(practicetest.Perfect) != 1 {
		wrong(fmt.Sprintf("the perfect player has %v by %+v", mark(practicetest.Perfect), r[practicetest.Perfect].Parts))
	}
	for _, p := range []practicetest.Player{practicetest.Lazy, practicetest.Late, practicetest.WrongKey, practicetest.Random, practicetest.Idle} {
		if mark(p) > 0.99 {
			wrong("a fault is not found: " + string(p))
		}
	}
	worst := max(mark(practicetest.WrongKey), mark(practicetest.Random))
	if mark(practicetest.Lazy) <= worst || mark(practicetest.Late) <= worst && mark(practicetest.Late) > 0 { // who comes too late for all of it has nothing
		wrong("the wrong key, or any, is as good as the right one")
	}
	if mark(practicetest.Idle) > 0.01 {
		wrong("nothing was played and something counted")
	}
	if flat := mark(practicetest.Flat); e.Name == "speaker" && flat > 0.6 || e.Name != "speaker" && flat != 1 {
		wrong("flat dynamics")
	}
	if leaky := mark(practicetest.Leaky); e.Name == "figure" && leaky > 0.8 || e.Name != "figure" && leaky != 1 {
		wrong("the figure given away")
	}
	// Each score finds its own fault.
	for name, p := range map[string]practicetest.Player{
		"shared notes held": practicetest.Lazy, "held under the line": practicetest.Lazy, "held from then on": practicetest.Lazy, "gap at a change": practicetest.Lazy,
		"wrong notes": practicetest.WrongKey, "behind the bed": practicetest.Late, "behind the speaker": practicetest.Late,
		"going with the speaker": practicetest.Flat, "the figure given away": practicetest.Leaky, "from the call to the bed": practicetest.Late,
	} {
		if name == "the figure given away" && e.Name != "figure" {
			continue
		}
		measured := slices.ContainsFunc(r[practicetest.Perfect].Parts, func(p practice.Part) bool { return p.Name == name })
		if measured && part(r[p], name) >= part(r[practicetest.Perfect], name) {
			if name == "shared notes held" && e.Name == "any-key" || name == "held from then on" && e.Name == "any-key" {
				continue // in half a minute there may be one change alone, and one hole
			}
			wrong(name + " does not tell " + string(p) + " from perfect")
		}
	}
}

func marks(r map[practicetest.Player]practice.Result) (s string) {
	for _, p := range practicetest.Players {
		s += fmt.Sprintf(" %s %.3f", p, r[p].Mark)
	}
	return s
}

// What was played higher or lower counts the same, to the last part and word; and it is
// what is played there.
func TestMarksDoNotDependOnTheKey(t *testing.T) {
	if raced {
		t.Skip("slow under the race detector")
	}
	for _, e := range practice.Exercises {
		for level := range e.Levels {
			for _, p := range []practicetest.Player{practicetest.Perfect, practicetest.Lazy, practicetest.Random} {
				low := pitch.Key{Minor: level%2 == 1}
				task := set(t, e, low, level+1, 7)
				take := play(t, task, p, 7)
				want := judge(t, task, take)
				for up := 1; up < 12; up++ {
					k := low.Transpose(up)
					there := set(t, e, k, level+1, 7)
					got := judge(t, there, transpose(take, up, low, k))
					if got.Mark != want.Mark || got.Figure != want.Figure || !slices.Equal(got.Parts, want.Parts) {
						t.Fatalf("%s %d, %s, in %v: %+v instead of %+v", e.Name, level+1, p, k, got, want)
					}
				}
			}
		}
	}
}

// Played for themselves in every key, major and minor, with the bed's own way there.
func TestPerfectInEveryKey(t *testing.T) {
	if raced {
		t.Skip("slow under the race detector")
	}
	for _, e := range practice.Exercises {
		t.Run(e.Name, func(t *testing.T) {
			t.Parallel()
			for up := range 24 {
				k := pitch.Key{Minor: up >= 12}
				k = k.Transpose(up % 12)
				for level := range e.Levels {
					task := set(t, e, k, level+1, uint64(up))
					if r := judge(t, task, play(t, task, practicetest.Perfect, 1)); r.Mark != 1 {
						t.Errorf("level %d in %v: %+v", level+1, k, r)
					}
				}
			}
		})
	}
}

// A task is what its seed makes it, whatever the key.
func TestTasksAreTheSameInEveryKey(t *testing.T) {
	for _, e := range practice.Exercises {
		for level := range e.Levels {
			a, b := set(t, e, pitch.Key{}, level+1, 3), set(t, e, pitch.Key{}.Transpose(7), level+1, 3)
			if len(a.Home) != len(b.Home) || a.Lasts != b.Lasts || a.Called != b.Called || !slices.Equal(a.Curve, b.Curve) || !slices.Equal(a.Steps, b.Steps) {
				t.Errorf("%s %d: %+v and %+v", e.Name, level+1, a, b)
			}
			for i, symbol := range a.Home {
				c, _ := harmony.ParseChord(symbol)
				d, _ := harmony.ParseChord(b.Home[i])
				if !c.Transpose(pitch.Key{}, pitch.Key{}.Transpose(7)).SoundsLike(d) {
					t.Errorf("%s %d: %v and %v", e.Name, level+1, a.Home, b.Home)
				}
			}
		}
	}
}

func TestSetRefusesLevelsThatAreNot(t *testing.T) {
	for _, level := range []int{-1, 0, 7} {
		if _, err := practice.Exercises[0].Set(pitch.Key{}, level, 1); err == nil {
			t.Errorf("level %d was set", level)
		}
	}
	if _, err := practice.Find("scales"); err == nil {
		t.Error("an exercise that is none was found")
	}
}

// What is read from a journal is judged, or refused, and never more.
func FuzzJudge(f *testing.F) {
	for _, e := range practice.Exercises {
		data, err := json.Marshal(set(f, e, pitch.Key{}, 1, 1))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data, uint64(1))
	}
	f.Fuzz(func(t *testing.T, data []byte, seed uint64) {
		var task practice.Task
		if json.Unmarshal(data, &task) != nil {
			return
		}
		take := practice.Take{Lasted: time.Duration(seed % uint64(time.Minute))}
		for i := range seed % 20 {
			at := time.Duration(i*seed) % time.Minute
			take.Notes = append(take.Notes, practice.Note{Number: uint8(seed+i*7) % 128, Velocity: 64, On: at, Off: at + time.Duration(seed%uint64(10*time.Second))})
			take.Chords = append(take.Chords, practice.Entry{At: at, Chord: harmony.Diatonic(pitch.Key{}, 1+int(i)), Place: bed.Place(i % 5)})
		}
		r, err := practice.Judge(task, take)
		if err == nil && !(r.Mark >= 0 && r.Mark <= 1) {
			t.Errorf("a mark of %v", r.Mark)
		}
	})
}

// Whatever is played, marks are 0…1, parts make up the whole, and there is something to
// say.
func TestAnyTakeHasAMark(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := rapid.SampledFrom(practice.Exercises).Draw(t, "exercise")
		level := rapid.IntRange(1, len(e.Levels)).Draw(t, "level")
		task, err := e.Set(pitch.Key{}.Transpose(rapid.IntRange(0, 11).Draw(t, "key")), level, rapid.Uint64().Draw(t, "seed"))
		if err != nil {
			t.Fatal(err)
		}
		at := rapid.Custom(func(t *rapid.T) time.Duration {
			return time.Duration(rapid.Int64Range(-int64(time.Second), int64(task.Lasts)).Draw(t, "ns"))
		})
		take := practice.Take{Lasted: time.Duration(rapid.Int64Range(0, int64(task.Lasts)).Draw(t, "lasted"))}
		for range rapid.IntRange(0, 12).Draw(t, "notes") {
			on := at.Draw(t, "on")
			take.Notes = append(take.Notes, practice.Note{Number: rapid.Uint8Range(0, 127).Draw(t, "n"), Velocity: rapid.Uint8Range(1, 127).Draw(t, "v"), On: on, Off: on + max(at.Draw(t, "for"), 0)})
		}
		last := time.Duration(0)
		for range rapid.IntRange(0, 8).Draw(t, "chords") {
			last += max(at.Draw(t, "after")/8, 0)
			take.Chords = append(take.Chords, practice.Entry{At: last, Chord: harmony.Diatonic(pitch.Key{}, rapid.IntRange(1, 7).Draw(t, "degree")), Place: bed.Place(rapid.IntRange(0, 4).Draw(t, "place"))})
			take.Heard = append(take.Heard, practice.Reading{At: last, Sounds: rapid.Bool().Draw(t, "sounds"), Intensity: rapid.Float64Range(0, 1).Draw(t, "i")})
		}
		r, err := practice.Judge(task, take)
		if err != nil {
			t.Fatal(err)
		}
		weights := 0.0
		for _, p := range r.Parts {
			weights += p.Weight
			if !(p.Mark >= 0 && p.Mark <= 1) {
				t.Errorf("%s: %v", p.Name, p.Mark)
			}
		}
		if !(r.Mark >= 0 && r.Mark <= 1) || r.Words == "" || r.Figure == "" || len(r.Parts) > 0 && math.Abs(weights-1) > 1e-9 {
			t.Errorf("%+v", r)
		}
	})
}

func TestVoiceGoesOnStraightLines(t *testing.T) {
	task := practice.Task{Curve: []practice.Point{{At: time.Second, Intensity: 0.2}, {At: 3 * time.Second, Intensity: 0.6}}}
	for at, want := range map[time.Duration]float64{0: 0.2, time.Second: 0.2, 2 * time.Second: 0.4, 3 * time.Second: 0.6, time.Minute: 0.6} {
		if got := task.Voice(at); math.Abs(got-want) > 1e-12 {
			t.Errorf("%v: %v, not %v", at, got, want)
		}
	}
}

func BenchmarkJudge(b *testing.B) {
	for _, e := range practice.Exercises {
		task := set(b, e, pitch.Key{}, len(e.Levels), 1)
		take := play(b, task, practicetest.Perfect, 1)
		b.Run(e.Name, func(b *testing.B) {
			for b.Loop() {
				judge(b, task, take)
			}
		})
	}
}
