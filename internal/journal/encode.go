package journal

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"math"
	"strconv"
	"time"

	"bedd/internal/bed"
	"bedd/internal/dynamics"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// header is the first line of a file.
type header struct {
	Kind string `json:"k"`
	Header
	Resume *resume `json:"resume,omitempty"`
}

type resume struct {
	Session string          `json:"session"`
	State   json.RawMessage `json:"state"`
}

const headerKind = "bedd journal"

// AppendHeader adds the first line of a journal.
func AppendHeader(out []byte, h Header) ([]byte, error) {
	h.Version = Version
	line := header{Kind: headerKind, Header: h}
	if h.Resume != nil {
		line.Resume = &resume{Session: h.Resume.Session, State: append(appendState([]byte{'{'}, h.Resume.State), '}')}
	}
	data, err := json.Marshal(line)
	if err != nil {
		return out, err
	}
	return append(append(out, data...), '\n'), nil
}

// begin starts a record; end ends it.
func begin(out []byte, at time.Duration, k Kind) []byte {
	out = append(out, `{"t":`...)
	out = strconv.AppendInt(out, int64(at), 10)
	if k != Called {
		out = text(append(out, `,"k":"`...), string(k))
	}
	return out
}

func end(out []byte) []byte { return append(out, '}', '\n') }

// text adds the rest of a quoted word that needs no escapes.
func text(out []byte, word string) []byte { return append(append(out, word...), '"') }

func number(out []byte, key string, n int64) []byte {
	out = append(append(append(out, `,"`...), key...), `":`...)
	return strconv.AppendInt(out, n, 10)
}

// real adds a number that reads back as it was; one that is none counts as 0.
func real(out []byte, key string, x float64) []byte {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		x = 0
	}
	out = append(append(append(out, `,"`...), key...), `":`...)
	return strconv.AppendFloat(out, x, 'g', -1, 64)
}

func word(out []byte, key, value string) []byte {
	out = append(append(append(out, `,"`...), key...), `":"`...)
	return text(out, value)
}

func yes(out []byte, key string, on bool) []byte {
	if !on {
		return out
	}
	return append(append(append(out, `,"`...), key...), `":true`...)
}

// said adds a text of any kind.
func said(out []byte, key, value string) []byte {
	quoted, err := json.Marshal(value)
	if err != nil { // no string is refused
		return out
	}
	return append(append(append(append(out, `,"`...), key...), `":`...), quoted...)
}

// appendCall adds a call: the event, what is seen of the bed now where it is not
// nil, and the actions.
func appendCall(out []byte, at time.Duration, e *bed.Event, actions []bed.Action, s *seen, v *bed.View) []byte {
	out = begin(out, at, Called)
	if e.Kind != bed.TimePassed {
		out = word(out, "k", eventNames[e.Kind])
	}
	switch e.Kind {
	case bed.Asked:
		out = word(out, "do", e.Command.String())
		if e.Command == bed.KeyTo {
			out = number(out, "tonic", int64(e.Tonic))
		}
		out = yes(out, "undo", e.Undo)
	case bed.NoteStruck:
		out = number(number(out, "n", int64(e.Note)), "v", int64(e.Velocity))
	case bed.NoteLeft:
		out = number(out, "n", int64(e.Note))
	case bed.DamperMoved, bed.InputEnded:
		out = yes(out, "on", e.On)
	case bed.PedalMoved:
		out = number(out, "raw", int64(e.Raw))
	case bed.VoiceHeard:
		out = real(out, "x", e.Intensity)
		if e.Eased != 0 {
			out = real(out, "eased", e.Eased)
		}
	}
	if s != nil {
		out = real(out, "i", s.intensity())
		out = word(out, "src", s.source.String())
		out = number(out, "voices", int64(s.voices))
		out = word(out, "phase", s.phase.String())
	}
	if v != nil {
		out = appendChord(out, v)
	}
	return end(appendActions(out, at, actions))
}

func appendActions(out []byte, at time.Duration, actions []bed.Action) []byte {
	if len(actions) == 0 {
		return out
	}
	out = append(out, `,"a":[`...)
	due := at
	for i := range actions {
		a := &actions[i]
		if i > 0 {
			out = append(out, ',')
		}
		if a.At != due {
			due = a.At
			out = append(out, `["due",`...)
			out = append(strconv.AppendInt(out, int64(due), 10), ']', ',')
		}
		out = appendAction(out, a)
	}
	return append(out, ']')
}

