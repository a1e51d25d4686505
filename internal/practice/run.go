package practice

import "time"

// Run is a task on its way: it knows what the bed is to be asked for by itself, and
// when the task is over. Create it with [NewRun], when the player is ready.
type Run struct {
	task  Task
	began time.Duration
	step  int
}

// NewRun begins a task at a time.
func NewRun(t Task, at time.Duration) *Run { return &Run{task: t, began: at} }

// Advance gives the next step that is due at a time, until there is none.
func (r *Run) Advance(at time.Duration) (s Step, due bool) {
	if r.step == len(r.task.Steps) || r.began+r.task.Steps[r.step].At > at {
		return Step{}, false
	}
	s = r.task.Steps[r.step]
	r.step++
	return s, true
}

// Next tells when to come again: for a step, or for the end.
func (r *Run) Next() time.Duration {
	if r.step < len(r.task.Steps) {
		return r.began + r.task.Steps[r.step].At
	}
	return r.began + r.task.Lasts
}

// Over reports whether the task is over at a time.
func (r *Run) Over(at time.Duration) bool { return at >= r.began+r.task.Lasts }
