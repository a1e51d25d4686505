// Package gathering reads, checks and suggests: the plan and the rig files.
package gathering

import (
	"fmt"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Gathering is the plan of one event.
type Gathering struct {
	Title   string
	Songs   []Song   // in order
	Moments []Moment // in order, at least one, but for what was salvaged of a broken plan
	Comfort Comfort
	Numbers harmony.Numbers // what its degrees count from in minor keys
}

// Song is a song of the plan.
type Song struct {
	Title    string
	Key      pitch.Key
	Tempo    float64       // beats a minute, or 0 where the plan does not say
	First    harmony.Chord // the chord it starts on
	Starts   string        // how it starts, in words, or empty
	Sections []Section     // as the plan lists them
	Figure   []int         // the figure to keep out of the bed: MIDI note numbers in order, or none
	Line     int           // of the plan's file
	NoKey    bool          // the key is not known, in what was salvaged of a broken plan alone
}

// Section is a part of a song, such as its verse.
type Section struct {
	Name   string
	Chords []harmony.Chord
	Line   int // of the plan's file
}

// Moment is an item of the plan that needs a bed.
type Moment struct {
	For       string // what the bed is for
	Mood      string // in the player's words, or empty
	Cue       string // the words or the sign to come in on, or empty
	CueBy     string // who gives the cue, or empty
	Lasts     time.Duration
	Longest   time.Duration // both 0 where the plan does not say
	Ending    harmony.Ending
	OwnEnding bool   // the plan says Ending, for this moment or for all
	Pair      string // the library's name for home and away, or empty
	Home      string // as the plan or the library writes them
	Away      string
	After     int        // index of the song before it, -1 before the first
	Then      int        // index of the song that follows, -1 where none does
	Line      int        // of the plan's file
	Bed       bed.Moment // what the bed needs of it
}

// Next is the song that follows moment i, if one does.
func (g *Gathering) Next(i int) (Song, bool) {
	if then := g.Moments[i].Then; then >= 0 {
		return g.Songs[then], true
	}
	return Song{}, false
}

// BedMoments is what the bed needs of every moment, in order.
func (g *Gathering) BedMoments() []bed.Moment {
	moments := make([]bed.Moment, len(g.Moments))
	for i, m := range g.Moments {
		moments[i] = m.Bed
		moments[i].NextSong = m.Then + 1
		moments[i].Ending, moments[i].OwnEnding = m.Ending, m.OwnEnding
	}
	return moments
}

// DefaultIntensity is what a moment asks for where the plan does not say: under
// a speaker, by ear.
const DefaultIntensity = 0.3

// Plain is a moment without a plan: a home progression, and an away one that
// may be empty, in a key, with no song to follow.
func Plain(key pitch.Key, home, away string, numbers harmony.Numbers) (bed.Moment, error) {
	m := bed.Moment{Key: key, Intensity: DefaultIntensity}
	var err error
	if m.Home, err = harmony.ParseProgression(home, key, numbers); err != nil {
		return bed.Moment{}, fmt.Errorf("home: %w", err)
	}
	if away == "" {
		return m, nil
	}
	if m.Away, err = harmony.ParseProgression(away, key, numbers); err != nil {
		return bed.Moment{}, fmt.Errorf("away: %w", err)
	}
	return m, nil
}
