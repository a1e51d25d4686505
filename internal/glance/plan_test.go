package glance

import (
	"slices"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Two chords carry a minute or two, home and away together five to ten (trade
// practice, no source); before the expected end, there, and past the longest.
func TestPrompts(t *testing.T) {
	type moment struct{ lasts, longest time.Duration }
	for _, c := range []struct {
		name       string
		m          moment
		since, now time.Duration
		v          bed.View
		want       string
	}{
		{"fresh", moment{}, 0, 50 * time.Second, bed.View{Chords: 2, Both: 4}, ""},
		{"two chords, a minute and a half", moment{}, 0, 90 * time.Second, bed.View{Chords: 2, Both: 4}, ""},
		{"two chords, over two minutes", moment{}, 0, 121 * time.Second, bed.View{Chords: 2, Both: 4}, "swap"},
		{"swapped a minute ago", moment{}, 3 * time.Minute, 4 * time.Minute, bed.View{Chords: 2, Both: 4}, ""},
		{"four chords, over ten minutes", moment{}, 10 * time.Minute, 601 * time.Second, bed.View{Chords: 2, Both: 4}, "home and away have worn"},
		{"no away", moment{}, 0, 241 * time.Second, bed.View{Chords: 2, Both: 2}, "chord of your own"},
		{"before the end", moment{2 * time.Minute, 0}, 0, 91 * time.Second, bed.View{Chords: 2, Both: 4}, "expected to end in 0:29"},
		{"the end", moment{90 * time.Second, 0}, 0, 91 * time.Second, bed.View{Chords: 2, Both: 4}, "the expected end is here"},
		{"long past it", moment{time.Minute, 0}, 0, 110 * time.Second, bed.View{Chords: 2, Both: 4}, ""},
		{"past the longest", moment{time.Minute, 90 * time.Second}, 0, 95 * time.Second, bed.View{Chords: 2, Both: 4}, "past the longest"},
		{"arrived", moment{time.Minute, 90 * time.Second}, 0, 95 * time.Second, bed.View{Arrived: true}, ""},
		{"fading", moment{time.Minute, 90 * time.Second}, 0, 95 * time.Second, bed.View{Phase: bed.Fading}, ""},
		{"silent", moment{time.Minute, 90 * time.Second}, 0, 95 * time.Second, bed.View{Phase: bed.Silent}, ""},
		{"a moment that nobody planned", moment{time.Minute, 90 * time.Second}, 0, 95 * time.Second, bed.View{Called: true, Chords: 2, Both: 4}, ""},
	} {
		var w Watch
		w.Moment("x", c.m.lasts, c.m.longest)
		c.v.Since = c.since
		if c.v.Phase == 0 && c.name != "silent" {
			c.v.Phase = bed.Holding
		}
		got := w.Model(c.now, c.v, nil, 60, 84, 0).Prompt
		if (got == "") != (c.want == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
		line, said := w.Remind(c.now, c.v)
		if line != got || said != (got != "") {
			t.Errorf("%s: a screen of lines is told %q", c.name, line)
		}
		if _, again := w.Remind(c.now+time.Second, c.v); again {
			t.Errorf("%s: it is told twice", c.name)
		}
	}
}

func TestGoldenChoices(t *testing.T) {
	s := newStory(t)
	s.w.Songs([]Song{{Title: "Lanterns on the Quay", Key: "Eb"}, {Title: "Salt on the Window", Key: "Bb"}, {Title: "Nobody knows the key"}})
	s.ask(bed.Step)
	s.passes(4 * time.Second)
	s.ask(bed.ChooseSong) // the bed of the story has no songs
	if m := s.model(); m.Choice != nil || !slices.Contains(m.News, "there are no songs to choose from") {
		t.Errorf("without songs: %+v, %v", m.Choice, m.News)
	}
	s.ask(bed.ChooseKey)
	golden(t, "choose-key", s.model(), 80, 24)
	var used bed.Songs
	used[0] = 2 // the first
	v := s.bed.View()
	v.Choice, v.Chosen, v.Used, v.Song = bed.WhichSong, 2, used, 2
	m := s.w.Model(s.now, v, nil, 60, 84, 0)
	if want := []string{"none", "Lanterns on the Quay in Eb", "Salt on the Window in Bb", "Nobody knows the key"}; !slices.Equal(m.Choice.Answers, want) || m.Choice.At != 2 || !slices.Equal(m.Choice.Used, []int{1}) {
		t.Errorf("%+v", m.Choice)
	}
	if !m.Songs[0].Used || m.Songs[0].Next || !m.Songs[1].Next || !strings.HasSuffix(m.Title, ", then Salt on the Window") {
		t.Errorf("%+v, %q", m.Songs, m.Title)
	}
	golden(t, "choose-song", m, 80, 24)
	for width := range 100 { // whatever there is room for
		Draw(m, width, 24)
	}
}

// Over the bed's safe notes the song's figure cannot be played.
func TestSafeNotesKeepTheFigure(t *testing.T) {
	s := newStory(t)
	s.ask(bed.Step)
	s.passes(4 * time.Second)
	v := s.bed.View()
	safe := func() (set pitch.Set) {
		for _, n := range s.w.Model(s.now, v, nil, 60, 84, 0).Notes {
			if n.Mark == Safe {
				set = set.Add(pitch.ClassOf(int(n.Number)))
			}
		}
		return set
	}
	before := safe()
	v.Guarded = &bed.Song{Key: v.Key, Figure: []int{67, 70, 75, 72}} // G Bb Eb C
	after := safe()
	if after == before || !before.Contains(after) {
		t.Errorf("safe were %v, with the figure %v", before, after)
	}
	if _, given := harmony.GivesAway(v.Guarded.Figure, v.Key, after, v.Key); given {
		t.Errorf("%v still give it away", after)
	}
}
