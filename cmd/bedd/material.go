package main

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/glance"
	"bedd/internal/harmony"
	"bedd/internal/journal"
	"bedd/internal/pitch"
	"bedd/internal/session"

	"github.com/spf13/cobra"
)

// material is what play and render work with: the flags that name it, and what
// they name.
type material struct {
	rigName   string
	key       string
	home      string
	away      string
	first     string
	stillness float64

	rig       gathering.Rig
	rigText   journal.Text
	gathering *gathering.Gathering // nil without a plan
	moments   []bed.Moment
	onStage   bool     // what is wrong with a plan stops nothing
	left      []string // what was left out of it
}

func (m *material) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&m.rigName, "rig", "default", "a rig file, or one of "+strings.Join(gathering.RigNames(), ", "))
	f.StringVar(&m.key, "key", "C", "without a plan: the key, such as Eb or F#m")
	f.StringVar(&m.home, "home", "1 4", "without a plan: the progression that rests, as degrees or chords")
	f.StringVar(&m.away, "away", "6m 2m", "without a plan: the progression that leads back, or \"\" for none; in a minor key 6 7")
	f.StringVar(&m.first, "moment", "", "with a plan: start at this moment, by number or by what it is for")
	f.Float64Var(&m.stillness, "stillness", 0, "how strongly the upper notes stay, 0 free to 1 only the bass moves (default the rig's)")
}

// load reads everything the flags and arguments name.
func (m *material) load(cmd *cobra.Command, args []string) error {
	if err := m.openRig(); err != nil {
		return err
	}
	if cmd.Flags().Changed("stillness") {
		if !(m.stillness >= 0 && m.stillness <= 1) {
			return badInput{fmt.Errorf("--stillness %v is out of range 0…1", m.stillness)}
		}
		m.rig.Bed.Voicing.Stillness = m.stillness
	}
	if len(args) == 0 {
		return m.plain(cmd)
	}
	for _, f := range []string{"key", "home", "away"} {
		if cmd.Flags().Changed(f) {
			return badInput{fmt.Errorf("--%s goes without a plan: the plan says it for every moment", f)}
		}
	}
	library, err := gathering.OpenLibrary("")
	if err != nil {
		return badInput{err}
	}
	if m.onStage {
		return m.salvage(cmd, args[0], library)
	}
	g, err := gathering.OpenGathering(args[0], library)
	if err != nil {
		return badInput{err}
	}
	m.gathering, m.moments = &g, g.BedMoments()
	if m.rig.Bed.Songs, err = bedSongs(m.rig, &g, library); err != nil {
		return badInput{err}
	}
	m.rig.Bed.First, err = m.firstMoment()
	return err
}

func bedSongs(rig gathering.Rig, g *gathering.Gathering, library gathering.Library) ([]bed.Song, error) {
	a, err := gathering.NewAdviser(rig, library)
	if err != nil {
		return nil, err
	}
	return a.BedSongs(g), nil
}

func (m *material) openRig() error {
	name, text, err := gathering.RigFile(m.rigName)
	if err != nil {
		return badInput{err}
	}
	m.rigText = journal.Text{Name: name, Text: string(text)}
	if m.rig, err = gathering.ReadRig(name, text); err != nil {
		return badInput{err}
	}
	return nil
}

// fromJournal takes everything from a journal that was read, but for the rig where
// the flags name one.
func (m *material) fromJournal(cmd *cobra.Command, h journal.Header) error {
	for _, f := range []string{"key", "home", "away", "moment", "stillness"} {
		if cmd.Flags().Changed(f) {
			return badInput{fmt.Errorf("--%s goes without a journal: the journal says it", f)}
		}
	}
	rig, moments, err := session.Recorded(h)
	if err != nil {
		return badInput{err}
	}
	m.rig, m.rigText, m.moments, m.gathering = rig, h.Rig, moments, session.RecordedPlan(h)
	if cmd.Flags().Changed("rig") {
		if err := m.openRig(); err != nil {
			return err
		}
		m.rig.Bed.First, m.rig.Bed.Songs = h.First, rig.Bed.Songs
	}
	return nil
}

// header is what a journal of this begins with.
func (m *material) header(began time.Time) journal.Header {
	h := journal.Header{
		Program: version(), Began: began, Rig: m.rigText, Stillness: &m.rig.Bed.Voicing.Stillness, Setup: m.rig.Setup,
		Moments: session.JournalMoments(m.moments, m.gathering), Songs: session.JournalSongs(m.rig.Bed.Songs, m.gathering), First: m.rig.Bed.First,
	}
	if m.gathering != nil {
		h.Title = m.gathering.Title
	}
	return h
}

func (m *material) plain(cmd *cobra.Command) error {
	if m.first != "" {
		return badInput{fmt.Errorf("--moment %q needs a plan to look in: name one", m.first)}
	}
	key, err := pitch.ParseKey(m.key)
	if err != nil {
		return badInput{fmt.Errorf("--key: %w", err)}
	}
	away := m.away
	if key.Minor && !cmd.Flags().Changed("home") && !cmd.Flags().Changed("away") {
		m.home, away = "1 4", "6 7"
	}
	one, err := gathering.Plain(key, m.home, away, harmony.FromTonic)
	if err != nil {
		return badInput{err}
	}
	m.moments = []bed.Moment{one}
	return nil
}

func (m *material) firstMoment() (int, error) {
	if m.first == "" {
		return 0, nil
	}
	return findMoment(m.gathering, m.first)
}

// findMoment is the index of the moment that --moment names, by its number from 1
// or by what it is for.
func findMoment(g *gathering.Gathering, wanted string) (int, error) {
	if n, err := strconv.Atoi(wanted); err == nil {
		if n < 1 || n > len(g.Moments) {
			return 0, badInput{fmt.Errorf("--moment %d is out of range 1…%d", n, len(g.Moments))}
		}
		return n - 1, nil
	}
	var all, fitting []string
	first := 0
	for i, moment := range g.Moments {
		all = append(all, strconv.Quote(moment.For))
		if strings.Contains(strings.ToLower(moment.For), strings.ToLower(wanted)) {
			if len(fitting) == 0 {
				first = i
			}
			fitting = append(fitting, all[i])
		}
	}
	switch len(fitting) {
	case 1:
		return first, nil
	case 0:
		return 0, badInput{fmt.Errorf("no moment is for %q: the plan has %s", wanted, strings.Join(all, ", "))}
	}
	return 0, badInput{fmt.Errorf("%d moments are for %q: %s; name one more fully, or by its number", len(fitting), wanted, strings.Join(fitting, ", "))}
}

// title names a moment for the player.
func (m *material) title(i int) string {
	b := m.moments[i]
	s := "in " + b.Key.String()
	if m.gathering != nil {
		s = m.gathering.Moments[i].For + ", " + s
		if song, ok := m.gathering.Next(i); ok {
			s += ", then " + song.Title
			if !song.NoKey {
				s += " in " + song.Key.String()
			}
		}
	}
	return s
}

// moment is what a moment is for, and how long the plan expects it to last, 0
// where it doesn't say.
func (m *material) moment(i int) (title string, lasts, longest time.Duration) {
	if m.gathering == nil {
		return "the bed", 0, 0
	}
	g := m.gathering.Moments[i]
	return g.For, g.Lasts, g.Longest
}

// songs are the plan's, as they are shown.
func (m *material) songs() (list []glance.Song) {
	if m.gathering == nil {
		return nil
	}
	for _, s := range m.gathering.Songs {
		one := glance.Song{Title: s.Title}
		if !s.NoKey {
			one.Key = s.Key.String()
		}
		list = append(list, one)
	}
	return list
}
