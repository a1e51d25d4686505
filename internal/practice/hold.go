package practice

import (
	"math/rand/v2"
	"time"

	"bedd/internal/pitch"
)

var hold = Exercise{
	Name: "hold", Title: "hold and move",
	About: "Hold a soft chord with the bed. When it goes on, keep the notes that both chords share and move only the others, the bass first.",
	Levels: []string{
		"two chords, eight seconds each; notes and next chord are shown",
		"three or four chords",
		"the notes are no longer shown",
		"the next chord is no longer shown",
		"a chord every five seconds",
		"a chord from outside of the key",
	},
	Takes: 50 * time.Second,
	set: func(k pitch.Key, level int, random *rand.Rand) Task {
		t := Task{Intensity: 0.4, Hands: true, Shows: Shows{Notes: level < 3, Next: level < 4}}
		each := 8 * time.Second
		switch {
		case level >= 6:
			t.Home = pick(borrowed, k, random)
		case level >= 2:
			t.Home = pick(more, k, random)
		default:
			t.Home = pick(twos, k, random)
		}
		if level >= 5 {
			each = 5 * time.Second
		}
		t.stepping(each, 2*max(len(t.Home), 3)-min(len(t.Home), 3)+2)
		return t
	},
	judge: func(s set, t Take) Result {
		h := handsOf(s, t)
		c := h.changes(optimum{wanted: true})
		var all score
		c.addHeld(&all, 4)
		h.addWrong(&all, 3)
		c.addLate(&all, 1.5)
		c.addSmooth(&all, 1)
		c.addMoved(&all, 1)
		return all.result(h.presence(), "Nothing to be heard but the chord that changes: that is it.")
	},
}
