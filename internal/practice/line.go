package practice

import (
	"fmt"
	"math/rand/v2"
	"time"

	"bedd/internal/pitch"
)

var line = Exercise{
	Name: "line", Title: "bring a line",
	About: "Hold the chord, and above it bring one or two single notes before the next one comes. What is held goes on under them.",
	Levels: []string{
		"one or two notes over a chord of ten seconds; the keys are shown",
		"two or three notes",
		"the keys are no longer shown",
		"three or four chords",
		"a chord every seven seconds, the next one not shown",
	},
	Takes: 70 * time.Second,
	set: func(k pitch.Key, level int, random *rand.Rand) Task {
		t := Task{Intensity: 0.4, Hands: true, Line: 1, Shows: Shows{Notes: level < 3, Next: level < 5}, Home: pick(twos, k, random)}
		each := 10 * time.Second
		if level >= 2 {
			t.Line = 2
		}
		if level >= 4 {
			t.Home = pick(more, k, random)
		}
		if level >= 5 {
			each = 7 * time.Second
		}
		t.stepping(each, 6)
		return t
	},
	judge: judgeLine,
}

const (
	justBefore = 3 * settle              // what is struck again with a note of the line sounded then
	mostLine   = 1                       // notes more than the least
	lineAfter  = 1500 * time.Millisecond // before, after a change, notes belong to the chord
	farLeap    = 9                       // semitones: a sixth is a wide step for a quiet line; by ear
)

// lines gives the notes of melody over each chord: those above all that sounds, away
// from the changes.
func (h *hands) lines() (list [][]Note) {
	for i, c := range h.chords {
		var over []Note
		for _, n := range h.notes {
			if n.On < c.At+lineAfter || n.On >= h.until(i)-settle {
				continue
			}
			below := h.at(n.On - justBefore)
			if len(below) < 2 {
				continue
			}
			top := below[len(below)-1]
			if k := len(over); k > 0 && top.On == over[k-1].On && top.Number == over[k-1].Number { // the line's own last note
				top = below[len(below)-2]
			}
			if n.Number > top.Number {
				over = append(over, n)
			}
		}
		list = append(list, over)
	}
	return list
}

func judgeLine(s set, t Take) Result {
	h := handsOf(s, t)
	brought, kept, could, leaps, steps := 0.0, 0, 0, 0, 0
	lines := h.lines()
	var last *Note
	for i, over := range lines {
		switch n := len(over); {
		case n >= s.Line && n <= s.Line+mostLine:
			brought++
		case n > s.Line+mostLine:
			brought += max(1-float64(n-s.Line-mostLine)/4, 0)
		default:
			brought += float64(n) / float64(s.Line) / 2
		}
		for k := range over {
			n := &over[k]
			if last != nil {
				steps++
				if d := int(n.Number) - int(last.Number); d > farLeap || d < -farLeap {
					leaps++
				}
			}
			last = n
			for _, under := range h.at(n.On - justBefore) {
				if k > 0 && under.Number == over[k-1].Number {
					continue
				}
				could++
				if under.Off > min(n.On+around, h.until(i)-around) {
					kept++
				}
			}
		}
	}
	if could == 0 {
		could = 1
	}
	var all score
	count := fmt.Sprintf("%.0f of %d", brought, len(s.Steps))
	all.add(3, "chords with a line", count, count+" chords had a line, neither too few notes nor too many", brought/float64(max(len(lines), len(s.Steps))),
		"One thought for each chord: a note or two above it, then wait.")
	count = fmt.Sprintf("%d of %d", kept, could)
	all.add(3, "held under the line", count, count+" notes held on under the line", float64(kept)/float64(could),
		"The chord is to lie still while the line moves: hold it with the other fingers.")
	h.addWrong(&all, 2)
	c := h.changes(optimum{})
	c.addHeld(&all, 1.5)
	c.addLate(&all, 1)
	if steps > 0 {
		count = fmt.Sprintf("%d of %d", leaps, steps)
		all.add(0.5, "wide leaps", count, count+" steps of the line were wide leaps", 1-float64(leaps)/float64(steps),
			"Sing the line: go by steps and small leaps.")
	}
	return all.result(h.presence(), "A line that anyone could have sung, over a chord that never moved.")
}
