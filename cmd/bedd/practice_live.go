package main

import (
	"fmt"
	"maps"
	"math"
	"strings"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/glance"
	"bedd/internal/journal"
	"bedd/internal/pitch"
	"bedd/internal/practice"
	"bedd/internal/progress"
	"bedd/internal/recall"
)

// follow has the partner hear what the session does, and the journal what the partner
// does.
func (l *lesson) follow(run *liveRun) {
	run.session.Watch(l.partner.Hear)
	l.partner.Began = func(at time.Duration, task int) {
		l.number++
		l.details = false
		run.journal.Task(at, journal.Tried{Number: task})
		l.speaker.begin(l.tasks[task])
	}
	l.partner.Over = func(at time.Duration, task int, whole bool, r practice.Result) {
		run.journal.Task(at, journal.Tried{Number: task, Over: true, Whole: whole, Mark: r.Mark, Figure: r.Figure})
		l.speaker.end()
		t := l.tasks[task]
		a := recall.Attempt{Skill: recall.Skill{Exercise: t.Exercise, Key: t.Key}, Level: t.Level, Lasted: l.partner.Elapsed(at), Whole: whole, Mark: r.Mark}
		l.judged = append(l.judged, progress.Attempt{Attempt: a, Figure: r.Figure})
		l.plan = recall.Again(l.plan, a)
	}
}

// advance does what is due.
func (l *lesson) advance(run *liveRun, now time.Duration) {
	if run.leaving {
		return
	}
	if l.partner.Stepped() {
		l.onward(run)
	}
	// From moment to moment, a few at a time; each is loaded in silence.
	for range 4 {
		ask := l.partner.Advance(now, run.session.View())
		for _, c := range ask {
			run.session.Ask(now, gathering.Order{Command: c})
		}
		if len(ask) == 0 {
			break
		}
	}
	t, _ := l.partner.Task()
	k, _ := pitch.ParseKey(t.Key)
	l.piano.In(k)
	if l.partner.Stage() == practice.Playing {
		l.speaker.say(l.partner.Elapsed(now))
	}
	if stage := l.partner.Stage(); !run.whole && (!l.spoke || stage != l.told) {
		l.spoke, l.told = true, stage
		l.tell(run)
	}
}

// tell says in lines what the cards say.
func (l *lesson) tell(run *liveRun) {
	if l.partner.Stage() == practice.Moving {
		return
	}
	if l.partner.Stage() == practice.Playing {
		run.screen.line("it goes on")
		return
	}
	c := l.card()
	run.screen.line(c.Head + ": " + c.Big)
	for _, lines := range [][]string{c.Say, c.Heard, c.Alarm, {c.Care}, {strings.Join(c.Keys, "   ")}} {
		for _, line := range lines {
			run.screen.line("  " + line)
		}
	}
}

// key does what a key of the computer's is for in a practice, and reports whether it is
// for anything.
func (l *lesson) key(run *liveRun, name string) bool {
	now := run.now()
	stage := l.partner.Stage()
	if list, known := l.piano.Press(name); known {
		l.strike(run, list)
		return true
	}
	switch {
	case stage == practice.Ready && (name == "enter" || name == "space"):
		l.partner.Begin(now)
	case stage == practice.Playing && name == "esc":
		l.partner.End(now)
	case stage == practice.Judged && (name == "enter" || name == "space"):
		l.onward(run)
	case stage == practice.Judged && name == "r":
		_, at := l.partner.Task()
		l.partner.Turn(at)
	case (stage == practice.Ready || stage == practice.Judged) && name == "n":
		l.onward(run)
	case stage == practice.Judged && name == "i":
		l.details = !l.details
		if !run.whole {
			l.tell(run)
		}
	case stage == practice.Playing && name != "?":
		return false // the rig's: feet and pedal
	case name == "?": // in lines; a picture has the list itself
		for _, line := range l.keys(run.keys) {
			run.screen.line(line)
		}
	}
	return true
}

// keys lists what the computer's keys do in a practice, and which of the rig's are left.
func (l *lesson) keys(rigs map[string]gathering.Order) []string {
	feet := maps.Clone(rigs)
	maps.DeleteFunc(feet, func(name string, _ gathering.Order) bool {
		return name == "esc" || l.piano.Plays(strings.ToLower(name))
	})
	list := l.piano.Keys()
	if help := keyHelp(feet, bed.Step, bed.Arm, bed.LevelUp, bed.LevelDown); help != "" {
		list = append(list, "while a task is played:", "  "+help)
	}
	return append(list,
		"esc ends the task before its time",
		"enter begins, or goes on; n skips; r once more; i all that was measured",
		"ctrl-c ends the practice")
}

