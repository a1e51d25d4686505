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

// Perform runs a whole performance offline and gives what came of it, how many
// of the player's messages were refused, and when all was silent. Watch may be
// nil.
func Perform(rig gathering.Rig, moments []bed.Moment, f *midiio.File, watch Watcher) (take *Take, refused uint64, end time.Duration, err error) {
	take = &Take{sent: make([]entry, 0, 2*len(f.Events))}
	s, err := New(rig, moments, take)
	if err != nil {
		return nil, 0, 0, err
	}
	take.Watch(s)
	s.Watch(watch)
	s.SetUp(0)
	for _, c := range Cues(f) {
		if c.Data != nil {
			s.Message(c.At, c.Data)
		}
	}
	end = s.End(Length(f))
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
