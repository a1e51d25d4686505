package recall

import (
	"math"
	"slices"
	"time"

	"bedd/internal/pitch"

	"github.com/open-spaced-repetition/go-fsrs/v3"
)

// Marks from which an attempt counts as hard, good and easy in the model; what is
// below them all is forgotten. By ear.
const (
	hardFrom = 0.5
	goodFrom = 0.7
	easyFrom = 0.92
)

// How a level follows from marks. By ear: one thing is added when what is there goes
// well twice, and taken away when it does not go at all.
const (
	raiseFrom  = 0.85 // twice in a row
	leapFrom   = 0.97 // once
	lowerUnder = 0.4
)

// lately is the share that an attempt has in the mark of late.
const lately = 0.4

// memory is how a skill is had.
type memory struct {
	card   fsrs.Card
	level  int     // to be played next
	mark   float64 // of late, at the level of the last attempt
	at     int     // that level
	well   int     // attempts at this level in a row that went well
	played int
	last   time.Time
}

// model is FSRS 5 (free spaced repetition scheduler) by its published default
// weights, in its form for days: what is repeated on the same day does not count as
// remembered for longer. Ye, Su and Cao, KDD 2022, is where it comes from.
func model() *fsrs.FSRS {
	p := fsrs.DefaultParam()
	p.EnableShortTerm = false
	return fsrs.NewFSRS(p)
}

// grade is what a mark is in the model.
func grade(mark float64) fsrs.Rating {
	switch {
	case mark >= easyFrom:
		return fsrs.Easy
	case mark >= goodFrom:
		return fsrs.Good
	case mark >= hardFrom:
		return fsrs.Hard
	}
	return fsrs.Again
}

// day is the calendar day of a time, where the player was, as the model counts days.
func day(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 12, 0, 0, 0, time.UTC)
}

// KeyName gives one name to keys that sound alike: that of [Keys] where it has one.
// What is no key stays as it is.
func KeyName(key string) string {
	k, err := pitch.ParseKey(key)
	if err != nil {
		return key
	}
	return names[classOf(k)]
}

// names are the keys' names by classOf.
var names = func() (names [24]string) {
	for _, key := range append(minorKeys, Keys...) {
		k, _ := pitch.ParseKey(key)
		names[classOf(k)] = key
	}
	return names
}()

var minorKeys = []string{"Am", "Em", "Bm", "F#m", "C#m", "G#m", "Ebm", "Bbm", "Fm", "Cm", "Gm", "Dm"}

func classOf(k pitch.Key) int {
	if k.Minor {
		return 12 + int(k.Tonic.Class())
	}
	return int(k.Tonic.Class())
}

// memories is how all skills are had; their keys are named as KeyName does.
type memories struct {
	fsrs   *fsrs.FSRS
	levels map[string]int
	names  map[string]string
	skills map[Skill]*memory
}

func newMemories(levels map[string]int) *memories {
	return &memories{model(), levels, map[string]string{}, map[Skill]*memory{}}
}

func (m *memories) name(key string) string {
	name, known := m.names[key]
	if !known {
		name = KeyName(key)
		m.names[key] = name
	}
	return name
}

// hear takes the next attempt of a history, oldest first. One from a time that has not
// come yet counts as now, one before an earlier one of its skill as the same day, and
// what was not played to its end or has no mark not at all.
func (m *memories) hear(a Attempt, now time.Time) {
	if !a.Whole || !(a.Mark >= 0 && a.Mark <= 1) || m.levels[a.Exercise] == 0 {
		return
	}
	a.Key = m.name(a.Key)
	one := m.skills[a.Skill]
	if one == nil {
		one = &memory{level: 1}
		m.skills[a.Skill] = one
	}
	if a.At.After(now) {
		a.At = now
	}
	on := day(a.At)
	if on.Before(one.card.LastReview) {
		on = one.card.LastReview
	}
	one.card = m.fsrs.Next(one.card, on, grade(a.Mark)).Card
	one.hear(a, m.levels[a.Exercise])
}

// remember goes through a history.
func remember(history []Attempt, levels map[string]int, now time.Time) map[Skill]*memory {
	m := newMemories(levels)
	for _, a := range inOrder(history) {
		m.hear(a, now)
	}
	return m.skills
}

func inOrder(history []Attempt) []Attempt {
	sorted := slices.Clone(history)
	slices.SortStableFunc(sorted, func(a, b Attempt) int { return a.At.Compare(b.At) })
	return sorted
}

// hear takes note of an attempt's mark and level.
func (m *memory) hear(a Attempt, levels int) {
	level := min(max(a.Level, 1), levels)
	if m.played == 0 || level != m.at {
		m.mark, m.well = a.Mark, 0
	} else {
		m.mark += lately * (a.Mark - m.mark)
	}
	m.at, m.level = level, level
	m.played++
	m.last = a.At
	if a.Mark >= raiseFrom {
		m.well++
	} else {
		m.well = 0
	}
	switch {
	case a.Mark >= leapFrom || m.well >= 2:
		m.level, m.well = min(level+1, levels), 0
	case a.Mark < lowerUnder:
		m.level = max(level-1, 1)
	}
}

// recall is how likely the skill is still there, 0…1.
func (m *memory) recall(now time.Time) float64 {
	if m.played == 0 {
		return 0
	}
	today := day(now)
	if today.Before(m.card.LastReview) {
		today = m.card.LastReview
	}
	return model().GetRetrievability(m.card, today)
}

// strength is how well the skill is had, 0…1: what was reached, as far as it is
// still there.
func (m *memory) strength(levels int, now time.Time) float64 {
	if m.played == 0 {
		return 0
	}
	return m.recall(now) * m.reached(levels)
}

// reached is how far up the levels the marks of late are, 0…1. The first level alone
// counts for half: who can do it can play.
func (m *memory) reached(levels int) float64 {
	up := 0.0
	if levels > 1 {
		up = float64(m.at-1) / float64(levels-1)
	}
	return math.Min(m.mark, 1) * (0.5 + 0.5*up)
}
