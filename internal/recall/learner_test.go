package recall

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

// learner is somebody who practises. Its laws are not the scheduler's.
type learner interface {
	// does gives how well a skill is done at a time, 0…1, by its key's number.
	does(skill, key int, at time.Time) float64
	practises(skill, key int, at time.Time)
}

// fader learns a part of what is missing each time and forgets evenly in time, the
// slower the more often it has practised (exponential forgetting, Ebbinghaus 1885;
// that spacing slows it down, Cepeda et al. 2006. The figures are invented).
type fader struct {
	rate  [12]float64 // what one task adds of what is missing, by key
	have  [36]float64
	half  [36]float64 // days
	since [36]time.Time
}

func (f *fader) does(skill, _ int, at time.Time) float64 {
	if f.since[skill].IsZero() {
		return 0
	}
	days := at.Sub(f.since[skill]).Hours() / 24
	return f.have[skill] * math.Exp2(-days/f.half[skill])
}

func (f *fader) practises(skill, key int, at time.Time) {
	have := f.does(skill, key, at)
	if f.since[skill].IsZero() {
		f.half[skill] = 10
	} else if days := at.Sub(f.since[skill]).Hours() / 24; days > 0.5 {
		f.half[skill] = min(f.half[skill]*(1+0.6*min(days/f.half[skill], 1)), 200)
	}
	f.have[skill], f.since[skill] = have+f.rate[key]*(1-have), at
}

// tracer remembers by the strength of all its traces, each of which fades by a power
// of time, the faster the more was there when it was laid (Pavlik and Anderson 2005,
// Cognitive Science 29, equations 1 to 4; decay 0.177, scale 0.217, threshold −0.704
// from memory). One key is harder than another by its threshold.
type tracer struct {
	threshold [12]float64
	traces    [36][]trace
}

type trace struct {
	at    time.Time
	decay float64
}

func (p *tracer) activation(skill int, at time.Time) float64 {
	sum := 0.0
	for _, t := range p.traces[skill] {
		// Time outside practice counts for less (the same source; here a fortieth).
		seconds := max(at.Sub(t.at).Seconds()/40, 1)
		sum += math.Pow(seconds, -t.decay)
	}
	return math.Log(sum)
}

func (p *tracer) does(skill, key int, at time.Time) float64 {
	if len(p.traces[skill]) == 0 {
		return 0
	}
	return 1 / (1 + math.Exp((p.threshold[key]-p.activation(skill, at))/0.3))
}

func (p *tracer) practises(skill, _ int, at time.Time) {
	decay := 0.177
	if len(p.traces[skill]) > 0 {
		decay += 0.217 * math.Exp(p.activation(skill, at))
	}
	p.traces[skill] = append(p.traces[skill], trace{at, min(decay, 1)})
}

// newLearner makes one of either kind, to whom three keys come hard and four easily.
func newLearner(seed uint64) learner {
	random := rand.New(rand.NewPCG(seed, 7))
	order := random.Perm(12)
	if seed%2 == 0 {
		f := &fader{}
		for i, key := range order {
			f.rate[key] = []float64{0.15, 0.15, 0.18, 0.25, 0.3, 0.3, 0.4, 0.4, 0.5, 0.5, 0.6, 0.6}[i] * (0.8 + 0.4*random.Float64())
		}
		return f
	}
	p := &tracer{}
	for i, key := range order {
		p.threshold[key] = []float64{-0.9, -0.9, -1, -1.2, -1.3, -1.4, -1.5, -1.6, -1.8, -1.9, -2, -2}[i] + 0.2*random.Float64() - 0.1
	}
	return p
}

const (
	weeks  = 12
	target = 0.6
)

var evening = time.Date(2026, 1, 5, 19, 0, 0, 0, time.UTC)

var all = []Exercise{
	{"hold", 5, time.Minute}, {"line", 5, time.Minute}, {"land", 5, time.Minute},
}

