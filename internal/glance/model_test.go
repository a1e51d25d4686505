package glance

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// story is a bed in E flat with a watch over it.
type story struct {
	t   *testing.T
	bed *bed.Bed
	w   Watch
	now time.Duration
}

func newStory(t *testing.T) *story {
	t.Helper()
	key, err := pitch.ParseKey("Eb")
	if err != nil {
		t.Fatal(err)
	}
	var home, away []harmony.Chord
	for _, list := range []struct {
		to    *[]harmony.Chord
		steps []string
	}{{&home, []string{"1", "4"}}, {&away, []string{"6m", "2m"}}} {
		for _, step := range list.steps {
			c, _ := parse(t, step, "Eb")
			*list.to = append(*list.to, c)
		}
	}
	c := bed.DefaultConfig()
	c.Moments = []bed.Moment{{Key: key, Home: home, Away: away, Intensity: 0.3, NextKey: key}}
	b, err := bed.New(c)
	if err != nil {
		t.Fatal(err)
	}
	s := &story{t: t, bed: b}
	s.w.Moment("the collection", 2*time.Minute, 3*time.Minute)
	return s
}

func (s *story) ask(c bed.Command) {
	for _, a := range s.bed.Handle(s.now, bed.Event{Kind: bed.Asked, Command: c}, nil) {
		s.w.Mark(a)
	}
}

// passes lets time pass, and the bed do what is due.
func (s *story) passes(d time.Duration) {
	for end := s.now + d; s.now < end; {
		s.now = min(s.now+20*time.Millisecond, end)
		for _, a := range s.bed.Handle(s.now, bed.Event{Kind: bed.TimePassed}, nil) {
			s.w.Mark(a)
		}
	}
}

func (s *story) model() Model { return s.w.Model(s.now, s.bed.View(), nil, 60, 84, 3) }

func (s *story) marks(m Model, mark Mark) (names []string) {
	for _, n := range m.Notes {
		if n.Mark == mark {
			names = append(names, n.Name)
		}
	}
	return names
}

// TestModelTellsTheStory follows a bed from silence through a change and a stay.
func TestModelTellsTheStory(t *testing.T) {
	s := newStory(t)
	s.passes(5 * time.Second)
	m := s.model()
	if m.Sounds || m.Elapsed != 0 || m.Step != "bring in" || m.Next != "Eb" || m.Key != "Eb" || m.Fingers != "C" || m.Title != "the collection" {
		t.Errorf("silent: %+v", m)
	}
	s.ask(bed.Step)
	s.passes(10 * time.Second)
	m = s.model()
	if !m.Sounds || m.Elapsed != 10 || m.Lasts != 120 || m.Longest != 180 || m.Step != "next" || m.Next != "Ab" || m.Chord != "Eb" || m.FootAt != 10 {
		t.Errorf("after ten seconds: %+v", m)
	}
	before := s.bed.View()
	s.ask(bed.Step)
	s.passes(time.Second)
	m = s.model()
	if m.Chord != "Ab" || m.Degree != "4" || m.Foot != "to Ab" || m.FootAt != 1 {
		t.Errorf("after a step: %+v", m)
	}
	v := s.bed.View()
	for _, n := range m.Notes { // what it held before and holds now is held, the rest has moved
		sounded := slices.Contains(before.Voicing.Notes(), n.Number) || n.Number == before.Voicing.Bass
		if want := map[bool]Mark{true: Held, false: Moved}[sounded]; n.Mark != Safe && n.Mark != want {
			t.Errorf("%s is %v, want %v", n.Name, n.Mark, want)
		}
		if n.Mark == Safe && (n.Number < 60 || n.Number > 84 || slices.Contains(v.Voicing.Notes(), n.Number)) {
			t.Errorf("%s is safe", n.Name)
		}
	}
	if len(s.marks(m, Safe)) == 0 || len(s.marks(m, Held)) < 2 || !slices.Contains(s.marks(m, Moved), "Ab2") {
		t.Errorf("marks: %+v", m.Notes)
	}
	s.ask(bed.Stay)
	s.ask(bed.Step)
	if m = s.model(); !m.Stay || !slices.Equal(m.News, []string{"stay is on"}) || m.Foot != "stay on" {
		t.Errorf("staying: %+v", m)
	}
	s.passes(newsTime)
	if m = s.model(); len(m.News) > 0 {
		t.Errorf("old news: %v", m.News)
	}
	for i := range 10 {
		s.w.Say(s.now, string(rune('a'+i)))
	}
	if m = s.model(); !slices.Equal(m.News, []string{"h", "i", "j"}) {
		t.Errorf("the latest news are %v", m.News)
	}
}

// TestGoldenStory compares the pictures of the same story.
func TestGoldenStory(t *testing.T) {
	s := newStory(t)
	for _, scene := range []struct {
		name string
		does func()
	}{
		{"story-1-silent", func() { s.passes(5 * time.Second) }},
		{"story-2-brought-in", func() { s.ask(bed.Step); s.passes(4 * time.Second) }},
		{"story-3-away", func() { s.ask(bed.Arm); s.ask(bed.Step); s.passes(2 * time.Second) }},
		{"story-4-stays", func() { s.ask(bed.Stay); s.ask(bed.Step) }},
		{"story-5-too-long", func() { s.ask(bed.Stay); s.passes(3 * time.Minute) }},
		{"story-6-fades", func() { s.ask(bed.FadeOut); s.passes(time.Second) }},
	} {
		scene.does()
		golden(t, scene.name, s.model(), 80, 24)
	}
}

// TestModelIsACopy: what a view holds does not change afterwards.
func TestModelIsACopy(t *testing.T) {
	s := newStory(t)
	s.ask(bed.Step)
	s.passes(3 * time.Second)
	s.w.Say(s.now, "one")
	m := s.model()
	before, _ := json.Marshal(m)
	s.ask(bed.Step)
	s.passes(3 * time.Second)
	s.w.Say(s.now, "two")
	s.model()
	if after, _ := json.Marshal(m); string(before) != string(after) {
		t.Errorf("%s\nbecame %s", before, after)
	}
}
