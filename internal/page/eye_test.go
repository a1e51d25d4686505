package page

import (
	"slices"
	"testing"
	"time"
)

// TestWhatLooksTheSameIsNoNews, but for a sign of life each second, from which a page
// knows that its link is whole; what changes is news at once, whatever it is.
func TestWhatLooksTheSameIsNoNews(t *testing.T) {
	var e eye
	now, m, n := time.Unix(1000, 0), sample(), 0
	m.Elapsed = 7
	for range 100 { // ten seconds
		if _, show := e.news(m, now); show {
			n++
		}
		m.Elapsed += 0.001
		m.OnThis += 0.001
		m.Intensity += 0.00001
		m.News, m.Notes = slices.Clone(m.News), slices.Clone(m.Notes) // others, and the same
		now = now.Add(100 * time.Millisecond)
	}
	if n != 10 {
		t.Errorf("%d models are news in ten seconds, want 10", n)
	}
	for name, change := range map[string]func(){
		"a chord": func() { m.Chord = "D7" }, "a note": func() { m.Notes[2].Mark = 0; m.Notes = slices.Clone(m.Notes)[1:] },
		"a port": func() { m.Links = slices.Clone(m.Links); m.Links[0].Up = false }, "a line": func() { m.News = []string{"stay is on"} },
		"a second": func() { m.Elapsed++ }, "a second on this": func() { m.OnThis++ }, "a hundredth": func() { m.Intensity += 0.01 }, "the foot's time": func() { m.FootAt++ },
	} {
		change()
		if _, show := e.news(m, now); !show {
			t.Errorf("%s is no news", name)
		}
		if _, show := e.news(m, now); show {
			t.Errorf("%s is news twice", name)
		}
	}
	if _, show := e.news(m, now.Add(-time.Hour)); show {
		t.Error("a clock that goes back makes news")
	}
	if _, show := e.news(m, now.Add(aliveTime)); !show {
		t.Error("there is no sign of life")
	}
}
