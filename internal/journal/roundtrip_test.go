package journal

import (
	"bytes"
	"reflect"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/dynamics"
	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"pgregory.net/rapid"
)

// head is the first line of a small journal.
func head(t testing.TB) []byte {
	t.Helper()
	out, err := AppendHeader(nil, Header{Program: "(test)", Moments: []Moment{{Key: "C", Home: []string{"C"}}}, Ports: []Port{{"in", "Stage"}, {"out", "Module"}}})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// readAll reads records as copies, and what is torn.
func readAll(t testing.TB, data []byte) (list []Record, r *Reader) {
	t.Helper()
	r, err := NewReader("a.jsonl", bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	for {
		var rec Record
		if r.Next(&rec) != nil {
			return list, r
		}
		if rec.Chord != nil {
			c := *rec.Chord
			rec.Chord = &c
		}
		if rec.Seen != nil {
			s := *rec.Seen
			rec.Seen = &s
		}
		list = append(list, rec)
	}
}

var (
	someKey = rapid.Custom(func(t *rapid.T) pitch.Key {
		return pitch.Key{Minor: rapid.Bool().Draw(t, "minor")}.Transpose(rapid.IntRange(0, 11).Draw(t, "up"))
	})
	someChord = rapid.Custom(func(t *rapid.T) harmony.Chord {
		k := someKey.Draw(t, "key")
		set := pitch.Set(rapid.IntRange(1, 1<<12-1).Draw(t, "tones"))
		for c := pitch.Class(0); ; c++ {
			if set.Has(c) {
				chord, ok := harmony.Identify(set, c, k)
				if !ok {
					t.Skip("no chord")
				}
				return chord
			}
		}
	})
	someNote  = rapid.Uint8Range(0, 127)
	someLayer = rapid.Custom(func(t *rapid.T) bed.Layer { return bed.Layer(rapid.IntRange(0, int(bed.NumLayers)-1).Draw(t, "layer")) })
	someTime  = rapid.Custom(func(t *rapid.T) time.Duration {
		return time.Duration(rapid.Int64Range(0, int64(maxTime)).Draw(t, "at"))
	})
)

// someEvent draws an event that has nothing but what its kind needs.
func someEvent(t *rapid.T) bed.Event {
	e := bed.Event{Kind: bed.EventKind(rapid.IntRange(0, len(eventNames)-1).Draw(t, "event"))}
	switch e.Kind {
	case bed.Asked:
		e.Command = bed.Command(rapid.IntRange(1, int(bed.NumCommands)-1).Draw(t, "command"))
		e.Undo = rapid.Bool().Draw(t, "undo")
		if e.Command == bed.KeyTo {
			e.Tonic = pitch.Class(rapid.IntRange(0, 11).Draw(t, "tonic"))
		}
	case bed.NoteStruck:
		e.Note, e.Velocity = someNote.Draw(t, "note"), rapid.Uint8Range(1, 127).Draw(t, "velocity")
	case bed.NoteLeft:
		e.Note = someNote.Draw(t, "note")
	case bed.DamperMoved, bed.InputEnded:
		e.On = rapid.Bool().Draw(t, "on")
	case bed.PedalMoved:
		e.Raw = rapid.Uint16Range(0, dynamics.MaxRaw).Draw(t, "raw")
	case bed.VoiceHeard:
		e.Intensity = rapid.Float64Range(0, 1).Draw(t, "intensity")
		e.Eased = rapid.SampledFrom([]float64{0, 0, 0.25, 11.5}).Draw(t, "eased")
	}
	return e
}

// someAction draws an action that has nothing but what its kind needs.
func someAction(t *rapid.T) bed.Action {
	a := bed.Action{Kind: bed.ActionKind(rapid.IntRange(0, len(actionNames)-1).Draw(t, "action")), At: someTime.Draw(t, "due")}
	switch a.Kind {
	case bed.StrikeNote:
		a.Layer, a.Note, a.Velocity = someLayer.Draw(t, "layer"), someNote.Draw(t, "note"), someNote.Draw(t, "velocity")
	case bed.ReleaseNote:
		a.Layer, a.Note = someLayer.Draw(t, "layer"), someNote.Draw(t, "note")
	case bed.SetLevel, bed.SetBrightness:
		a.Layer, a.Value = someLayer.Draw(t, "layer"), someNote.Draw(t, "value")
	case bed.EnterChord:
		a.Chord = someChord.Draw(t, "chord")
	case bed.Did:
		a.Command = bed.Command(rapid.IntRange(1, int(bed.NumCommands)-1).Draw(t, "command"))
		switch a.Command {
		case bed.Stay, bed.Follow:
			a.On = rapid.Bool().Draw(t, "on")
		case bed.LevelUp, bed.LevelDown:
			a.Value = rapid.Uint8Range(0, 100).Draw(t, "percent")
		case bed.KeyUp, bed.KeyDown, bed.KeyTo:
			a.Key = someKey.Draw(t, "key")
		case bed.Take:
			a.Song = rapid.Uint16Range(0, bed.MaxSongs).Draw(t, "song")
		}
	case bed.SongBegan:
		a.Song = rapid.Uint16Range(0, bed.MaxSongs).Draw(t, "song")
	case bed.Tell:
		a.Notice = bed.Notice(rapid.IntRange(1, int(bed.NothingChosen)).Draw(t, "notice"))
	case bed.ChangeMoment:
		a.Value = rapid.Uint8().Draw(t, "moment")
	}
	return a
}

// Every call reads back as it was, and is written again as it was.
func TestCallsReadBack(t *testing.T) {
	first := head(t)
	rapid.Check(t, func(rt *rapid.T) {
		at, e := someTime.Draw(rt, "at"), someEvent(rt)
		var actions []bed.Action
		for range rapid.IntRange(0, 6).Draw(rt, "actions") {
			actions = append(actions, someAction(rt))
		}
		if len(actions) > 1 && rapid.Bool().Draw(rt, "together") {
			actions[1].At = actions[0].At
		}
		line := appendCall(nil, at, &e, actions, nil, nil)
		list, r := readAll(t, append(first[:len(first):len(first)], line...))
		if len(list) != 1 || r.Torn() != 0 {
			rt.Fatalf("%s reads as %d records, %d bytes torn", line, len(list), r.Torn())
		}
		got := list[0]
		if got.Kind != Called || got.At != at || got.Event != e || len(got.Actions) != len(actions) {
			rt.Fatalf("%s reads as %+v, want %v %+v %+v", line, got, at, e, actions)
		}
		for i := range actions {
			if got.Actions[i] != actions[i] {
				rt.Fatalf("%s: action %d reads as %+v, want %+v", line, i, got.Actions[i], actions[i])
			}
		}
		if !Same(got.Actions, actions) {
			rt.Fatal("what is the same is not")
		}
		if again := appendCall(nil, got.At, &got.Event, got.Actions, nil, nil); !bytes.Equal(again, line) {
			rt.Fatalf("written again it is %s, want %s", again, line)
		}
	})
}

// What differs is told to differ.
func TestSameTellsDifferences(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		a, b := someAction(rt), someAction(rt)
		if Same([]bed.Action{a}, []bed.Action{b}) != (a == b) {
			rt.Fatalf("%+v and %+v", a, b)
		}
	})
	if Same(nil, make([]bed.Action, 1)) {
		t.Error("a list and a longer one are the same")
	}
}

