package glance

import (
	"fmt"
	"slices"
	"sync"
	"time"

	"bedd/internal/bed"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// Model is what every view shows at one moment: words and numbers, as a copy that
// shares nothing with the bed.
type Model struct {
	Title     string   `json:"title"`             // what the bed is for
	Key       string   `json:"key"`               // as it sounds
	Fingers   string   `json:"fingers,omitempty"` // the key that the hands are in, where another sounds
	Chord     string   `json:"chord"`
	Degree    string   `json:"degree"`
	Next      string   `json:"next"` // the chord that the next step leads to
	Step      string   `json:"step"` // what the next step does
	Phase     string   `json:"phase"`
	Sounds    bool     `json:"sounds"`
	Stay      bool     `json:"stay"`
	Follow    bool     `json:"follow"`
	Intensity float64  `json:"intensity"` // 0…1
	Source    string   `json:"source"`
	Voices    int      `json:"voices"`
	Notes     []Note   `json:"notes"` // from low to high, the safe ones among them
	Missing   []string `json:"missing,omitempty"`

	Landing []string `json:"landing,omitempty"` // what is left of the way into the song, or what it would be from here
	Lands   bool     `json:"lands,omitempty"`   // the bed is on that way
	Walks   bool     `json:"walks,omitempty"`   // the bed goes on by itself
	Choice  *Choice  `json:"choice,omitempty"`  // what is being chosen
	Songs   []Song   `json:"songs,omitempty"`   // of the plan, in order
	Prompt  string   `json:"prompt,omitempty"`  // what it is time for: quietly
	Task    string   `json:"task,omitempty"`    // of a practice: what counts now

	OnThis  float64 `json:"on_this"`           // seconds on this progression, landing or chord of the hand's; 0 while silent
	Elapsed float64 `json:"elapsed"`           // seconds since the bed came in; 0 while it is silent
	Lasts   float64 `json:"lasts,omitempty"`   // seconds that the plan expects, 0 where it says nothing
	Longest float64 `json:"longest,omitempty"` // seconds at most, as the plan says

	Links  []Link   `json:"links"`
	Foot   string   `json:"foot,omitempty"`    // what the player did last
	FootAt float64  `json:"foot_at,omitempty"` // seconds ago
	Hears  string   `json:"hears,omitempty"`   // what listening hears and makes of it
	News   []string `json:"news,omitempty"`    // what has been said of late, the latest last
	Page   string   `json:"-"`                 // how a device gets to the page, with the code: for the player's eyes alone
}

// Note is a key of the keyboard with what it is for.
type Note struct {
	Number uint8  `json:"number"` // MIDI note number
	Name   string `json:"name"`
	Mark   Mark   `json:"mark"`
}

// Mark is what a note is for.
type Mark uint8

// The marks.
const (
	Held  Mark = iota // the bed holds it since an earlier chord
	Moved             // the bed has struck it with this chord
	Safe              // the right hand may rest on it
)

var markWords = [...]string{"held", "moved", "safe"}

func (m Mark) String() string { return markWords[m] }

// MarshalText writes the mark in small letters.
func (m Mark) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (m *Mark) UnmarshalText(text []byte) error {
	i := slices.Index(markWords[:], string(text))
	if i < 0 {
		return fmt.Errorf("there is no mark %q", text)
	}
	*m = Mark(i)
	return nil
}

// Link is a port as the player should see it.
type Link struct {
	Name string `json:"name"`
	Way  string `json:"way"` // in or out
	Up   bool   `json:"up"`
}

// Watch gathers what a bed's view alone does not tell: since when it sounds, and
// what was done and said last. Its methods may be called from several goroutines.
type Watch struct {
	mu             sync.Mutex
	came           time.Duration // when the bed came in
	foot           string
	footAt         time.Duration
	news           []said
	title          string
	lasts, longest time.Duration
	songs          []Song
	reminded       string // the prompt that was said last
}

type said struct {
	at   time.Duration
	line string
}

// maxNews is how many lines of news are kept, and newsTime for how long.
const (
	maxNews  = 3
	newsTime = 12 * time.Second
)

// Moment says what the bed is for from now on, and how long the plan expects it
// to last: 0 where it doesn't say.
func (w *Watch) Moment(title string, lasts, longest time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.title, w.lasts, w.longest = Plain(title), lasts, longest
}

// Mark takes note of what the bed has done.
func (w *Watch) Mark(a bed.Action) {
	switch words := Words(a); {
	case a.Kind == bed.EnterChord:
		w.did(a.At, "to "+a.Chord.Symbol())
	case a.Kind == bed.Did && a.Command == bed.Take:
		w.did(a.At, w.taken(int(a.Song)))
	case a.Kind == bed.Did && words != "":
		w.did(a.At, words)
	case a.Kind == bed.Tell && words != "":
		w.Say(a.At, a.Notice.String())
	}
}

func (w *Watch) did(at time.Duration, words string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.foot, w.footAt = words, at
}

// Say takes a line of news.
func (w *Watch) Say(at time.Duration, line string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.news = append(w.news, said{at, Plain(line)})
	w.news = w.news[max(len(w.news)-maxNews, 0):]
}

// Model makes the model of a moment, and keeps links. Low and high bound the safe notes, by MIDI
// numbers; fingers is by how many semitones the hands' key is below the sounding
// one.
func (w *Watch) Model(at time.Duration, v bed.View, links []Link, low, high uint8, fingers int) Model {
	w.mu.Lock()
	defer w.mu.Unlock()
	if v.Phase == bed.Silent {
		w.came = at
	}
	m := Model{
		Title: w.title, Key: v.Key.String(),
		Chord: v.Chord.Symbol(), Degree: v.Chord.Degree(v.Key),
		Next: v.Next.Symbol(), Step: does(v),
		Phase: v.Phase.String(), Sounds: v.Phase != bed.Silent, Stay: v.Stay, Follow: v.Follow,
		Intensity: v.Intensity, Source: v.Source.String(), Voices: v.Density,
		Elapsed: (at - w.came).Seconds(), Lasts: w.lasts.Seconds(), Longest: w.longest.Seconds(),
		Links: links, Foot: w.foot, FootAt: (at - w.footAt).Seconds(),
	}
	w.plan(&m, at, v)
	if fingers%12 != 0 {
		m.Fingers = v.Key.Transpose(-fingers).String()
	}
	for i := range m.Links {
		m.Links[i].Name = Plain(m.Links[i].Name)
	}
	for c := range pitch.Class(12) {
		if v.Missing.Has(c) {
			m.Missing = append(m.Missing, v.Chord.Spell(c, v.Key).String())
		}
	}
	for _, n := range w.news {
		if at-n.at < newsTime {
			m.News = append(m.News, n.line)
		}
	}
	m.Notes = notes(v, low, high)
	return m
}

func does(v bed.View) string {
	switch v.NextDoes {
	case bed.NoCommand:
		return "holds"
	case bed.BringIn:
		return "bring in"
	}
	return v.NextDoes.String()
}

// notes marks the bed's notes and those that are safe over them.
func notes(v bed.View, low, high uint8) []Note {
	var room [256]voicing.SafeNote
	safe := voicing.SafeNotes(room[:0], v.Chord, &v.Voicing, v.Next, &v.Voicing, v.Key, low, high)
	var marks [128]Mark
	var marked [128]bool
	for _, n := range safe {
		if n.Use != voicing.Neighbour {
			marks[n.Note], marked[n.Note] = Safe, true
		}
	}
	keepFigure(v, &marked)
	sounding := v.Voicing.Notes()
	if v.Voicing.Bass != voicing.NoBass {
		sounding = append([]uint8{v.Voicing.Bass}, sounding...)
	}
	for _, n := range sounding {
		marks[n], marked[n] = Moved, true
		if v.Phase == bed.Silent || v.Change.Held.Has(n) {
			marks[n] = Held
		}
	}
	var list []Note
	for n := range 128 {
		if marked[n] {
			list = append(list, Note{uint8(n), v.Chord.Spell(pitch.ClassOf(n), v.Key).Note(n), marks[n]})
		}
	}
	return list
}
