package review

import (
	"encoding/json"
	"fmt"

	"bedd/internal/journal"
)

// taskTitles says of each task of a practice what it is.
func taskTitles(h *journal.Header) (list []string) {
	for i, raw := range h.Tasks {
		var task struct {
			Exercise string `json:"exercise"`
			Key      string `json:"key"`
			Level    int    `json:"level"`
		}
		if json.Unmarshal(raw, &task) != nil || task.Exercise == "" {
			list = append(list, "task "+itoa(i+1))
			continue
		}
		list = append(list, fmt.Sprintf("%s in %s, level %d", task.Exercise, task.Key, task.Level))
	}
	return list
}

// Title is what a session is called by what its journal begins with; empty where
// nothing says it.
func Title(h journal.Header) string {
	if h.Title == "" && len(h.Tasks) > 0 {
		return "practice"
	}
	return h.Title
}

// tried takes that a task of a practice is over.
func (g *gatherer) tried(r *journal.Record) {
	t := r.Tried
	if !t.Over || t.Number >= len(g.tasks) {
		return
	}
	words := fmt.Sprintf("%s: %.0f %%", g.tasks[t.Number], 100*t.Mark)
	if t.Figure != "" {
		words += ", " + t.Figure
	}
	if !t.Whole {
		words += ", cut short"
	}
	g.recent = recent{} // what the player is told next is of something else
	g.notice(r.At, practisedKind, words, false)
}
