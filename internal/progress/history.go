// Package progress reads from the journals of practices what was practised, and draws how it goes.
package progress

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"time"

	"bedd/internal/journal"
	"bedd/internal/recall"
)

// Folder is where practices are kept, in the folder of the journals.
const Folder = "practice"

// History is what was practised, in order of time, and what could not be read of it.
type History struct {
	Attempts []Attempt
	Troubles []string
}

// Attempt is a task that was played.
type Attempt struct {
	recall.Attempt
	Figure string // the one number that matters, with what it counts
}

// Recall gives the attempts as a plan is made from them.
func (h History) Recall() (list []recall.Attempt) {
	for _, a := range h.Attempts {
		list = append(list, a.Attempt)
	}
	return list
}

// task is what is read of a task.
type task struct {
	Exercise string `json:"exercise"`
	Key      string `json:"key"`
	Level    int    `json:"level"`
}

// Read reads the practices in the folder of the journals, those too that are being
// played. What cannot be read is told in Troubles, and the rest counts; a folder that
// is not there has none.
func Read(dir string) History {
	var h History
	sessions, err := journal.Sessions(filepath.Join(dir, Folder))
	if err != nil {
		h.Troubles = append(h.Troubles, err.Error())
	}
	for _, s := range sessions {
		list, err := attempts(s.Path)
		h.Attempts = append(h.Attempts, list...)
		if err != nil {
			h.Troubles = append(h.Troubles, fmt.Sprintf("%v; it is left out", err))
		}
	}
	slices.SortStableFunc(h.Attempts, func(a, b Attempt) int { return a.At.Compare(b.At) })
	return h
}

// In gives what was practised in a key, however it is written, and all troubles.
func (h History) In(key string) History {
	only := History{Troubles: h.Troubles}
	for _, a := range h.Attempts {
		if recall.KeyName(a.Key) == recall.KeyName(key) {
			only.Attempts = append(only.Attempts, a)
		}
	}
	return only
}

// attempts reads those of one practice. A task that began and has no end was cut short,
// and lasted until the next record of a task's, or for nobody knows how long.
func attempts(path string) (list []Attempt, err error) {
	header, records, err := journal.Tasks(path)
	if err != nil {
		return nil, err
	}
	tasks := make([]task, len(header.Tasks))
	for i, raw := range header.Tasks {
		if json.Unmarshal(raw, &tasks[i]) != nil {
			tasks[i] = task{}
			err = fmt.Errorf("%s:1: its task %d cannot be read", path, i+1)
		}
	}
	open, since := -1, time.Duration(0)
	cut := func(at time.Duration) {
		if open >= 0 && tasks[open].Exercise != "" {
			list = append(list, attempt(header, tasks[open], since, at-since))
		}
		open = -1
	}
	for _, r := range records {
		t := r.Tried
		if !t.Over || t.Number != open {
			cut(r.At)
		}
		switch {
		case !t.Over:
			open, since = t.Number, r.At
		case open == t.Number && tasks[open].Exercise != "":
			a := attempt(header, tasks[open], since, r.At-since)
			a.Whole, a.Mark, a.Figure = t.Whole, t.Mark, t.Figure
			list = append(list, a)
			open = -1
		}
	}
	cut(since)
	return list, err
}

func attempt(h journal.Header, t task, at, lasted time.Duration) Attempt {
	return Attempt{Attempt: recall.Attempt{Skill: recall.Skill{Exercise: t.Exercise, Key: t.Key}, Level: t.Level, At: h.Began.Add(at), Lasted: max(lasted, 0)}}
}
