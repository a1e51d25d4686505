package recall

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"time"
)

// Want is what a practice is to be.
type Want struct {
	Exercises []Exercise
	Keys      []string      // [Keys] if empty
	Time      time.Duration // how long it is to last
	Level     int           // of every task, 0 as the history has it
	Seed      uint64        // chooses among what is equal
}

// What makes a skill come sooner. By ear, and by the learners of the tests.
const (
	weakKey   = 3    // how badly its key is had
	weakSkill = 1    // how badly it is had itself
	faded     = 0.3  // how far it is forgotten; nothing where it was never played
	sameKey   = 0.1  // for each time that its key stands in the plan already
	sameTask  = 0.3  // for each time that it does itself
	sameWay   = 0.15 // for each time that its exercise does
	learnt    = 0.25 // of what is missing, what one task is taken to add
)

// mostPlanned bounds a plan, whatever the time.
const mostPlanned = 120

// Plan fills a time with tasks, the most needed first: what is weakest and longest
// unpractised, the worst key before all. No key comes twice in a row where there is
// another. The same history, want and time make the same plan. A time for less than
// one task makes one.
func Plan(history []Attempt, w Want, now time.Time) []Choice {
	if len(w.Keys) == 0 {
		w.Keys = Keys
	}
	standings := Stand(history, w.Exercises, w.Keys, now)
	if len(standings) == 0 {
		return nil
	}
	random := rand.New(rand.NewPCG(w.Seed, w.Seed^0x9e3779b97f4a7c15))
	random.Shuffle(len(standings), func(i, j int) { standings[i], standings[j] = standings[j], standings[i] })
	p := planner{now: now, standings: standings, asked: map[Skill]int{}, askedKey: map[string]int{}, askedExercise: map[string]int{}}
	takes, levels := map[string]time.Duration{}, levelsOf(w.Exercises)
	for _, e := range w.Exercises {
		takes[e.Name] = max(e.Takes, time.Second)
	}
	var list []Choice
	for left := w.Time; len(list) < mostPlanned; {
		s := p.next()
		if left -= takes[s.Exercise]; left < 0 && len(list) > 0 {
			break
		}
		c := Choice{Skill: s.Skill, Level: s.Level, Why: p.why(s)}
		if w.Level > 0 {
			c.Level = min(w.Level, levels[s.Exercise])
		}
		list = append(list, c)
		p.take(s)
	}
	return list
}

// planner picks one skill after another.
type planner struct {
	now           time.Time
	standings     []Standing // as they are taken to be after what stands in the plan
	asked         map[Skill]int
	askedKey      map[string]int
	askedExercise map[string]int
	last          string // key
}

// next is what is needed most.
func (p *planner) next() *Standing {
	keys := map[string]float64{}
	others := false
	for _, k := range ByKey(p.standings) {
		keys[k.Key] = k.Strength
		others = others || k.Key != p.last
	}
	var best *Standing
	most := 0.0
	for i := range p.standings {
		s := &p.standings[i]
		if s.Key == p.last && others {
			continue
		}
		need := weakKey*(1-keys[s.Key]) + weakSkill*(1-s.Strength)
		if s.Played > 0 {
			need += faded * (1 - s.Recall)
		}
		need -= sameKey*float64(p.askedKey[s.Key]) + sameTask*float64(p.asked[s.Skill]) + sameWay*float64(p.askedExercise[s.Exercise])
		if best == nil || need > most {
			best, most = s, need
		}
	}
	return best
}

// take puts a skill into the plan.
func (p *planner) take(s *Standing) {
	p.asked[s.Skill]++
	p.askedKey[s.Key]++
	p.askedExercise[s.Exercise]++
	p.last = s.Key
	s.Strength += learnt * (1 - s.Strength)
	s.Recall = 1
}

// why says in a few words why a skill comes now.
func (p *planner) why(s *Standing) string {
	worst := slices.MinFunc(ByKey(p.standings), func(a, b KeyStanding) int {
		switch {
		case a.Strength < b.Strength:
			return -1
		case a.Strength > b.Strength:
			return 1
		}
		return 0
	})
	switch days := int(day(p.now).Sub(day(s.Last)).Hours() / 24); {
	case p.asked[s.Skill] > 0:
		return "once more"
	case s.Played == 0:
		return "new in " + s.Key
	case s.Recall < 0.9 && days > 1:
		return fmt.Sprintf("not for %d days", days)
	case s.Key == worst.Key:
		return "the weakest key"
	case s.Strength < 0.4:
		return "still weak"
	}
	return "to keep it"
}

// failed is the mark under which a task comes again in the same practice. By ear.
const failed = hardFrom

// Again gives what is left of a plan after an attempt: one that failed comes again a
// level lower, after the next task, where its skill does not stand there anyway. The
// plan keeps its length as long as it has one.
func Again(rest []Choice, a Attempt) []Choice {
	if !a.Whole || !(a.Mark < failed) || slices.ContainsFunc(rest, func(c Choice) bool { return c.Skill == a.Skill }) {
		return rest
	}
	at := min(1, len(rest))
	again := slices.Insert(slices.Clone(rest), at, Choice{Skill: a.Skill, Level: max(a.Level-1, 1), Why: "once more, a little easier"})
	return again[:max(len(rest), at+1)]
}
