package practice

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Exercise is something to be practised in every key.
type Exercise struct {
	Name   string        // for the command line and journals, as in "hold"
	Title  string        // as in "hold and move"
	About  string        // what to do, in a sentence or two
	Levels []string      // what each level adds, from the first
	Takes  time.Duration // about how long a task lasts
	set    func(k pitch.Key, level int, random *rand.Rand) Task
	judge  func(set, Take) Result
}

// Exercises are all of them, in the order in which they are best learned.
var Exercises = []Exercise{hold, anyKey, homeAndAway, line, land, speaker, figure}

// Find gives the exercise of a name.
func Find(name string) (Exercise, error) {
	var names []string
	for _, e := range Exercises {
		if e.Name == name {
			return e, nil
		}
		names = append(names, e.Name)
	}
	return Exercise{}, fmt.Errorf("there is no exercise %q: use one of %s", name, strings.Join(names, ", "))
}

// Set makes the task that the exercise is in a key at a level, from 1. The same seed
// makes the same task; another key makes it higher or lower, and nothing else.
func (e Exercise) Set(key pitch.Key, level int, seed uint64) (Task, error) {
	if level < 1 || level > len(e.Levels) {
		return Task{}, fmt.Errorf("level %d of %s is out of range 1…%d", level, e.Name, len(e.Levels))
	}
	t := e.set(key, level, rand.New(rand.NewPCG(seed, uint64(level))))
	t.Exercise, t.Key, t.Level, t.Seed = e.Name, key.String(), level, seed
	return t, nil
}

// Judge scores what was played of a task. It fails for a task that no exercise has set.
func Judge(t Task, take Take) (Result, error) {
	e, err := Find(t.Exercise)
	if err != nil {
		return Result{}, err
	}
	s, err := t.read()
	if err != nil {
		return Result{}, err
	}
	if take.Lasted <= 0 {
		return Result{Words: "Nothing was played yet.", Figure: "0 s"}, nil
	}
	return e.judge(s, take), nil
}

// tune is a progression by its degrees in major and in minor.
type tune struct{ major, minor string }

// Progressions of our own: what goes round quietly, without the sound of any song.
var (
	twos = []tune{{"1 4", "1 4"}, {"1 6m", "1 6"}, {"1 4/1", "1 6"}, {"1 2m7", "1 4"}, {"1 3m", "1 3"}}
	more = []tune{{"1 3m 4", "1 3 4"}, {"1 6m 2m 4", "1 6 4 7"}, {"1 4 6m 4", "1 4 6 4"}, {"1 2m 4 6m", "1 3 6 4"}, {"1 4/1 2m 4", "1 7 6 4"}}
	// What leads away from the tonic and back.
	outwards = []tune{{"6m 2m", "6 7"}, {"2m 4", "4 6"}, {"6m 3m", "3 6"}, {"3m 6m", "3 7"}}
	farther  = []tune{{"6m 3m 2m", "6 3 7"}, {"2m 6m 4", "4 6 7"}, {"3m 6m 2m 4", "3 6 4 7"}}
	// With a chord from outside of the key.
	borrowed = []tune{{"1 b7 4", "1 4M 6"}, {"1 4 4m", "1 5M 6"}, {"1 b6 4 1/3", "1 4M 7"}, {"1 2dom7 4", "1 b2 6"}}
)

// pick chooses a progression and gives its chords in a key.
func pick(list []tune, k pitch.Key, random *rand.Rand) []string {
	t := list[random.IntN(len(list))]
	degrees := t.major
	if k.Minor {
		degrees = t.minor
	}
	return symbols(degrees, k)
}

// symbols writes degrees as chords of a key.
func symbols(degrees string, k pitch.Key) (list []string) {
	chords, err := harmony.ParseProgression(degrees, k, harmony.FromTonic)
	if err != nil { // they are ours, and all are tried in the tests
		panic(err)
	}
	for _, c := range chords {
		list = append(list, c.Symbol())
	}
	return list
}

// tick is what the times of a task are whole numbers of.
const tick = 100 * time.Millisecond

// seconds draws a time.
func seconds(from, to float64, random *rand.Rand) time.Duration {
	return time.Duration((from+(to-from)*random.Float64())*10) * tick
}

// stepping has the bed come in at once and go on by itself, a chord each, so often.
func (t *Task) stepping(each time.Duration, chords int) {
	t.Steps = append(t.Steps, Step{0, bed.BringIn.String()})
	for i := 1; i < chords; i++ {
		t.Steps = append(t.Steps, Step{time.Duration(i) * each, bed.Next.String()})
	}
	t.Lasts = time.Duration(chords) * each
}