// practise runs twelve weeks of irregular evenings of 5 to 20 minutes, and gives after
// how many minutes the worst key was above the target, or all of them, and how it
// stood in the end.
func practise(seed uint64, choose func(history []Attempt, minutes int, now time.Time) []Choice) (minutes int, worstAtEnd float64, reached bool) {
	who := newLearner(seed)
	random := rand.New(rand.NewPCG(seed, 11))
	var history []Attempt
	worst := func(at time.Time) float64 {
		least := 1.0
		for key := range 12 {
			sum := 0.0
			for e := range all {
				sum += who.does(e*12+key, key, at)
			}
			least = min(least, sum/float64(len(all)))
		}
		return least
	}
	for d := range weeks * 7 {
		if random.IntN(3) == 0 { // no time today
			continue
		}
		now := evening.AddDate(0, 0, d)
		tonight := []int{5, 10, 10, 20}[random.IntN(4)]
		for _, c := range choose(history, tonight, now) {
			key := slices.Index(Keys, c.Key)
			skill := slices.IndexFunc(all, func(e Exercise) bool { return e.Name == c.Exercise })*12 + key
			mark := min(max(who.does(skill, key, now)+0.08*random.NormFloat64(), 0), 1)
			history = append(history, Attempt{Skill: c.Skill, Level: c.Level, At: now, Lasted: time.Minute, Whole: true, Mark: mark})
			who.practises(skill, key, now)
			now = now.Add(time.Minute)
			if !reached {
				if minutes++; worst(now) >= target {
					reached = true
				}
			}
		}
	}
	return minutes, worst(evening.AddDate(0, 0, weeks*7)), reached
}

func planned(history []Attempt, minutes int, now time.Time) []Choice {
	return Plan(history, Want{Exercises: all, Time: time.Duration(minutes) * time.Minute, Seed: uint64(now.Unix())}, now)
}

// uniform goes round all skills evenly.
func uniform() func([]Attempt, int, time.Time) []Choice {
	next := 0
	return func(_ []Attempt, minutes int, _ time.Time) (list []Choice) {
		for range minutes {
			list = append(list, Choice{Skill: Skill{all[next/12%len(all)].Name, Keys[next%12]}, Level: 1})
			next++
		}
		return list
	}
}

// compare has learners practise by the plan and evenly.
func compare(learners int) (byPlan, evenly []float64, sooner, notLater int) {
	for i := range learners {
		seed := uint64(1000 + i) // the plan's weights were chosen with those below 40
		a, _, _ := practise(seed, planned)
		b, _, _ := practise(seed, uniform())
		byPlan, evenly = append(byPlan, float64(a)), append(evenly, float64(b))
		if a < b {
			sooner++
		}
		if a <= b {
			notLater++
		}
	}
	return byPlan, evenly, sooner, notLater
}

func mean(list []float64) (sum float64) {
	for _, x := range list {
		sum += x / float64(len(list))
	}
	return sum
}

// The worst key comes above the target in fewer minutes than by going round evenly.
// The learners are invented.
func TestWorstKeySooner(t *testing.T) {
	byPlan, evenly, sooner, notLater := compare(40)
	t.Logf("worst key above %v after %.0f minutes by the plan, %.0f evenly (what is not reached in %d weeks counts as all of their minutes); sooner with %d of %d learners, not later with %d",
		target, mean(byPlan), mean(evenly), weeks, sooner, len(byPlan), notLater)
	if mean(byPlan) > 0.85*mean(evenly) || sooner < len(byPlan)*3/4 {
		t.Error("too little is gained")
	}
}

func BenchmarkWorstKey(b *testing.B) {
	for b.Loop() {
		byPlan, evenly, _, _ := compare(40)
		b.ReportMetric(mean(byPlan), "min/plan")
		b.ReportMetric(mean(evenly), "min/evenly")
	}
}
