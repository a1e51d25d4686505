package practice

import (
	"fmt"
	"strings"

	"bedd/internal/pitch"
)

// Exercise is something to be practised in every key.
type Exercise struct {
	Name   string   // for the command line and journals, as in "hold"
	Title  string   // as in "hold and move"
	About  string   // one sentence: what to do
	Levels []string // what each level adds, from the first
	set    func(key pitch.Key, level int, seed uint64) Task
	judge  func(Task, Take) (Result, error)
}

// Exercises are all of them, in the order in which they are best learned.
var Exercises = []Exercise{}

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
	t := e.set(key, level, seed)
	t.Exercise, t.Key, t.Level, t.Seed = e.Name, key.String(), level, seed
	return t, nil
}

// Judge scores what was played of a task. It fails for a task that no exercise has set.
func Judge(t Task, take Take) (Result, error) {
	e, err := Find(t.Exercise)
	if err != nil {
		return Result{}, err
	}
	return e.judge(t, take)
}
