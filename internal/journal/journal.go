// Package journal appends what a session does to a file, and reads it back, whole or torn.
package journal

import (
	"encoding/json"
	"time"

	"bedd/internal/bed"
)

// Version is the version of the format that is written, as docs/journal.md has it.
// Within a version only kinds and fields are added, which a reader passes over.
const Version = 1

// Header is the first record of a journal: what a replay needs besides the calls.
type Header struct {
	Version int       `json:"version"`
	Program string    `json:"program"` // the version of bedd
	Began   time.Time `json:"began"`   // the wall clock when the session's time was 0, with its zone

	Rig       Text     `json:"rig"`
	Stillness *float64 `json:"stillness,omitempty"` // 0…1, where it is not the rig's
	Setup     bool     `json:"setup"`               // programs and volumes are sent at the start

	Title   string   `json:"title,omitempty"` // the plan's
	Moments []Moment `json:"moments"`         // at least one
	Songs   []Song   `json:"songs,omitempty"` // the plan's, in order
	First   int      `json:"first"`           // the moment it begins with, from 0

	// Tasks are what is practised, as package practice writes them, one for each moment;
	// none where it is no practice.
	Tasks []json.RawMessage `json:"tasks,omitempty"`

	Ports  []Port  `json:"ports,omitempty"`
	Resume *Resume `json:"resume,omitempty"` // what it goes on from

	// Options are those of the command line that name devices and the like, by name:
	// who goes on from here has the same.
	Options map[string][]string `json:"options,omitempty"`
}

// Text is a file as it was read.
type Text struct {
	Name string `json:"name"`
	Text string `json:"text"`
}

// Moment is an item of the plan that needs a bed. Chords are symbols, keys are
// named as in "Eb" and "F#m", so that nothing else is needed to read them.
type Moment struct {
	For     string        `json:"for,omitempty"`  // the plan's words
	Cue     string        `json:"cue,omitempty"`  // the plan's words
	Song    string        `json:"song,omitempty"` // the one that follows: the plan's words
	Lasts   time.Duration `json:"lasts,omitempty"`
	Longest time.Duration `json:"longest,omitempty"`

	Key       string   `json:"key"`
	Home      []string `json:"home"`
	Away      []string `json:"away,omitempty"`
	Intensity float64  `json:"intensity"` // 0…1
	NextKey   string   `json:"next_key,omitempty"`
	NextChord string   `json:"next_chord,omitempty"` // the next song's first; none where no song follows
	NextSong  int      `json:"next_song,omitempty"`  // its number among the songs, from 1
	Ending    string   `json:"ending,omitempty"`     // of the landing, where the plan says it
}

// Song is a song of the plan: where a landing leads, and the bed of a moment that
// nobody planned before it.
type Song struct {
	Title  string   `json:"title,omitempty"` // the plan's words
	Key    string   `json:"key"`
	First  string   `json:"first_chord,omitempty"` // none where it is not known
	Home   []string `json:"home"`
	Away   []string `json:"away,omitempty"`
	Figure []int    `json:"figure,omitempty"` // what the bed keeps off, as MIDI note numbers
	Then   int      `json:"then"`             // the moment after it, from 0, or -1
}

// Port is a MIDI port of the session's; records name it by its place in the list.
type Port struct {
	Way  string `json:"way"` // in or out
	Name string `json:"name"`
}

// Resume is what a session goes on from.
type Resume struct {
	Session string     `json:"session"` // the name of the journal it was read from
	State   *bed.State `json:"-"`
}

// Kind is what a record tells of.
type Kind string