// Every state reads back to the bit.
func TestStatesReadBack(t *testing.T) {
	first := head(t)
	rapid.Check(t, func(rt *rapid.T) {
		s := bed.State{
			Phase: bed.Phase(rapid.IntRange(0, int(bed.NumPhases)-1).Draw(rt, "phase")), Moment: rapid.IntRange(0, 255).Draw(rt, "moment"),
			Place: bed.Place(rapid.IntRange(0, 4).Draw(rt, "place")), Group: bed.Place(rapid.IntRange(0, 1).Draw(rt, "group")),
			Index: rapid.IntRange(0, bed.MaxChords-1).Draw(rt, "index"), Key: someKey.Draw(rt, "key"), PlanKey: someKey.Draw(rt, "plan"),
			Chord: someChord.Draw(rt, "chord"), Landing: rapid.Bool().Draw(rt, "landing"), Follow: rapid.Bool().Draw(rt, "follow"),
			Intensity: rapid.Float64Range(0, 1).Draw(rt, "intensity"),
			Song:      rapid.IntRange(0, bed.MaxSongs).Draw(rt, "song"), Called: rapid.IntRange(0, bed.MaxSongs).Draw(rt, "called"),
		}
		if s.Landing {
			for i := range s.Route[:rapid.IntRange(0, harmony.MaxRoute).Draw(rt, "route")] {
				s.Route[i], s.RouteLen = someChord.Draw(rt, "step"), i+1
			}
			if s.RouteLen > 0 {
				s.RouteAt = rapid.IntRange(-1, s.RouteLen-1).Draw(rt, "at")
			}
		}
		line := end(appendState(append(begin(nil, 5, Stands), ','), &s))
		list, _ := readAll(t, append(first[:len(first):len(first)], line...))
		if len(list) != 1 || *list[0].State != s {
			rt.Fatalf("%s reads as %+v, want %+v", line, list, s)
		}
	})
}

