package practice

import (
	"slices"
	"time"

	"bedd/internal/bed"
)

// Stage is how far a partner is with a task.
type Stage uint8

// The stages.
const (
	Moving  Stage = iota // the bed is on its way to the task's moment, in silence
	Ready                // the task is told, and begins with the player
	Playing              //
	Judged               // the result is told
)

// Partner goes through tasks with a player: it begins them when the player does, asks
// the bed for what comes by itself, and judges. The bed has a moment for each task, in
// the same order. Create it with [NewPartner]; times never go back.
type Partner struct {
	tasks   []Task
	at      int
	fresh   bool // the moment is as it was loaded
	stage   Stage
	began   time.Duration
	step    int
	rec     Recorder
	result  Result
	waiting []bed.Command // to be asked for
	stepped bool
	going   bool // from moment to moment

	// Began and Over are told when a task begins and when it is over, if they are set.
	Began func(at time.Duration, task int)
	Over  func(at time.Duration, task int, whole bool, r Result)
}

// NewPartner begins with the first of some tasks, of which there are at least two: one
// that is played again is loaded by way of another.
func NewPartner(tasks []Task) *Partner { return &Partner{tasks: tasks, fresh: true, stage: Ready} }

// Stage tells how far the partner is.
func (p *Partner) Stage() Stage { return p.stage }

// Task gives the task and its number.
func (p *Partner) Task() (Task, int) { return p.tasks[p.at], p.at }

// Elapsed is how long the task has been played.
func (p *Partner) Elapsed(at time.Duration) time.Duration { return at - p.began }

// Rounds counts the rounds of the progression that the bed is on, from 1.
func (p *Partner) Rounds() int {
	chords := p.rec.chords
	if len(chords) == 0 {
		return 1
	}
	here, n := chords[len(chords)-1].Place, 0
	for i := len(chords) - 1; i >= 0 && chords[i].Place == here; i-- {
		n++
	}
	round := len(p.tasks[p.at].Home)
	if here == bed.Away {
		round = len(p.tasks[p.at].Away)
	}
	return 1 + (n-1)/max(round, 1)
}

// Result is the last one.
func (p *Partner) Result() Result { return p.result }

// Turn goes on to a task, unless one is being played.
func (p *Partner) Turn(task int) {
	if p.stage == Playing || task < 0 || task >= len(p.tasks) {
		return
	}
	p.fresh = p.fresh && task == p.at
	p.at, p.stage = task, Moving
}

// Begin begins the task that is ready.
func (p *Partner) Begin(at time.Duration) {
	if p.stage != Ready {
		return
	}
	p.stage, p.began, p.step, p.fresh = Playing, at, 0, false
	p.rec.Begin(at)
	if p.Began != nil {
		p.Began(at, p.at)
	}
}

// End ends the task that is being played before its time.
func (p *Partner) End(at time.Duration) {
	if p.stage == Playing {
		p.judge(at, false)
	}
}

func (p *Partner) judge(at time.Duration, whole bool) {
	r, err := Judge(p.tasks[p.at], p.rec.Take(at))
	if err != nil { // the tasks are those that an exercise has set
		panic(err)
	}
	p.stage, p.result = Judged, r
	p.waiting = append(p.waiting, bed.FadeOut)
	if p.Over != nil {
		p.Over(at, p.at, whole, r)
	}
}

// Mark takes what the bed has done; see [Recorder.Mark].
func (p *Partner) Mark(a bed.Action) { p.rec.Mark(a) }

// Hear takes an event that the bed has handled, and what the bed was like then. A key
// that is struck, or a step of the foot, begins the task that is ready.
func (p *Partner) Hear(at time.Duration, e bed.Event, v bed.View) {
	steps := e.Kind == bed.Asked && (e.Command == bed.Step || e.Command == bed.BringIn)
	if p.stage == Ready && (e.Kind == bed.NoteStruck || steps) {
		p.Begin(at)
	}
	p.stepped = p.stepped || steps && p.stage == Judged
	if steps && v.Phase != bed.Silent && !p.wanted(at) {
		p.waiting = append(p.waiting, bed.OutNow)
	}
	p.rec.Hear(at, e, v.Place, v.Phase != bed.Silent, v.Intensity)
}

// Stepped reports, once, that the foot has stepped since the task was judged: go on.
func (p *Partner) Stepped() bool {
	stepped := p.stepped
	p.stepped = false
	return stepped && p.stage == Judged
}

// wanted reports whether the bed may sound: between tasks it may not, nor before a key
// is called.
func (p *Partner) wanted(at time.Duration) bool {
	return p.stage == Playing && at-p.began >= p.tasks[p.at].Called
}

// Advance gives what the bed is to be asked for at a time, when it is as in v.
func (p *Partner) Advance(at time.Duration, v bed.View) (ask []bed.Command) {
	ask, p.waiting = slices.Clone(p.waiting), nil
	t := &p.tasks[p.at]
	p.going = false
	switch p.stage {
	case Moving:
		p.going = v.Phase == bed.Silent
		switch {
		case v.Phase != bed.Silent:
			if v.Phase != bed.Leaving {
				ask = append(ask, bed.OutNow)
			}
		case v.Moment < p.at:
			p.fresh = true
			ask = append(ask, bed.NextMoment)
		case v.Moment > p.at:
			p.fresh = true
			ask = append(ask, bed.PreviousMoment)
		case p.fresh:
			p.stage = Ready
		case p.at > 0: // and back
			ask = append(ask, bed.PreviousMoment)
		default:
			ask = append(ask, bed.NextMoment)
		}
	case Playing:
		for p.step < len(t.Steps) && p.began+t.Steps[p.step].At <= at {
			if c, ok := bed.ParseCommand(t.Steps[p.step].Command); ok {
				ask = append(ask, c)
			}
			p.step++
		}
		if at >= p.began+t.Lasts {
			p.judge(at, true)
			ask = append(ask, p.waiting...)
			p.waiting = nil
		}
	}
	return ask
}

// Next tells when to advance at the latest, if nothing happens before.
func (p *Partner) Next() (time.Duration, bool) {
	t := &p.tasks[p.at]
	switch {
	case len(p.waiting) > 0 || p.going: // while the bed leaves, its own deadlines do
		return 0, true
	case p.stage != Playing:
		return 0, false
	case p.step < len(t.Steps):
		return p.began + min(t.Steps[p.step].At, t.Lasts), true
	}
	return p.began + t.Lasts, true
}