// The kinds of record. Those up to Finished are what a replay is made of.
const (
	Called   Kind = "call"   // the bed has handled Event and answered Actions
	Played   Kind = "thru"   // the player's Message went to the ledger of what sounds
	Prepared Kind = "setup"  // the synth was prepared
	Reset    Kind = "reset"  // it was prepared and struck again, since the player had reset it
	Rose     Kind = "rise"   // its level rose by a step after that
	Finished Kind = "finish" // what still sounded was ended

	Stands Kind = "state"    // where the bed is, in State
	Cue    Kind = "cue"      // Text was said, as the recorded performance has it
	Notice Kind = "notice"   // Text was told to the player
	Moved  Kind = "port"     // a port was lost or came back
	Flood  Kind = "flood"    // Count values were left out so far, since a control of a port sends too many
	Under  Kind = "underrun" // Count blocks of sound came too late so far
	Late   Kind = "late"     // how late the core was so far, in Delays
	Busy   Kind = "wire"     // when a port was busiest so far, in Wire
	Task   Kind = "task"     // a task of a practice has begun or is over
	Gap    Kind = "gap"      // here records are missing: from here on a replay is not exact
	Closed Kind = "closed"   // the session ended as it should
)

// Record is one line of a journal after the first; only the fields its kind names
// matter. Times count from the start of the session.
type Record struct {
	Line int // of the file, from 1; 0 for a gap that stands for what cannot be read
	Kind Kind
	At   time.Duration

	// Called. After an action that enters a chord, Chord tells of it; Seen of the
	// bed as it then was, where that has changed.
	Event   bed.Event
	Actions []bed.Action
	Chord   *Chord
	Seen    *Seen

	// Played
	Message []byte
	After   uint64 // so many steps had been taken by the core in the ledger

	State *bed.State // Stands

	Text  string // Cue, Notice; Closed: why
	Port  int    // Moved, Flood, Busy: the place in Header.Ports
	Up    bool   // Moved
	Count uint64 // Flood, Under; Closed: messages of the player's that were refused

	Delays *Delays // Late
	Tried  Tried   // Task
	Wire   *Wire   // Busy
	Lost   *Lost   // Gap
}

// Tried is a task of a practice that has begun, or is over.
type Tried struct {
	Number int     // of Header.Tasks, from 0
	Over   bool    // it is over; what follows tells how it was
	Whole  bool    // it went on to its end
	Mark   float64 // 0…1
	Figure string  // the one number that matters, with what it counts
}

// Chord is a chord that was entered.
type Chord struct {
	Symbol   string
	Degree   string
	Key      string
	Place    string // home, away, hand or landing
	Moment   int    // from 0
	Missing  []string
	Bass     int // MIDI note number, −1 for none
	Upper    []uint8
	Held     []uint8 // of the warm layer, bass included
	Struck   []uint8
	Released []uint8
}

// Seen is what the bed was like after a call.
type Seen struct {
	Intensity float64 // 0…1, to a thousandth
	Source    string  // whose wish that is
	Voices    int     // upper notes
	Phase     string
}

// Delays are how late the core was, since the start of the session: the slowest
// hundredth took P99 or longer.
type Delays struct {
	Due     Percentiles `json:"due"`     // for what was due by the clock
	Arrived Percentiles `json:"arrived"` // for what arrived from the player
}

// Percentiles sum up many times, in nanoseconds.
type Percentiles struct {
	N   int64         `json:"n"`
	P50 time.Duration `json:"p50"`
	P90 time.Duration `json:"p90"`
	P99 time.Duration `json:"p99"`
	Max time.Duration `json:"max"`
}

// Wire is when an output was busiest, since the start of the session.
type Wire struct {
	Baud      int           `json:"baud"`
	Bytes     int           `json:"bytes"` // most that waited
	At        time.Duration `json:"at"`    // when
	Wait      time.Duration `json:"wait"`  // the longest that the player waited
	ForBed    time.Duration `json:"for_bed"`
	Overtaken uint64        `json:"overtaken"` // messages made void by later ones
	Sent      uint64        `json:"sent"`      // bytes in all
}

// Lost counts what is missing at a gap: records that the writer could not take, or
// lines that cannot be read.
type Lost struct {
	Calls   uint64 `json:"calls"`
	Thru    uint64 `json:"thru"`
	Other   uint64 `json:"other"`
	Damaged uint64 `json:"-"` // lines
}
