package review

import (
	"fmt"
	"math"
	"slices"
	"time"

	"bedd/internal/bed"
	"bedd/internal/dynamics"
	"bedd/internal/gathering"
	"bedd/internal/glance"
	"bedd/internal/journal"
)

// ends words why a session ended.
var ends = map[string]string{"asked": "ended by its player", "signal": "ended by a signal", "terminal": "ended as its terminal was closed", "performed": "ended with its performance"}

// gatherer makes a session of a journal's records.
type gatherer struct {
	s       Session
	header  *journal.Header
	pedal   func(raw uint16) float64
	place   int // of the moment
	state   State
	sounds  bool
	fresh   bool     // no chord of this stretch has come yet
	bed     [128]int // by number: 1 + the place of the note that sounds
	played  [16][128]int
	wires   map[int]int // by port: the place in the session's
	floods  map[int]uint64
	now     time.Duration // of the last call
	before  time.Duration // of the one before it
	live    bool          // it is being played
	closed  bool
	recent  recent
	missing journal.Lost
	tasks   []string // of a practice, what they are
}

func newGatherer(name string, h *journal.Header) *gatherer {
	g := &gatherer{header: h, wires: map[int]int{}, floods: map[int]uint64{}, place: h.First, s: Session{
		Name: name, Title: Title(*h), Rig: h.Rig.Name, Version: h.Program, Start: h.Began,
	}}
	g.pedal = func(raw uint16) float64 { return float64(raw) / 16383 }
	if rig, err := gathering.ReadRig(h.Rig.Name, []byte(h.Rig.Text)); err == nil {
		g.s.Rig, g.pedal = rig.Name, rig.Bed.Pedal.Position
	}
	g.tasks = taskTitles(h)
	for i, m := range h.Moments {
		if m.For == "" && len(g.tasks) == len(h.Moments) { // each task has a moment
			m.For = g.tasks[i]
		}
		g.s.Moments = append(g.s.Moments, Moment{Title: m.For, Home: m.Home, Away: m.Away, NextKey: m.NextKey, NextChord: m.NextChord, Lasts: m.Lasts, Longest: m.Longest})
	}
	g.s.Visits = []Visit{{Moment: h.First}}
	if h.Resume != nil {
		g.s.From = h.Resume.Session
	}
	return g
}

// take takes the next record. It keeps nothing of it.
func (g *gatherer) take(r *journal.Record) {
	if r.Kind == journal.Called { // only their times never go back
		r.At = max(r.At, g.now)
		g.before, g.now = g.now, r.At
	}
	g.s.Length = max(g.s.Length, r.At)
	switch r.Kind {
	case journal.Called:
		g.called(r)
	case journal.Played:
		g.s.Sent.Piano += len(r.Message)
		g.thru(r.At, r.Message)
	case journal.Stands:
		g.stands(r)
	case journal.Cue:
		g.s.Cues = append(g.s.Cues, Text{r.At, r.Text})
	case journal.Notice:
		g.noticed(r)
	case journal.Task:
		g.tried(r)
	case journal.Moved:
		words := " is gone"
		if r.Up {
			words = " is back"
		}
		name := g.port(r.Port)
		g.notice(r.At, portKind, name+words, !r.Up)
		g.recent = recent{portKind, r.At, name}
	case journal.Flood:
		g.floods[r.Port] = r.Count
		g.recent = recent{floodKind, r.At, g.port(r.Port)}
	case journal.Under:
		g.s.Under = max(g.s.Under, r.Count)
		g.notice(r.At, underKind, fmt.Sprintf("the sound stuttered: %d blocks late so far", r.Count), true)
		g.recent = recent{underKind, r.At, ""}
	case journal.Late:
		if r.Delays != nil {
			g.s.Delays = []Delay{delay("due by the clock", r.Delays.Due), delay("from the player", r.Delays.Arrived)}
		}
	case journal.Busy:
		g.wire(r)
	case journal.Gap:
		g.gap(r)
	case journal.Closed:
		g.closed, g.s.Refused = true, r.Count
		g.s.Ended = ends[r.Text]
	}
}

// called takes what the bed has handled.
func (g *gatherer) called(r *journal.Record) {
	at, e := r.At, r.Event
	switch e.Kind {
	case bed.Asked:
		g.s.Feet = append(g.s.Feet, Press{at, e.Command})
	case bed.PedalMoved:
		if n, p := len(g.s.Pedal), g.pedal(e.Raw); n == 0 || g.s.Pedal[n-1].Position != p {
			g.s.Pedal = append(g.s.Pedal, Reading{at, p})
		}
	}
	if s := r.Seen; s != nil {
		g.state = State{at, s.Intensity, sourceNamed(s.Source), uint8(s.Voices), s.Phase != bed.Silent.String()}
	}
	if g.state.Sounds && !g.sounds {
		g.fresh = true
		g.s.Beds = append(g.s.Beds, Stretch{From: at, Moment: g.place})
	}
	for i := range r.Actions {
		g.acted(r, &r.Actions[i])
	}
	if !g.state.Sounds && g.sounds {
		g.silent(at)
	}
	g.sounds = g.state.Sounds
	if r.Seen != nil {
		g.s.States = append(g.s.States, g.state)
	}
}

