package practice

import (
	"fmt"
	"math/rand/v2"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

var figure = Exercise{
	Name: "figure", Title: "don't give it away",
	About: "The next song opens with a figure that is to be a surprise. Improvise over the bed, a note at a time, and keep off its first four notes.",
	Levels: []string{
		"the figure stays in sight; ten seconds a chord",
		"it is only seen before",
		"three or four chords",
		"the next chord is no longer shown, a chord every seven seconds",
	},
	Takes: 65 * time.Second,
	set: func(k pitch.Key, level int, random *rand.Rand) Task {
		t := Task{Intensity: 0.4, Hands: true, Line: 2, Shows: Shows{Notes: level < 2, Next: level < 4}, Home: pick(twos, k, random)}
		each := 10 * time.Second
		if level >= 3 {
			t.Home = pick(more, k, random)
		}
		if level >= 4 {
			each = 7 * time.Second
		}
		t.NextKey, t.NextChord = k.String(), harmony.Diatonic(k, 1).Symbol()
		t.Figure = opening(k, random)
		t.stepping(each, 6)
		return t
	},
	judge: judgeFigure,
}

// opening makes up a figure in a key: five notes of its scale above middle C with a leap
// at the beginning, no two of the first four alike.
func opening(k pitch.Key, random *rand.Rand) (notes []int) {
	scale := k.Scale()
	note := func(step int) int {
		n := 60 + int(k.Tonic.Class())
		for i := range step {
			from, to := scale[i%7].Class(), scale[(i+1)%7].Class()
			n += int(to.Up(-int(from)))
		}
		return n
	}
	shapes := [][]int{{0, 4, 2, 5, 4}, {4, 0, 3, 1, 0}, {2, 5, 1, 4, 2}, {0, 3, 6, 4, 5}, {4, 7, 3, 5, 4}, {1, 5, 3, 6, 4}}
	for _, step := range shapes[random.IntN(len(shapes))] {
		notes = append(notes, note(step))
	}
	return notes
}

// topLine gives the notes that were the highest as they began, of a chord struck at once
// only the top.
func (h *hands) topLine() (line []int) {
	for i, n := range h.notes {
		if i+1 < len(h.notes) && h.notes[i+1].On-n.On < settle && h.notes[i+1].Number > n.Number {
			continue
		}
		top := true
		for _, other := range h.at(n.On) {
			top = top && other.Number <= n.Number
		}
		if top {
			line = append(line, int(n.Number))
		}
	}
	return line
}

// given counts how often a line has the opening of the figure.
func (s *set) given(line []int) (times int) {
	for {
		at, found := harmony.FindFigure(s.Figure, s.nextKey, line, s.key, false)
		if !found {
			return times
		}
		times++
		line = line[at+2:]
	}
}

func judgeFigure(s set, t Take) Result {
	h := handsOf(s, t)
	over, want := 0, 0
	for i, list := range h.lines() {
		if h.chords[i].Place == bed.Home {
			over += min(len(list), s.Line)
			want += s.Line
		}
	}
	want = max(want, s.Line*len(s.Steps))
	amount := float64(over) / float64(want)
	times := s.given(h.topLine())
	var all score
	n := fmt.Sprintf("%d", times)
	words := n + " times the figure was to be heard"
	if times == 1 {
		words = "once the figure was to be heard"
	}
	// Who plays nothing keeps the secret, but that is no improvising.
	all.add(5, "the figure given away", n, words, falls(float64(times), 0, 3)*min(2*amount, 1),
		"Stay off its first leap: begin on another note, and go the other way.")
	n = fmt.Sprintf("%d of %d", over, want)
	all.add(2, "notes improvised", n, n+" notes improvised", amount,
		"Dare to play: two notes and more over each chord.")
	h.addWrong(&all, 2.5)
	c := h.changes(optimum{})
	c.addHeld(&all, 1.5)
	c.addLate(&all, 1)
	return all.result(h.presence(), "Much was played, and nobody knows which song comes.")
}