func appendAction(out []byte, a *bed.Action) []byte {
	out = append(append(append(out, `["`...), actionNames[a.Kind]...), '"')
	add := func(n uint8) { out = strconv.AppendUint(append(out, ','), uint64(n), 10) }
	quote := func(s string) { out = text(append(out, `,"`...), s) }
	switch a.Kind {
	case bed.StrikeNote:
		add(uint8(a.Layer))
		add(a.Note)
		add(a.Velocity)
	case bed.ReleaseNote:
		add(uint8(a.Layer))
		add(a.Note)
	case bed.SetLevel, bed.SetBrightness:
		add(uint8(a.Layer))
		add(a.Value)
	case bed.EnterChord:
		quote(a.Chord.Symbol())
	case bed.Did:
		quote(a.Command.String())
		switch a.Command {
		case bed.Stay, bed.Follow:
			out = strconv.AppendBool(append(out, ','), a.On)
		case bed.LevelUp, bed.LevelDown:
			add(a.Value)
		case bed.KeyUp, bed.KeyDown, bed.KeyTo:
			quote(a.Key.String())
		case bed.Take:
			out = strconv.AppendUint(append(out, ','), uint64(a.Song), 10)
		}
	case bed.SongBegan:
		out = strconv.AppendUint(append(out, ','), uint64(a.Song), 10)
	case bed.Tell:
		quote(a.Notice.String())
	case bed.ChangeMoment:
		add(a.Value)
	}
	return append(out, ']')
}

// appendChord adds what a chord is like that has been entered.
func appendChord(out []byte, v *bed.View) []byte {
	out = append(out, `,"chord":{"degree":"`...)
	out = text(out, v.Chord.Degree(v.Key))
	out = word(out, "symbol", v.Chord.Symbol())
	out = word(out, "key", v.Key.String())
	out = word(out, "place", v.Place.String())
	out = number(out, "moment", int64(v.Moment))
	if v.Missing != 0 {
		out = append(out, `,"missing":[`...)
		for c, first := pitch.Class(0), true; c < 12; c++ {
			if !v.Missing.Has(c) {
				continue
			}
			if !first {
				out = append(out, ',')
			}
			first = false
			out = text(append(out, '"'), v.Chord.Spell(c, v.Key).String())
		}
		out = append(out, ']')
	}
	if v.Voicing.Bass != voicing.NoBass {
		out = number(out, "bass", int64(v.Voicing.Bass))
	}
	out = notes(out, "upper", v.Voicing.Pitches())
	out = notes(out, "held", v.Change.Held)
	out = notes(out, "struck", v.Change.Struck)
	return append(notes(out, "released", v.Change.Released), '}')
}

func notes(out []byte, key string, p voicing.Pitches) []byte {
	var room [128]uint8
	out = append(append(append(out, `,"`...), key...), `":[`...)
	for i, n := range p.Append(room[:0]) {
		if i > 0 {
			out = append(out, ',')
		}
		out = strconv.AppendUint(out, uint64(n), 10)
	}
	return append(out, ']')
}

// appendPlayed adds a message of the player's.
func appendPlayed(out []byte, at time.Duration, after uint64, msg []byte) []byte {
	out = begin(out, at, Played)
	out = append(out, `,"m":"`...)
	out = append(hex.AppendEncode(out, msg), '"')
	return end(number(out, "after", int64(after)))
}

// appendState adds what a state is, without the braces.
func appendState(out []byte, s *bed.State) []byte {
	out = append(out, `"moment":`...)
	out = strconv.AppendInt(out, int64(s.Moment), 10)
	out = word(out, "phase", s.Phase.String())
	out = word(out, "place", s.Place.String())
	out = word(out, "group", s.Group.String())
	out = number(out, "index", int64(s.Index))
	out = word(out, "key", s.Key.String())
	out = word(out, "plan", s.PlanKey.String())
	out = word(out, "chord", s.Chord.Symbol())
	if s.Landing {
		out = append(out, `,"route":[`...)
		for i, c := range s.Route[:s.RouteLen] {
			if i > 0 {
				out = append(out, ',')
			}
			out = text(append(out, '"'), c.Symbol())
		}
		out = number(append(out, ']'), "step", int64(s.RouteAt))
	}
	if s.Song > 0 {
		out = number(out, "song", int64(s.Song))
	}
	if s.Called > 0 {
		out = number(out, "called", int64(s.Called))
	}
	out = yes(out, "follow", s.Follow)
	return real(out, "i", s.Intensity)
}

// seen is what a bed was like, as much as is told of every call.
type seen struct {
	thousandths int
	source      dynamics.Source
	voices      int
	phase       bed.Phase
}

func (s *seen) intensity() float64 { return float64(s.thousandths) / 1000 }

func thousandths(x float64) int { return int(math.Round(1000 * x)) }

// Same reports whether a journal has the same of two lists of actions.
func Same(a, b []bed.Action) bool {
	if len(a) != len(b) {
		return false
	}
	var one, other [64]byte
	for i := range a {
		if a[i].At != b[i].At || !bytes.Equal(appendAction(one[:0], &a[i]), appendAction(other[:0], &b[i])) {
			return false
		}
	}
	return true
}
