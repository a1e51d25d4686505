package practice

import (
	"fmt"
	"math/rand/v2"
	"time"

	"bedd/internal/bed"
	"bedd/internal/pitch"
)

var homeAndAway = Exercise{
	Name: "away", Title: "home and away",
	About: "Step the bed at your own pace. Go round at home two to four times, swap away for a round or two, and come back home before it ends.",
	Levels: []string{
		"two chords each; the feet alone, the rounds are counted",
		"the hands hold the shared notes",
		"the rounds are no longer counted",
		"three or four chords",
		"away and back twice",
	},
	Takes: 80 * time.Second,
	set: func(k pitch.Key, level int, random *rand.Rand) Task {
		t := Task{Intensity: 0.4, Hands: level >= 2, Journeys: 1, Shows: Shows{Notes: level < 3, Next: level < 3}}
		homes, aways := twos, outwards
		if level >= 4 {
			homes, aways = more, farther
		}
		t.Home, t.Away = pick(homes, k, random), pick(aways, k, random)
		for t.Away[0] == t.Home[len(t.Home)-1] { // nobody would hear that it went
			t.Away = pick(aways, k, random)
		}
		if level >= 5 {
			t.Journeys = 2
		}
		t.Steps = []Step{{0, bed.BringIn.String()}}
		chords := t.Journeys*(2*len(t.Home)+len(t.Away)) + 2*len(t.Home)
		t.Lasts = time.Duration(chords) * 6 * time.Second
		return t
	},
	judge: judgeAway,
}

// How long one stays: rounds of a progression before it wears, and seconds on a chord.
// By ear.
const (
	leastRounds, mostRounds         = 2, 4
	leastRoundsAway, mostRoundsAway = 1, 2
	quickestChord, slowestChord     = 3 * time.Second, 14 * time.Second
)

// stay is a time on one progression.
type stay struct {
	place  bed.Place
	chords int
}

func judgeAway(s set, t Take) Result {
	h := handsOf(s, t)
	var stays []stay
	paced, steps := 0, 0
	for i, c := range t.Chords {
		if n := len(stays); n == 0 || stays[n-1].place != c.Place {
			stays = append(stays, stay{place: c.Place})
		}
		stays[len(stays)-1].chords++
		if i+1 < len(t.Chords) {
			steps++
			if d := t.Chords[i+1].At - c.At; d >= quickestChord && d <= slowestChord {
				paced++
			}
		}
	}
	well, whole, journeys := 0.0, 0, 0
	for i, one := range stays {
		if one.place == bed.Away {
			journeys++
		}
		if i == len(stays)-1 {
			break
		}
		round, least, most := len(s.home), leastRounds, mostRounds
		if one.place == bed.Away {
			round, least, most = len(s.away), leastRoundsAway, mostRoundsAway
		}
		whole++
		rounds := one.chords / round
		switch {
		case one.chords%round == 0 && rounds >= least && rounds <= most:
			well++
		case rounds >= least && rounds <= most: // left in the middle
			well += 0.5
		}
	}
	want := 2 * s.Journeys // stays that were left
	var all score
	n := fmt.Sprintf("%g of %d", well, want)
	mark := well / float64(want)
	if whole > want {
		mark = well / float64(whole)
	}
	all.add(4, "stays of whole rounds", n, n+" stays left after whole rounds, not too early and not too late", mark,
		"Count the rounds: two to four at home, one or two away, and swap as the last one ends.")
	there := min(journeys, s.Journeys)
	n = fmt.Sprintf("%d of %d", there, s.Journeys)
	all.add(1.5, "times away", n, n+" times away", float64(there)/float64(s.Journeys)*falls(float64(journeys), float64(s.Journeys), float64(s.Journeys+3)),
		"Arm swap with the right foot, then step: that leads away, and once more leads home.")
	home := 0.0
	if k := len(stays); k > 1 && stays[k-1].place == bed.Home {
		home = 1
	}
	all.add(1.5, "back home at the end", [...]string{"no", "yes"}[int(home)], [...]string{"not back home at the end", "back home at the end"}[int(home)], home,
		"Be back home before it ends: away is no place to stop.")
	pace := share(float64(paced), float64(steps))
	if steps == 0 {
		pace = 0
	}
	all.add(1.5, "chords at an even pace", fmt.Sprintf("%d of %d", paced, steps), fmt.Sprintf("%d of %d chords neither hurried nor stuck", paced, steps), pace,
		"Let each chord have its time: four to twelve seconds.")
	presence := float64(len(t.Chords)-1) / float64(len(s.home)) // who never steps does nothing
	h.addIfPlayed(&all, s.Hands, 3)
	return all.result(presence, "It goes on for as long as you like, and nobody tires of it.")
}

// addIfPlayed takes the hands in, where they are to play or do.
func (h *hands) addIfPlayed(all *score, required bool, weight float64) {
	if !required && len(h.notes) == 0 {
		return
	}
	c, from := h.changes(optimum{}), len(all.parts)
	c.addHeld(all, weight/2)
	h.addWrong(all, weight/2)
	c.addLate(all, weight/4)
	if required {
		p := h.presence()
		all.scale(from, p)
		all.add(weight/2, "hands at it", fmt.Sprintf("%.0f %%", 100*p), fmt.Sprintf("the hands were at it %.0f %% of the time", 100*p), p,
			"The hands are to hold the chords too, softly.")
		smooth := len(all.parts)
		c.addSmooth(all, weight/4)
		all.scale(smooth, p)
	}
}
