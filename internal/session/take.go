package session

import (
	"bytes"
	"sort"
	"time"

	"bedd/internal/bed"
	"bedd/internal/midiio"
	"bedd/internal/pitch"
)

// MaxTake bounds what a take keeps: some ten hours of a busy player, and an hour
// and a half of the densest.
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

// Take is the record of one run: what went out, and what was marked. What is
// beyond its room is counted, not kept. It is a Recorder. The zero value grows as
// it needs, up to MaxTake messages.
type Take struct {
	Marks   []bed.Action
	Entered []Entered
	Dropped int

	session *Session
	fixed   bool // has all the room that it will have
	sent    []entry
	bytes   []byte
}

// entry is a message by its place among the bytes. It holds no pointer, so that
// a long take costs the garbage collector nothing.
type entry struct {
	at    time.Duration
	start uint32
	size  uint32
	from  Origin
}

// NewTake makes a take that has room for MaxTake messages from the start, so
// that no input ever waits for memory. What is not used costs nothing.
func NewTake() *Take {
	return &Take{fixed: true, sent: make([]entry, 0, MaxTake), bytes: make([]byte, 0, 5*MaxTake)}
}

// Watch makes the take note what the session's bed is like at each chord.
func (t *Take) Watch(s *Session) { t.session = s }

// Send keeps a copy of a message. It does not allocate in a take of [NewTake].
func (t *Take) Send(at time.Duration, from Origin, msg []byte) {
	if len(t.sent) >= MaxTake || t.fixed && len(t.bytes)+len(msg) > cap(t.bytes) {
		t.Dropped++
		return
	}
	t.sent = append(t.sent, entry{at, uint32(len(t.bytes)), uint32(len(msg)), from})
	t.bytes = append(t.bytes, msg...)
}

// Sent gives the messages that are kept, in the order in which they went out.
func (t *Take) Sent() []Sent {
	list := make([]Sent, len(t.sent))
	for i, e := range t.sent {
		end := int(e.start) + int(e.size)
		list[i] = Sent{e.at, e.from, t.bytes[e.start:end:end]}
	}
	return list
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
	sent := t.Sent()
	for i, s := range sent {
		track := &f.Tracks[1+s.From]
		tick := c.Tempo.Tick(s.At)
		if last := len(track.Events) - 1; i+1 < len(sent) && struckAnew(s, sent[i+1]) && last >= 0 && track.Events[last].Tick < tick {
			tick-- // its track stands below the player's: at the same tick it would end the new strike
		}
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

// struckAnew reports whether a message ends the bed's note because the player
// strikes it on the same channel.
func struckAnew(off, on Sent) bool {
	return off.At == on.At && off.From != Thru && on.From == Thru && isNote(off.Data) && isNote(on.Data) &&
		off.Data[0]&0xF0 == 0x80 && on.Data[0]&0xF0 == 0x90 && off.Data[0]&0x0F == on.Data[0]&0x0F && off.Data[1] == on.Data[1]
}

func hasKeySignature(metas []midiio.Event) bool {
	for _, e := range metas {
		if bytes.HasPrefix(e.Data, []byte{0xFF, 0x59}) {
			return true
		}
	}
	return false
}
