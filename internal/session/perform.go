package session

import (
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/midiio"
)

// Cue is one thing of a performance: a message of the player's, or a spoken cue
// as a text.
type Cue struct {
	At   time.Duration
	Data []byte // nil for a spoken cue
	Text string
}

// Cues gives a performance in order of time: every message, and every text.
func Cues(f *midiio.File) []Cue {
	tempo := f.Tempo()
	cues := make([]Cue, 0, len(f.Events))
	for _, e := range f.Events {
		kind, data, meta := e.Meta()
		switch {
		case !meta:
			cues = append(cues, Cue{At: tempo.Time(e.Tick), Data: e.Data})
		case kind == midiio.Text:
			cues = append(cues, Cue{At: tempo.Time(e.Tick), Text: readable(data)})
		}
	}
	return cues
}

// Length gives when a performance is over: the end of its last event.
func Length(f *midiio.File) time.Duration {
	if len(f.Events) == 0 {
		return 0
	}
	return f.Tempo().Time(f.Events[len(f.Events)-1].Tick)
}

// Listened is a recording of a voice that is listened to while a performance runs.
type Listened interface {
	// Next gives until when it has been listened to when Hear returns next, or that it
	// is over.
	Next() (at time.Duration, ok bool)
	// Hear listens on, to a bed that is like this. It gives what the bed is to be told,
	// if that is anything.
	Hear(v bed.View) (intensity, eased float64, tell bool)
}

// Perform runs a whole performance offline and gives what came of it, how many
// of the player's messages were refused, and when all was silent. Watch may be
// nil.
func Perform(rig gathering.Rig, moments []bed.Moment, f *midiio.File, watch Watcher) (take *Take, refused uint64, end time.Duration, err error) {
	return PerformTo(rig, moments, f, bed.NoCommand, nil, watch)
}

// PerformTo is Perform to a voice, nil for none, and begins with a command. The run ends
// with the later of performance and voice.
func PerformTo(rig gathering.Rig, moments []bed.Moment, f *midiio.File, begin bed.Command, voice Listened, watch Watcher) (take *Take, refused uint64, end time.Duration, err error) {
	take = &Take{sent: make([]entry, 0, 2*len(f.Events))}
	s, err := New(rig, moments, take)
	if err != nil {
		return nil, 0, 0, err
	}
	take.Watch(s)
	s.Watch(watch)
	s.SetUp(0)
	s.Ask(0, gathering.Order{Command: begin})
	length := Length(f)
	listen := func(until time.Duration, all bool) {
		for voice != nil {
			at, ok := voice.Next()
			if !ok || at >= until && !all {
				return
			}
			s.catchUp(at)
			if intensity, eased, tell := voice.Hear(s.View()); tell {
				s.Voice(at, intensity, eased)
			}
			length = max(length, at)
		}
	}
	for _, c := range Cues(f) {
		if c.Data != nil {
			listen(c.At, false)
			s.Message(c.At, c.Data)
		}
	}
	listen(0, true)
	end = s.End(length)
	if take.Dropped > 0 {
		return nil, 0, 0, fmt.Errorf("the performance makes more than %d messages: run a part of it", MaxTake)
	}
	return take, s.Refused(), end, nil
}

// readable makes a file's text fit for a screen: what is not UTF-8 is taken for
// ISO 8859-1, as older programs write it, and what cannot be shown becomes a
// blank, so that a file cannot steer the terminal.
func readable(text []byte) string {
	s := string(text)
	if !utf8.Valid(text) {
		runes := make([]rune, len(text))
		for i, b := range text {
			runes[i] = rune(b)
		}
		s = string(runes)
	}
	return strings.Join(strings.FieldsFunc(s, func(r rune) bool { return !unicode.IsPrint(r) && r != '\u00a0' }), " ")
}