// onward goes on to the next task, or ends the practice.
func (l *lesson) onward(run *liveRun) {
	if !l.next() {
		run.leave("asked", false)
	}
}

// strike plays the computer's keys as a piano on the player's channel.
func (l *lesson) strike(run *liveRun, list []practice.Strike) {
	for _, s := range list {
		status := 0x90 | run.channel
		if s.Velocity == 0 {
			status = 0x80 | run.channel
		}
		run.session.Message(run.now(), []byte{status, s.Note, s.Velocity})
	}
}

// card is what there is to read before and after a task.
func (l *lesson) card() glance.Card {
	t, at := l.partner.Task()
	e, err := practice.Find(t.Exercise)
	if err != nil {
		return glance.Card{}
	}
	switch l.partner.Stage() {
	case practice.Judged:
		r := l.partner.Result()
		c := glance.Card{
			Head: fmt.Sprintf("practice, %d of %d: %s in %s, level %d", l.number, max(l.of, l.number), e.Title, t.Key, t.Level),
			Big:  fmt.Sprintf("%.0f %%", 100*r.Mark), Say: []string{r.Words, r.Figure},
			Keys: []string{"enter next", "r again", "i details", "ctrl-c ends"},
		}
		if l.details {
			c.Say = []string{r.Words}
			for _, p := range r.Parts {
				c.Say = append(c.Say, fmt.Sprintf("%-28s %-18s %3.0f %%", p.Name, p.Figure, 100*p.Mark))
			}
		}
		return c
	case practice.Moving:
		return glance.Card{Head: "practice", Big: "…", Say: []string{"the bed goes to the next key"}}
	}
	big := t.Key
	if t.Called > 0 {
		big = "?"
	}
	c := glance.Card{
		Head: fmt.Sprintf("practice, %d of %d: %s, level %d", l.number+1, max(l.of, l.number+1), e.Title, t.Level),
		Big:  big, Say: []string{e.About, "This level: " + e.Levels[t.Level-1] + "."},
		Keys: []string{"strike a key, step or enter begins", "n skips", "? lists keys", "ctrl-c ends"},
	}
	if why := l.chosen[at].Why; why != "" && t.Called == 0 {
		c.Say = append(c.Say, "Why now: "+why+".")
	}
	c.Say = append(c.Say, l.terms(t)...)
	if l.number == 0 {
		c.Care, c.Alarm = l.care, l.troubles
	}
	return c
}

// terms are what one has to know of a task before it begins.
func (l *lesson) terms(t practice.Task) (list []string) {
	switch {
	case len(t.Figure) > 0:
		k, _ := pitch.ParseKey(t.NextKey)
		var names []string
		for _, n := range t.Figure {
			names = append(names, pitch.NoteName(n, k))
		}
		list = append(list, "The figure to keep: "+strings.Join(names, " "))
	case t.NextChord != "":
		list = append(list, fmt.Sprintf("The song is in %s and begins on %s, in %.0f s.", t.NextKey, t.NextChord, t.Limit.Seconds()))
	}
	if len(t.Away) > 0 {
		list = append(list, fmt.Sprintf("At home %s, away %s.", strings.Join(t.Home, " "), strings.Join(t.Away, " ")))
	} else if t.Called == 0 && t.Shows.Next {
		list = append(list, "The bed goes "+strings.Join(t.Home, " ")+".")
	}
	return list
}

// show shows the card, or while a task is played what the bed does, without what the
// task keeps back.
func (l *lesson) show(run *liveRun, now time.Duration) {
	if !run.whole {
		return
	}
	if l.partner.Stage() != practice.Playing {
		run.terminal.ShowCard(l.card())
		return
	}
	m := run.model(now)
	t, _ := l.partner.Task()
	l.veil(&m, t, l.partner.Elapsed(now), run.session.View())
	run.show(m)
}

// status is what counts now in one line, without a word of a key that is still to be
// called.
func (l *lesson) status(run *liveRun, now time.Duration) string {
	if l.partner.Stage() != practice.Playing {
		return ""
	}
	m := run.model(now)
	t, _ := l.partner.Task()
	l.veil(&m, t, l.partner.Elapsed(now), run.session.View())
	line := []rune(glance.Clock(l.partner.Elapsed(now)) + "  " + m.Chord + "  " + m.Task)
	return string(line[:min(len(line), run.screen.width())])
}

