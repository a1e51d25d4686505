package session

import (
	"bytes"
	"sort"
	"time"

	"bedd/internal/bed"
	"bedd/internal/midiio"
	"bedd/internal/pitch"
)

// MaxTake bounds what a take keeps: about ten hours of a busy player.
const MaxTake = 1_000_000

// Sent is one message that went out.
type Sent struct {
	At   time.Duration
	From Origin
	Data []byte
}

// Entered is one chord of a take: what the bed was like when it came.
type Entered struct {
	At   time.Duration
	View bed.View
}

// Take is the record of one run: what went out, and what was marked. Beyond
// MaxTake messages the rest is counted, not kept. It is a Recorder. Send allocates
// only when it has outgrown what [NewTake] reserved.
type Take struct {
	Sent    []Sent
	Marks   []bed.Action
	Entered []Entered
	Dropped int

	session *Session
	arena   []byte
}

// NewTake makes a take with room for the messages of a long evening's bed and a
// busy player, so that no input ever waits for memory.
func NewTake() *Take {
	const messages = 1 << 16
	return &Take{Sent: make([]Sent, 0, messages), arena: make([]byte, 0, 3*messages)}
}

// Watch makes the take note what the session's bed is like at each chord.
func (t *Take) Watch(s *Session) { t.session = s }

// Send keeps a copy of a message.
func (t *Take) Send(at time.Duration, from Origin, msg []byte) {
	if len(t.Sent) >= MaxTake {
		t.Dropped++
		return
	}
	if len(t.arena)+len(msg) > cap(t.arena) {
		t.arena = make([]byte, 0, max(1<<14, len(msg)))
	}
	start := len(t.arena)
	t.arena = append(t.arena, msg...)
	t.Sent = append(t.Sent, Sent{at, from, t.arena[start:len(t.arena):len(t.arena)]})
}

// Mark keeps an action.
func (t *Take) Mark(a bed.Action) {
	if len(t.Marks) >= MaxTake {
		return
	}
	t.Marks = append(t.Marks, a)
	if a.Kind == bed.EnterChord && t.session != nil {
		t.Entered = append(t.Entered, Entered{a.At, t.session.View()})
	}
}

// Clock is how a take's times become ticks, and the meta events that say so.
type Clock struct {
	Division int
	Tempo    midiio.TempoMap
	Metas    []midiio.Event // tempo, time and key signatures of the performance
}

// ClockOf gives the clock of a performance, or for nil 480 ticks a quarter note
// at 120 a minute.
func ClockOf(f *midiio.File) Clock {
	if f == nil {
		f = &midiio.File{Format: 1, Division: 480}
	}
	c := Clock{Division: f.Division, Tempo: f.Tempo()}
	const tempo, timeSignature, keySignature = 0x51, 0x58, 0x59
	for _, e := range f.Events {
		if kind, _, ok := e.Meta(); ok && (kind == tempo || kind == timeSignature || kind == keySignature) {
			c.Metas = append(c.Metas, e)
		}
	}
	return c
}

// File makes a standard MIDI file of the take: format 1, with the tracks
// conductor, setup, thru, bed warm and bed air. It ends with the last message.
// Key is the plan's, for a key signature where the performance has none.
func (t *Take) File(c Clock, key pitch.Key) midiio.OutFile {
	conductor := midiio.OutTrack{Name: "conductor", Events: c.Metas}
	if !hasKeySignature(c.Metas) {
		if n := key.Signature(); n >= -7 && n <= 7 {
			conductor.Events = append([]midiio.Event{{Data: midiio.KeyMeta(n, key.Minor)}}, conductor.Events...)
		}
	}
	for _, a := range t.Marks {
		if text, ok := Marker(a); ok {
			conductor.Events = append(conductor.Events, midiio.Event{Tick: c.Tempo.Tick(a.At), Data: midiio.TextMeta(midiio.Marker, text)})
		}
	}
	f := midiio.OutFile{Division: c.Division, Tracks: make([]midiio.OutTrack, 1+NumOrigins)}
	f.Tracks[0] = conductor
	for o := range NumOrigins {
		f.Tracks[1+o].Name = o.String()
	}
	end := int64(0)
	for _, s := range t.Sent {
		track := &f.Tracks[1+s.From]
		tick := c.Tempo.Tick(s.At)
		track.Events = append(track.Events, midiio.Event{Tick: tick, Data: s.Data})
		end = max(end, tick)
	}
	for i := range f.Tracks {
		events := f.Tracks[i].Events
		// Several inputs stamp their messages before they stand in line for the wire.
		sort.SliceStable(events, func(a, b int) bool { return events[a].Tick < events[b].Tick })
		for _, e := range events {
			end = max(end, e.Tick)
		}
	}
	for i := range f.Tracks {
		f.Tracks[i].End = end
	}
	return f
}

func hasKeySignature(metas []midiio.Event) bool {
	for _, e := range metas {
		if bytes.HasPrefix(e.Data, []byte{0xFF, 0x59}) {
			return true
		}
	}
	return false
}