// The rarer records read back as they were.
func TestOtherRecordsReadBack(t *testing.T) {
	w := newWriter(paper{header: Header{Moments: []Moment{{Key: "C", Home: []string{"C"}}}, Ports: []Port{{"in", "A"}, {"out", "B"}}}, create: nil})
	text := "the \"baskets\" go round\n\x01<script>\u2028"
	delays := Delays{Due: Percentiles{3, 1, 2, 3, 4}, Arrived: Percentiles{N: 1}}
	load := Wire{Baud: 31250, Bytes: 3, At: 9, Wait: 8, ForBed: 7, Overtaken: 6, Sent: 5}
	w.Step(Prepared, 0)
	w.Played(1, []byte{0x90, 60, 64}, 7)
	w.Say(Cue, 2, text)
	w.Say(Notice, 3, text)
	w.Port(4, 1, false)
	w.Port(5, 1, true)
	w.Flood(6, 0, 200)
	w.Under(7, 2)
	w.Late(8, delays)
	w.Busy(9, 1, load)
	w.Step(Finished, 10)
	w.paper.add(w.queue.swap())
	w.paper.out = appendGap(w.paper.out, 11, Lost{Calls: 1, Thru: 2, Other: 3})
	got, r := readAll(t, w.paper.out)
	want := []Record{
		{Kind: Prepared}, {Kind: Played, Message: []byte{0x90, 60, 64}, After: 7}, {Kind: Cue, Text: text}, {Kind: Notice, Text: text},
		{Kind: Moved, Port: 1}, {Kind: Moved, Port: 1, Up: true}, {Kind: Flood, Count: 200}, {Kind: Under, Count: 2},
		{Kind: Late, Delays: &delays}, {Kind: Busy, Port: 1, Wire: &load}, {Kind: Finished}, {Kind: Gap, Lost: &Lost{Calls: 1, Thru: 2, Other: 3}},
	}
	if len(got) != len(want) || r.Torn() != 0 {
		t.Fatalf("%d records, %d bytes torn, want %d", len(got), r.Torn(), len(want))
	}
	for i := range want {
		want[i].At, want[i].Line = time.Duration(i), i+2
		if got[i].Actions = nil; len(got[i].Message) == 0 {
			got[i].Message = nil
		}
		if !reflect.DeepEqual(got[i], want[i]) {
			t.Errorf("record %d is %+v, want %+v", i, got[i], want[i])
		}
	}
}

// A header reads back, with what it goes on from.
func TestHeaderReadsBack(t *testing.T) {
	still := 0.7
	h := Header{
		Version: Version, Program: "v1", Began: time.Date(2026, 11, 27, 19, 30, 0, 5, time.FixedZone("", 3600)),
		Rig: Text{"rig.yaml", "name: X # \"y\"\n"}, Stillness: &still, Setup: true, Title: "Winter Lights <1>", First: 1,
		Moments: []Moment{{Key: "C", Home: []string{"C"}}, {For: "a talk", Cue: "…", Song: "Salt", Lasts: time.Minute, Longest: time.Hour,
			Key: "F#m", Home: []string{"F#m"}, Away: []string{"D", "E/G#"}, Intensity: 0.1, NextKey: "Bb", NextChord: "Bbmaj7", NextSong: 1, Ending: "plagal"}},
		Songs:  []Song{{Title: "Salt", Key: "Bb", First: "Bbmaj7", Home: []string{"Bb", "Eb"}, Away: []string{"Gm"}, Figure: []int{70, 74, 77}, Then: -1}, {Key: "C", Home: []string{"C"}}},
		Ports:  []Port{{"in", "Stage"}},
		Resume: &Resume{"2026-11-27T183000Z", &bed.State{Chord: harmony.Diatonic(pitch.Key{}, 1), Intensity: 1.0 / 3}},
	}
	out, err := AppendHeader(nil, h)
	if err != nil {
		t.Fatal(err)
	}
	_, r := readAll(t, out)
	got := r.Header()
	if !got.Began.Equal(h.Began) || got.Began.Format(time.RFC3339) != h.Began.Format(time.RFC3339) {
		t.Errorf("began %v, want %v", got.Began, h.Began)
	}
	got.Began = h.Began
	if !reflect.DeepEqual(got, h) {
		t.Errorf("%+v, want %+v", got, h)
	}
}
