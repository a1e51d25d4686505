package practice

import (
	"slices"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
)

// Take is what was played of a task. Times count from its begin.
type Take struct {
	Lasted time.Duration // less than the task's where it was cut short
	Notes  []Note        // the player's, as they began
	Chords []Entry       // the bed's
	Heard  []Reading     // how the bed was, where that changed
}

// Note is a note of the player's.
type Note struct {
	Number, Velocity uint8
	On, Off          time.Duration // what the damper held on counts; On is negative for one from before the begin
}

// Entry is a chord that the bed has entered.
type Entry struct {
	At    time.Duration
	Chord harmony.Chord
	Place bed.Place
}

// Reading is how the bed was from a time on.
type Reading struct {
	At        time.Duration
	Sounds    bool
	Intensity float64 // 0…1
}

// Most that a take keeps: a broken keyboard may send thousands a second.
const mostKept = 50_000

// Recorder hears all that a bed hears and does, live or from a journal, and makes
// takes of it. The zero value is ready.
type Recorder struct {
	began   time.Duration
	now     time.Duration
	notes   []Note // those that sound have no end yet
	open    [128]int
	down    [128]bool
	damper  bool
	chords  []Entry
	entered []harmony.Chord
	heard   []Reading
}

// sounding is the end of a note that has none yet.
const sounding = time.Duration(1<<63 - 1)

// Begin begins a take: what sounds goes on.
func (r *Recorder) Begin(at time.Duration) {
	r.began, r.now = at, at
	r.notes = slices.DeleteFunc(r.notes, func(n Note) bool { return n.Off != sounding })
	for i, n := range r.notes {
		r.open[n.Number] = i + 1
	}
	r.chords = r.chords[max(len(r.chords)-1, 0):]
	r.heard = r.heard[max(len(r.heard)-1, 0):]
}

// Mark takes what the bed has done, before the call of Hear for the same event.
func (r *Recorder) Mark(a bed.Action) {
	if a.Kind == bed.EnterChord {
		r.entered = append(r.entered, a.Chord)
	}
}

// Hear takes an event that the bed has handled, and how the bed was afterwards.
func (r *Recorder) Hear(at time.Duration, e bed.Event, place bed.Place, sounds bool, intensity float64) {
	at = max(at, r.now)
	r.now = at
	switch e.Kind {
	case bed.NoteStruck:
		r.end(e.Note, at)
		r.down[e.Note&127] = true
		if len(r.notes) < mostKept {
			r.notes = append(r.notes, Note{e.Note & 127, e.Velocity, at, sounding})
			r.open[e.Note&127] = len(r.notes)
		}
	case bed.NoteLeft:
		r.down[e.Note&127] = false
		if !r.damper {
			r.end(e.Note, at)
		}
	case bed.DamperMoved:
		r.damper = e.On
		for n := range r.down {
			if !r.damper && !r.down[n] {
				r.end(uint8(n), at)
			}
		}
	}
	for _, c := range r.entered {
		if len(r.chords) < mostKept {
			r.chords = append(r.chords, Entry{at, c, place})
		}
	}
	r.entered = r.entered[:0]
	now := Reading{at, sounds, intensity}
	if n := len(r.heard); n == 0 || r.heard[n-1].Sounds != sounds || r.heard[n-1].Intensity != intensity {
		if n < mostKept {
			r.heard = append(r.heard, now)
		}
	}
}

// end ends a note that sounds.
func (r *Recorder) end(note uint8, at time.Duration) {
	note &= 127
	if i := r.open[note]; i > 0 {
		r.notes[i-1].Off = at
		r.open[note] = 0
	}
}

// Take gives what was played since the begin.
func (r *Recorder) Take(at time.Duration) Take {
	t := Take{Lasted: at - r.began, Notes: slices.Clone(r.notes), Chords: slices.Clone(r.chords), Heard: slices.Clone(r.heard)}
	for i := range t.Notes {
		t.Notes[i].On -= r.began
		t.Notes[i].Off = min(t.Notes[i].Off, at) - r.began
	}
	for i := range t.Chords {
		t.Chords[i].At -= r.began
	}
	for i := range t.Heard {
		t.Heard[i].At -= r.began
	}
	return t
}
