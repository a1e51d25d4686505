// Package review tells what happened in a session: its figures, as lines, as a page, as files.
package review

import (
	"time"

	"bedd/internal/bed"
	"bedd/internal/dynamics"
)

// Session is what one journal tells, in order of time. Times are since the start.
type Session struct {
	Name    string    // the journal's file, without its folder
	Title   string    // the plan's, practice, or empty
	Rig     string    // its name
	Version string    // of the bedd that played
	Start   time.Time // zero where the journal keeps no wall clock
	Length  time.Duration
	From    string   // the session that it goes on from, or empty
	Ended   string   // why, in words; empty where the journal breaks off
	Notes   []string // what is to be known of the journal itself, such as where it is torn

	Moments []Moment // the plan's
	Visits  []Visit  // of moments
	Beds    []Stretch
	Chords  []Chord
	States  []State
	Orders  []Order
	Feet    []Press
	Pedal   []Reading
	Struck  []Note // the bed's, warm layer: it has all of them
	Played  []Note // the player's
	Cues    []Text
	Notices []Notice
	Floods  uint64 // values left out
	Under   uint64 // blocks of sound that came too late
	Refused uint64 // the player's messages on the bed's channels
	Delays  []Delay
	Wires   []Wire
	Sent    Bytes
}

// Moment is what the plan says of one of its items that need a bed.
type Moment struct {
	Title     string   // of a practice, its task's
	Home      []string // chord symbols
	Away      []string
	NextKey   string
	NextChord string        // the next song's first, or empty
	Lasts     time.Duration // both 0 where the plan does not say
	Longest   time.Duration
}

// Visit is a moment's time in the session: it ends with the next one, or with the
// session.
type Visit struct {
	From, To time.Duration
	Moment   int // of [Session.Moments]
}

// Stretch is one time from bring-in to silence.
type Stretch struct {
	From, To time.Duration
	Moment   int
}

// Chord is a chord of the bed, as long as it sounds.
type Chord struct {
	From, To  time.Duration
	Symbol    string
	Degree    string
	Key       string
	Place     bed.Place
	Moment    int
	First     bool // of its stretch
	Same      bool // it went on from another place, and nothing was heard
	Bass      int  // MIDI number, -1 without
	Upper     []uint8
	Held      []uint8 // since the chord before
	New       []uint8
	Ended     []uint8
	Intensity float64
	Source    dynamics.Source
	Voices    int
}

// State is what the bed was like from a time on.
type State struct {
	At        time.Duration
	Intensity float64
	Source    dynamics.Source
	Voices    uint8
	Sounds    bool
}

// Order is a command that was carried out.
type Order struct {
	At      time.Duration
	Command bed.Command
	Words   string
}

// Press is what a foot, a key of the computer's or a page asked for.
type Press struct {
	At      time.Duration
	Command bed.Command
}

// Reading is where the pedal was from a time on, 0…1.
type Reading struct {
	At       time.Duration
	Position float64
}

// Note is a note from its strike to its end.
type Note struct {
	From, To time.Duration
	Number   uint8
	Velocity uint8
}

// Text is something said at a time.
type Text struct {
	At    time.Duration
	Words string
}

// Notice is something that the player was told, or should know.
type Notice struct {
	At    time.Duration
	Kind  string // told, notice, practised, port, flood, underrun or gap
	Words string
	Bad   bool // something did not work
}

// Delay is how late the core was with some kind of work, in percentiles.
type Delay struct {
	What               string
	Count              int64
	P50, P90, P99, Max time.Duration
}

// Wire is how busy an output was.
type Wire struct {
	Name string
	Baud int // 0 without a rate
	Sent uint64
	Most int // bytes that waited
	At   time.Duration
	Wait time.Duration // of the player's, at most
}

// Bytes counts what went out by whose it was.
type Bytes struct{ SetUp, Piano, Bed int }

// MomentTitle gives what a moment is for, and "moment 3" where nothing says.
func (s *Session) MomentTitle(i int) string {
	if i >= 0 && i < len(s.Moments) && s.Moments[i].Title != "" {
		return s.Moments[i].Title
	}
	return "moment " + itoa(i+1)
}