// acted takes one of the bed's actions.
func (g *gatherer) acted(r *journal.Record, a *bed.Action) {
	a.At = min(max(a.At, g.before), r.At)
	switch a.Kind {
	case bed.StrikeNote:
		g.s.Sent.Bed += shortBytes
		if a.Layer == bed.Warm {
			g.s.Struck = strike(g.s.Struck, &g.bed[a.Note&127], Note{From: a.At, Number: a.Note, Velocity: a.Velocity})
		}
	case bed.ReleaseNote:
		g.s.Sent.Bed += shortBytes
		if a.Layer == bed.Warm {
			release(g.s.Struck, &g.bed[a.Note&127], a.At)
		}
	case bed.SetLevel, bed.SetBrightness:
		g.s.Sent.Bed += shortBytes
	case bed.EnterChord:
		g.chord(a.At, r.Chord)
	case bed.Did:
		g.s.Orders = append(g.s.Orders, Order{a.At, a.Command, glance.Words(*a)})
	case bed.Tell:
		g.notice(a.At, toldKind, a.Notice.String(), false)
	case bed.ChangeMoment:
		g.place = int(a.Value)
		if last := &g.s.Visits[len(g.s.Visits)-1]; last.From == a.At {
			last.Moment = g.place
		} else {
			last.To = a.At
			g.s.Visits = append(g.s.Visits, Visit{From: a.At, Moment: g.place})
		}
	case bed.SilenceAll:
		for n := range g.bed {
			release(g.s.Struck, &g.bed[n], a.At)
		}
	}
}

// shortBytes is how long the bed's messages are.
const shortBytes = 3

// chord takes a chord that the bed has entered.
func (g *gatherer) chord(at time.Duration, c *journal.Chord) {
	if c == nil {
		return
	}
	g.place = c.Moment
	if !g.state.Sounds { // how it came in is missing
		g.state.Sounds, g.sounds, g.fresh = true, true, true
		g.s.Beds = append(g.s.Beds, Stretch{Moment: g.place})
	}
	first := g.fresh
	if g.fresh = false; first {
		g.s.Beds[len(g.s.Beds)-1].From = at
	} else {
		g.s.Chords[len(g.s.Chords)-1].To = at
	}
	g.s.Chords = append(g.s.Chords, Chord{
		From: at, To: at, Symbol: c.Symbol, Degree: c.Degree, Key: c.Key, Place: placeNamed(c.Place), Moment: g.place, First: first,
		Bass: c.Bass, Upper: slices.Clone(c.Upper), Held: slices.Clone(c.Held), New: slices.Clone(c.Struck), Ended: slices.Clone(c.Released),
		Intensity: g.state.Intensity, Source: g.state.Source, Voices: len(c.Upper),
	})
}

// stands takes where the bed is. Where that is another place than its chord came from,
// the chord goes on there.
func (g *gatherer) stands(r *journal.Record) {
	if !g.sounds || g.fresh || r.State == nil {
		return
	}
	last := &g.s.Chords[len(g.s.Chords)-1]
	if r.State.Place == last.Place {
		return
	}
	at := max(r.At, g.now)
	same := *last
	last.To = at
	same.From, same.To, same.Place, same.First, same.Same = at, at, r.State.Place, false, true
	same.Held, same.New, same.Ended = slices.Concat(last.Held, last.New), nil, nil
	g.s.Chords = append(g.s.Chords, same)
}

// silent ends the stretch that sounds.
func (g *gatherer) silent(at time.Duration) {
	g.s.Beds[len(g.s.Beds)-1].To = at
	if !g.fresh {
		g.s.Chords[len(g.s.Chords)-1].To = at
	}
}

// thru takes a message of the player's.
func (g *gatherer) thru(at time.Duration, msg []byte) {
	if len(msg) != 3 || msg[0] >= 0xF0 || msg[1] > 127 {
		return
	}
	key := &g.played[msg[0]&0x0F][msg[1]]
	switch status := msg[0] & 0xF0; {
	case status == 0x90 && msg[2] > 0:
		g.s.Played = strike(g.s.Played, key, Note{From: at, Number: msg[1], Velocity: msg[2]})
	case status == 0x80 || status == 0x90:
		release(g.s.Played, key, at)
	}
}

// strike begins a note; one that sounds on its key ends.
func strike(list []Note, key *int, n Note) []Note {
	release(list, key, n.From)
	n.To = math.MaxInt64 // until it is let go
	*key = len(list) + 1
	return append(list, n)
}

func release(list []Note, key *int, at time.Duration) {
	if *key > 0 {
		list[*key-1].To = max(at, list[*key-1].From)
		*key = 0
	}
}

// end gives the session, when there are no more records.
func (g *gatherer) end() *Session {
	s := &g.s
	s.Visits[len(s.Visits)-1].To = s.Length
	if g.sounds {
		g.silent(s.Length)
	}
	for _, list := range [][]Note{s.Struck, s.Played} {
		for i := range list {
			list[i].To = min(list[i].To, s.Length)
		}
	}
	for _, n := range g.floods {
		s.Floods += n
	}
	switch {
	case g.closed && s.Ended == "":
		s.Ended = "ended as it should"
	case g.closed:
	case g.live:
		s.Notes = append(s.Notes, "it is being played: this is what happened so far")
	default:
		s.Notes = append(s.Notes, "the journal breaks off without an end: bedd was killed, or the power went")
	}
	if l := g.missing; l.Calls+l.Thru+l.Other > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("records are missing (%d calls, %d messages, %d others): the disk was too slow or full, so figures are too low", l.Calls, l.Thru, l.Other))
	} else if l.Damaged > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("%d damaged lines were passed over", l.Damaged))
	}
	return s
}

func placeNamed(name string) bed.Place {
	for _, p := range placeNames {
		if p.String() == name {
			return p
		}
	}
	return bed.Hand
}

func sourceNamed(name string) dynamics.Source {
	for s := dynamics.FromPlan; s <= dynamics.FromCeiling; s++ {
		if s.String() == name {
			return s
		}
	}
	return dynamics.FromPlan
}
