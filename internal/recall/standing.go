package recall

import (
	"slices"
	"time"
)

// Exercise is something that is practised, as far as choosing it goes.
type Exercise struct {
	Name   string
	Levels int           // at least 1
	Takes  time.Duration // how long one task takes, with what is said before and after it
}

// Keys are the twelve major keys, clockwise around the circle of fifths.
var Keys = []string{"C", "G", "D", "A", "E", "B", "F#", "Db", "Ab", "Eb", "Bb", "F"}

// Standing is how a skill is had.
type Standing struct {
	Skill
	Level    int       // to be played next, from 1
	Strength float64   // 0…1: what was reached, as far as it is still there
	Recall   float64   // how likely it is still there, 0…1; 0 where it was never played
	Played   int       // attempts that count
	Last     time.Time // when it was last played; zero where it never was
	Due      time.Time // the day on which it should come again; zero where it was never played
}

// Stand tells how each exercise is had in each key, exercise by exercise. Keys that
// sound alike are one, however they are written.
func Stand(history []Attempt, exercises []Exercise, keys []string, now time.Time) []Standing {
	return StandAt(history, exercises, keys, []time.Time{now})[0]
}

// StandAt tells how each exercise was had in each key at several times, the earliest
// first, and goes through the history once for all of them. An attempt counts from the
// first time that is not before it; one after the last time counts as then.
func StandAt(history []Attempt, exercises []Exercise, keys []string, times []time.Time) (all [][]Standing) {
	m := newMemories(levelsOf(exercises))
	rest := inOrder(history)
	for i, now := range times {
		for len(rest) > 0 && (i == len(times)-1 || !rest[0].At.After(now)) {
			m.hear(rest[0], now)
			rest = rest[1:]
		}
		var list []Standing
		for _, e := range exercises {
			for _, k := range keys {
				list = append(list, m.standing(e, k, now))
			}
		}
		all = append(all, list)
	}
	return all
}

func (m *memories) standing(e Exercise, key string, now time.Time) Standing {
	s := Standing{Skill: Skill{e.Name, key}, Level: 1}
	if one := m.skills[Skill{e.Name, m.name(key)}]; one != nil {
		s.Level, s.Strength, s.Recall = one.level, one.strength(e.Levels, now), one.recall(now)
		s.Played, s.Last, s.Due = one.played, one.last, one.card.Due
	}
	return s
}

func levelsOf(exercises []Exercise) map[string]int {
	levels := map[string]int{}
	for _, e := range exercises {
		levels[e.Name] = max(e.Levels, 1)
	}
	return levels
}

// KeyStanding is how a key is had over all exercises.
type KeyStanding struct {
	Key      string
	Strength float64 // 0…1, the mean over the exercises
	Known    float64 // 0…1, the mean over those that were played
	Played   int     // attempts that count
	Last     time.Time
}

// ByKey sums up standings by key, in the order in which the keys first come.
func ByKey(standings []Standing) []KeyStanding {
	var list []KeyStanding
	counts, known := map[string]int{}, map[string]int{}
	for _, s := range standings {
		i := slices.IndexFunc(list, func(k KeyStanding) bool { return k.Key == s.Key })
		if i < 0 {
			i = len(list)
			list = append(list, KeyStanding{Key: s.Key})
		}
		k := &list[i]
		k.Strength += s.Strength
		k.Played += s.Played
		if s.Played > 0 {
			k.Known += s.Strength
			known[s.Key]++
		}
		if s.Last.After(k.Last) {
			k.Last = s.Last
		}
		counts[s.Key]++
	}
	for i := range list {
		list[i].Strength /= float64(counts[list[i].Key])
		list[i].Known /= float64(max(known[list[i].Key], 1))
	}
	return list
}

// What a key is under the hands. By ear; a key that was hardly played is fair, since
// nobody knows.
const (
	easyKey   = 0.55
	hardKey   = 0.25
	knownFrom = 4 // attempts
)

// Ease is how a key lies under the hands by what was practised: 1 easily, −1 badly,
// 0 in between or not known.
func (k KeyStanding) Ease() int {
	switch {
	case k.Played < knownFrom:
		return 0
	case k.Known >= easyKey:
		return 1
	case k.Known <= hardKey:
		return -1
	}
	return 0
}