// veil takes from a model what the task does not show, and adds what it is.
func (l *lesson) veil(m *glance.Model, t practice.Task, at time.Duration, v bed.View) {
	e, err := practice.Find(t.Exercise)
	if err != nil {
		return
	}
	m.Title, m.Lasts, m.Elapsed = e.Title, t.Lasts.Seconds(), at.Seconds()
	m.Longest, m.Prompt, m.Songs = t.Lasts.Seconds(), "", nil
	left := fmt.Sprintf("%.0f s left", math.Ceil((t.Lasts - at).Seconds()))
	if !t.Shows.Next {
		m.Next, m.Landing = "·", nil
	} else if next := l.coming(t, at); next > 0 {
		left = fmt.Sprintf("%s in %.0f s", m.Next, math.Ceil(next.Seconds()))
	}
	if !t.Shows.Notes {
		m.Notes = nil
	}
	switch {
	case at < t.Called:
		m.Key, m.Chord, m.Degree, m.Next, m.Notes, m.Title = "?", "·", "", "·", nil, "wait for the call"
		left = "a key is going to be called"
	case t.Called > 0:
		left = fmt.Sprintf("now %s: %.0f s", t.Key, max(math.Ceil((t.Called+t.Limit-at).Seconds()), 0))
		if !m.Sounds {
			m.Chord = t.Home[0]
		}
	case t.NextChord != "" && len(t.Figure) == 0:
		left = fmt.Sprintf("%s in %s in %.0f s", t.NextChord, t.NextKey, max(math.Ceil((t.Limit-at).Seconds()), 0))
	case len(t.Curve) > 0:
		left = speech(t, at)
	case len(t.Away) > 0 && t.Shows.Next:
		left = fmt.Sprintf("%v, round %d", v.Place, l.partner.Rounds())
	case len(t.Figure) > 0 && t.Shows.Notes:
		left = strings.TrimPrefix(l.terms(t)[0], "The figure to keep: ") + "   " + left
	}
	if held := l.piano.Held(); len(held) > 0 {
		left += "   you"
		for _, n := range held {
			left += " " + pitch.NoteName(int(n), v.Key)
		}
	}
	m.Task = left
}

// coming is how long it is until the bed goes on by itself, 0 where it does not.
func (l *lesson) coming(t practice.Task, at time.Duration) time.Duration {
	for _, s := range t.Steps {
		if s.At > at {
			return s.At - at
		}
	}
	return 0
}

// heights are eight levels in a column.
var heights = []rune("▁▂▃▄▅▆▇█")

// speech draws the speaker: some seconds past, now, and what is to come where the task
// shows it.
func speech(t practice.Task, at time.Duration) string {
	const past, ahead, each = 8, 24, time.Second
	column := func(at time.Duration) string {
		return string(heights[min(int(t.Voice(at)*8), 7)])
	}
	s := ""
	for i := -past; i <= 0; i++ {
		if w := at + time.Duration(i)*each; w >= 0 {
			s += column(w)
		} else {
			s += " "
		}
	}
	s += "│"
	for i := 1; i <= ahead && t.Shows.Next; i++ {
		s += column(at + time.Duration(i)*each)
	}
	said := ""
	for _, p := range t.Curve {
		if p.At <= at && p.Says != "" && at-p.At < 5*time.Second {
			said = "  “" + p.Says + "”"
		}
	}
	return "speaker " + s + said
}

// sumUp says at the end what was practised.
func (l *lesson) sumUp(run *liveRun) {
	if len(l.judged) == 0 {
		return
	}
	sum, lasted := 0.0, time.Duration(0)
	for _, a := range l.judged {
		sum += a.Mark
		lasted += a.Lasted
		cut := ""
		if !a.Whole {
			cut = ", cut short"
		}
		run.screen.line(fmt.Sprintf("  %-8s in %-3s level %d  %3.0f %%  %s%s", a.Exercise, a.Key, a.Level, 100*a.Mark, a.Figure, cut))
	}
	run.screen.line(fmt.Sprintf("practised %.0f min, tasks: %d, %.0f %% on the whole; bedd practice progress shows the weeks", math.Ceil(lasted.Minutes()), len(l.judged), 100*sum/float64(len(l.judged))))
}
