package glance

import (
	"fmt"
	"slices"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Song is a song of the plan.
type Song struct {
	Title string `json:"title"`
	Key   string `json:"key"` // empty where it is not known
	Used  bool   `json:"used,omitempty"`
	Next  bool   `json:"next,omitempty"` // the one that the landing leads to
}

// Choice is a question with its answers; nothing of it is heard until it is taken.
type Choice struct {
	What    string   `json:"what"` // next song, or key
	Answers []string `json:"answers"`
	At      int      `json:"at"` // the answer that step takes
	Used    []int    `json:"used,omitempty"`
}

// Songs says which songs the plan has, in order.
func (w *Watch) Songs(songs []Song) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.songs = slices.Clone(songs)
}

// plan adds to a model where the bed is in the plan, and what it is time for.
func (w *Watch) plan(m *Model, at time.Duration, v bed.View) {
	if v.Called {
		m.Title, m.Lasts, m.Longest = "not planned", 0, 0
	}
	if v.Song > 0 && v.Song <= len(w.songs) {
		m.Title += ", then " + w.songs[v.Song-1].Title
	}
	for _, c := range v.Way[:v.WayLen] {
		m.Landing = append(m.Landing, c.Symbol())
	}
	m.Lands, m.Walks = v.Lands, v.Walks
	for i, s := range w.songs {
		s.Used, s.Next = v.Used.Has(i+1), v.Song == i+1
		m.Songs = append(m.Songs, s)
	}
	m.Choice = w.choice(v)
	if v.Phase == bed.Silent {
		return
	}
	m.OnThis = (at - v.Since).Seconds()
	m.Prompt = prompt(m, v)
}

// taken says which song was taken, 0 for none.
func (w *Watch) taken(song int) string {
	w.mu.Lock()
	defer w.mu.Unlock()
	if song == 0 || song > len(w.songs) {
		return "no song follows"
	}
	return "next is " + w.songs[song-1].Title
}

func (w *Watch) choice(v bed.View) *Choice {
	switch v.Choice {
	case bed.WhichSong:
		c := &Choice{What: v.Choice.String(), Answers: []string{"none"}, At: v.Chosen}
		for i, s := range w.songs {
			name := s.Title
			if s.Key != "" {
				name += " in " + s.Key
			}
			c.Answers = append(c.Answers, name)
			if v.Used.Has(i + 1) {
				c.Used = append(c.Used, i+1)
			}
		}
		if c.At >= len(c.Answers) {
			return nil
		}
		return c
	case bed.WhichKey:
		c := &Choice{What: v.Choice.String(), At: v.Chosen}
		for up := range 12 {
			c.Answers = append(c.Answers, pitch.Key{Minor: v.Key.Minor, Tonic: pitch.Key{}.Tonic}.Transpose(up).String())
		}
		return c
	}
	return nil
}

// keepFigure takes from the safe notes those on which the right hand could play
// the next song's figure.
func keepFigure(v bed.View, safe *[128]bool) {
	if v.Guarded == nil {
		return
	}
	var classes pitch.Set
	for n, is := range safe {
		if is {
			classes = classes.Add(pitch.ClassOf(n))
		}
	}
	for {
		leave, given := harmony.GivesAway(v.Guarded.Figure, v.Guarded.Key, classes, v.Key)
		if !given || !classes.Has(leave) {
			return
		}
		classes = classes.Without(leave)
		for n := range safe {
			safe[n] = safe[n] && pitch.ClassOf(n) != leave
		}
	}
}

// What a progression carries. Trade practice, no source: two chords carry a minute
// or two, home and away together, four as a rule, five to ten.
const (
	carriesEach = time.Minute
	carriesBoth = 150 * time.Second
)

// ahead is how long before the expected end it is told. By ear: a landing of four
// chords takes half of it.
const ahead = 30 * time.Second

// heardFor is how long it is said at the start that the figure is in the bed.
const heardFor = 20 * time.Second

// prompt says quietly what it is time for; what presses most comes first.
func prompt(m *Model, v bed.View) string {
	if v.Arrived || v.Phase == bed.Fading || v.Phase == bed.Leaving {
		return ""
	}
	if v.Heard && v.Place < bed.Hand && m.Elapsed < heardFor.Seconds() {
		return "the top line has the song's figure: other chords would keep it"
	}
	left := m.Lasts - m.Elapsed
	switch {
	case m.Longest > 0 && m.Elapsed > m.Longest:
		return "past the longest that was planned: land"
	case m.Lasts > 0 && left < 0 && left > -ahead.Seconds():
		return "the expected end is here"
	case m.Lasts > ahead.Seconds() && left >= 0 && left <= ahead.Seconds():
		return fmt.Sprintf("expected to end in %s", minutes(left))
	case v.Both > 0 && m.Elapsed > float64(v.Both)*carriesBoth.Seconds() && v.Place != bed.Landing:
		return "home and away have worn: land, or play chords of your own"
	case v.Chords > 0 && m.OnThis > float64(v.Chords)*carriesEach.Seconds() && v.Both > v.Chords:
		return "this has gone round long enough: swap"
	case v.Chords > 0 && m.OnThis > 2*float64(v.Chords)*carriesEach.Seconds():
		return "this has gone round long enough: land, or play a chord of your own"
	}
	return ""
}

// Remind gives a prompt that is new, once: for a screen of lines.
func (w *Watch) Remind(at time.Duration, v bed.View) (line string, ok bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if v.Phase == bed.Silent {
		w.came, w.reminded = at, ""
		return "", false
	}
	m := Model{Elapsed: (at - w.came).Seconds(), Lasts: w.lasts.Seconds(), Longest: w.longest.Seconds(), OnThis: (at - v.Since).Seconds()}
	if v.Called {
		m.Lasts, m.Longest = 0, 0 // the plan's moment is another one
	}
	now := prompt(&m, v)
	kind := now[:min(len(now), len("expected"))]
	if now == "" || kind == w.reminded {
		return "", false
	}
	w.reminded = kind
	return now, true
}
