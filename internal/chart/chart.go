// Package chart lays out a plan's moments to be printed for the music stand.
package chart

import (
	"fmt"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// Chart is one moment, as it is played in one key.
type Chart struct {
	Plan   string // the plan's title
	Number int    // of the moment, from 1
	Moment gathering.Moment
	Key    pitch.Key
	Moved  int             // semitones from the plan's key, -5…6
	Next   *gathering.Song // that follows, moved as far, or nil
	Home   []Step
	Away   []Step
	From   harmony.Chord // the chord that Land starts from, home's first
	Land   []Step
	Ways   []Way // from every chord of the bed
}

// Step is a chord with its notes.
type Step struct {
	Chord   harmony.Chord
	Key     pitch.Key       // in which it is heard
	Voicing voicing.Voicing // with the rig's usual number of voices
	Held    voicing.Pitches // upper notes that go on from the chord before
	Safe    []voicing.SafeNote
}

// Way is a landing from one chord.
type Way struct {
	From   harmony.Chord
	Chords []harmony.Chord // the last is the song's first; none where it is there already
}

// Where the right hand plays, for its safe notes: from C4 to C6.
const handLow, handHigh = 60, 84

// Maker makes charts for one rig; one goroutine at a time may use it.
type Maker struct{ engine *voicing.Engine }

// NewMaker fails where the rig's voicing contradicts itself.
func NewMaker(rig gathering.Rig) (*Maker, error) {
	e, err := voicing.New(rig.Bed.Voicing)
	if err != nil {
		return nil, err
	}
	return &Maker{e}, nil
}

// Chart lays out moment i of a plan in its own key, or with tonic moved to another.
// The error, of type *[voicing.RangeError], says that the rig's range has no room
// for a chord.
func (m *Maker) Chart(g *gathering.Gathering, i int, tonic *pitch.Key) (Chart, error) {
	moment := g.Moments[i]
	c := Chart{Plan: g.Title, Number: i + 1, Moment: moment, Key: moment.Bed.Key}
	if tonic != nil {
		c.Key = pitch.Key{Tonic: tonic.Tonic, Minor: c.Key.Minor}
		c.Moved = (int(c.Key.Tonic.Class()-moment.Bed.Key.Tonic.Class())+12+5)%12 - 5
	}
	if next, ok := g.Next(i); ok && !next.NoKey {
		c.Next = c.moved(next)
	}
	var home, away []harmony.Chord
	for _, chord := range moment.Bed.Home {
		home = append(home, chord.Transpose(moment.Bed.Key, c.Key))
	}
	for _, chord := range moment.Bed.Away {
		away = append(away, chord.Transpose(moment.Bed.Key, c.Key))
	}
	homes, aways, err := m.engine.Pair(home, away, c.Key, nil, 0, nil, nil)
	if err != nil {
		return Chart{}, fmt.Errorf("%s: %w", moment.For, err)
	}
	c.Home, c.Away, c.From = m.round(home, homes, c.Key), m.round(away, aways, c.Key), home[0]
	if c.Next == nil {
		return c, nil
	}
	return c, m.land(&c, append(home, away...), homes[0])
}

// moved is a song as far from its key as the chart is from the moment's.
func (c *Chart) moved(s gathering.Song) *gathering.Song {
	if c.Key == c.Moment.Bed.Key {
		return &s
	}
	to := s.Key.Transpose(c.Moved)
	s.First = s.First.Transpose(s.Key, to)
	sections := make([]gathering.Section, len(s.Sections))
	for i, section := range s.Sections {
		sections[i] = gathering.Section{Name: section.Name}
		for _, chord := range section.Chords {
			sections[i].Chords = append(sections[i].Chords, chord.Transpose(s.Key, to))
		}
	}
	figure := make([]int, len(s.Figure))
	for i, n := range s.Figure {
		figure[i] = min(max(n+c.Moved, 0), 127)
	}
	s.Key, s.Sections, s.Figure = to, sections, figure
	return &s
}

// round is a progression that goes round, as it is voiced.
func (m *Maker) round(chords []harmony.Chord, ladders []voicing.Ladder, key pitch.Key) []Step {
	steps := make([]Step, len(chords))
	voices := m.engine.Settings().Voices
	for i, c := range chords {
		before := ladders[(i+len(chords)-1)%len(chords)].Rung(voices)
		next := (i + 1) % len(chords)
		after := ladders[next].Rung(voices)
		steps[i] = step(c, key, ladders[i].Rung(voices), before, chords[next], after)
	}
	return steps
}

func step(c harmony.Chord, key pitch.Key, now, before voicing.Voicing, next harmony.Chord, after voicing.Voicing) Step {
	return Step{
		Chord: c, Key: key, Voicing: now,
		Held: now.Pitches().And(before.Pitches()),
		Safe: voicing.SafeNotes(nil, c, &now, next, &after, key, handLow, handHigh),
	}
}

// land finds the ways into the song, and voices the one from home's first chord.
func (m *Maker) land(c *Chart, bed []harmony.Chord, ladder voicing.Ladder) error {
	seen := map[harmony.Chord]bool{}
	for _, from := range bed {
		if !seen[from] {
			seen[from] = true
			r := harmony.Land(from, c.Key, c.Next.Key, c.Next.First, c.Moment.Ending)
			c.Ways = append(c.Ways, Way{from, r.Chords[:r.N]})
		}
	}
	r := harmony.Land(c.From, c.Key, c.Next.Key, c.Next.First, c.Moment.Ending)
	voices := m.engine.Settings().Voices
	ladders := []voicing.Ladder{ladder}
	keys := []pitch.Key{c.Key}
	for i, chord := range r.Chords[:r.N] {
		key := c.Next.Key
		if r.Turn != harmony.NoTurn && i < r.TurnAt {
			key = c.Key
		}
		next, err := m.engine.Next(chord, key, &ladders[i])
		if err != nil {
			return fmt.Errorf("%s: %w", c.Moment.For, err)
		}
		ladders, keys = append(ladders, next), append(keys, key)
	}
	for i, chord := range r.Chords[:r.N] {
		var next harmony.Chord
		var after voicing.Voicing
		if i+1 < r.N {
			next, after = r.Chords[i+1], ladders[i+2].Rung(voices)
		}
		c.Land = append(c.Land, step(chord, keys[i+1], ladders[i+1].Rung(voices), ladders[i].Rung(voices), next, after))
	}
	return nil
}

// AllKeys are the twelve keys that a moment is practised in, from C up, under
// their practical names.
func AllKeys(minor bool) []pitch.Key {
	keys := make([]pitch.Key, 12)
	for i := range keys {
		keys[i] = pitch.Key{Minor: minor}.Transpose(i)
	}
	return keys
}

// lasting says how long a moment is, or nothing.
func lasting(m gathering.Moment) string {
	switch {
	case m.Lasts > 0 && m.Longest > m.Lasts:
		return minutes(m.Lasts) + " to " + minutes(m.Longest) + " min"
	case m.Lasts > 0:
		return minutes(m.Lasts) + " min"
	case m.Longest > 0:
		return "at most " + minutes(m.Longest) + " min"
	}
	return ""
}

func minutes(d time.Duration) string {
	return fmt.Sprintf("%.3g", d.Minutes())
}

// names are the right hand's notes without their octaves: those that rest on the
// chord and the next, those that rest on this one, and neighbours with where they
// go.
func (s *Step) names() (both, here, passing []string) {
	var seen [voicing.Neighbour + 1]pitch.Set
	for _, n := range s.Safe {
		class := pitch.ClassOf(int(n.Note))
		if seen[n.Use].Has(class) {
			continue
		}
		seen[n.Use] = seen[n.Use].Add(class)
		name := s.Chord.Spell(class, s.Key).String()
		switch n.Use {
		case voicing.HeldOver:
			both = append(both, name)
		case voicing.Tone:
			here = append(here, name)
		default:
			passing = append(passing, name+"→"+s.Chord.Spell(pitch.ClassOf(int(n.To)), s.Key).String())
		}
	}
	return both, here, passing
}

// note names a note number for the step's chord.
func (s *Step) note(n int) string { return s.Chord.Spell(pitch.ClassOf(n), s.Key).Note(n) }

// figure names a song's protected notes, or is empty.
func figure(s *gathering.Song) (names []string) {
	for _, n := range s.Figure {
		names = append(names, pitch.NoteName(n, s.Key))
	}
	return names
}

func symbols(chords []harmony.Chord) (names []string) {
	for _, c := range chords {
		names = append(names, c.Symbol())
	}
	return names
}
