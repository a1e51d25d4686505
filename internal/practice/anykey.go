package practice

import (
	"fmt"
	"math/rand/v2"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

var anyKey = Exercise{
	Name: "any-key", Title: "any key now",
	About: "Wait: a key is going to be called. Be on its chord, softly and with the root below, within the time, and stay there.",
	Levels: []string{
		"within ten seconds; the keys are shown, and the bed comes by itself",
		"the keys are no longer shown",
		"your foot brings in the bed: step",
		"then go on, a chord a step, all through the progression",
		"within six seconds",
	},
	Takes: 35 * time.Second,
	set: func(k pitch.Key, level int, random *rand.Rand) Task {
		t := Task{Intensity: 0.35, Hands: true, Shows: Shows{Notes: level < 2, Next: true}, Limit: 10 * time.Second, Called: seconds(2, 6, random)}
		if level >= 5 {
			t.Limit = 6 * time.Second
		}
		t.Home = pick(twos, k, random)
		t.Lasts = t.Called + t.Limit + 10*time.Second
		if level < 3 {
			t.Steps = []Step{{t.Called, bed.BringIn.String()}}
		}
		if level >= 4 {
			t.Journeys = 1
			t.Lasts += 12 * time.Second
		}
		return t
	},
	judge: judgeAnyKey,
}

// What is soft: the mean velocity. By ear.
const (
	softest = 75
	hardest = 110
)

func judgeAnyKey(s set, t Take) Result {
	h := handsOf(s, t)
	tonic := s.home[0]
	found, ok := h.foundAt(s.Called, tonic)
	bedAt := time.Duration(-1)
	for _, r := range t.Heard {
		if r.Sounds && r.At >= s.Called {
			bedAt = r.At
			break
		}
	}
	if len(s.Steps) == 0 { // the foot brings it in
		ok = ok && bedAt >= 0
		found = max(found, bedAt)
	}
	took := found - s.Called
	if !ok {
		took = 2 * s.Limit
	}
	var all score
	n := fmt.Sprintf("%.1f s", took.Seconds())
	words := n + " from the call to the bed"
	if !ok {
		n, words = "never", "no bed within the time"
	}
	all.add(4, "from the call to the bed", n, words, falls(took.Seconds(), s.Limit.Seconds()/2, 1.5*s.Limit.Seconds()),
		"Say the key, find its root with the left hand, then build the chord on it.")

	// Once found, it stays.
	stays := 0.0
	if ok && t.Lasted > found {
		stays = 1 - float64(h.silence(found, t.Lasted))/float64(t.Lasted-found)
	}
	all.add(2, "held from then on", fmt.Sprintf("%.0f %%", 100*stays), fmt.Sprintf("held %.0f %% of the time from then on", 100*stays), 1-falls(stays, 0.3, 0.95),
		"Once you have the chord, stay on it: the room hears it stop.")

	called := hands{key: h.key, chords: h.chords, end: h.end}
	loud := 0.0
	for _, n := range h.notes {
		if n.Off > s.Called {
			called.notes = append(called.notes, n)
			loud += float64(n.Velocity)
		}
	}
	if len(called.chords) == 0 || called.chords[0].At > s.Called {
		called.chords = append([]Entry{{At: s.Called, Chord: tonic}}, called.chords...)
	}
	called.addWrong(&all, 2.5)
	if n := len(called.notes); n > 0 {
		loud /= float64(n)
		all.add(1.5, "how hard the keys were struck", fmt.Sprintf("%.0f", loud), fmt.Sprintf("struck with a velocity of %.0f", loud), falls(loud, softest, hardest),
			"Softer: nobody is to notice that it begins.")
	}
	if s.Journeys > 0 {
		entered := 0
		for i, c := range h.chords {
			if i > 0 && c.At > s.Called {
				entered++
			}
		}
		want := len(s.home)
		n := fmt.Sprintf("%d of %d", min(entered, want), want)
		all.add(1.5, "steps through the progression", n, n+" steps through the progression", share(float64(min(entered, want)), float64(want)),
			"When the first chord stands, go on with the foot: a chord a step.")
		c := h.changes(optimum{})
		c.addHeld(&all, 1.5)
	}
	presence := 1.0
	if len(called.notes) == 0 {
		presence = 0
	}
	return all.result(presence, "There at once, and softly: the room never noticed.")
}

// foundAt is when, from a time on, the hands have a chord with its root below, three
// notes or more, and keep it for a second.
func (h *hands) foundAt(from time.Duration, c harmony.Chord) (time.Duration, bool) {
	since, on := time.Duration(0), false
	for _, t := range h.moments(from, h.end) {
		now := h.at(t)
		right := len(now) >= fullHand && pitch.ClassOf(int(now[0].Number)) == c.BassClass() && belongs(now, c.Classes())
		switch {
		case right && !on:
			since, on = t, true
		case !right && on && t-since < time.Second:
			on = false
		case !right && on:
			return since, true
		}
	}
	return since, on && h.end-since >= time.Second
}
