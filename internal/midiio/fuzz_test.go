package midiio

import (
	"bytes"
	"reflect"
	"testing"

	"gitlab.com/gomidi/midi/v2/smf"
)

// channelEvent is a channel message as two readers can agree on it.
type channelEvent struct {
	tick int64
	msg  string
}

func channelEvents(events []Event) []channelEvent {
	list := []channelEvent{}
	for _, e := range events {
		if e.Data[0] < sysexStart {
			list = append(list, channelEvent{e.Tick, string(e.Data)})
		}
	}
	return list
}

// libraryEvents are the channel messages of each track as the library reads it.
func libraryEvents(f *smf.SMF) [][]channelEvent {
	var tracks [][]channelEvent
	for _, track := range f.Tracks {
		list, tick := []channelEvent{}, int64(0)
		for _, e := range track {
			tick += int64(e.Delta)
			if len(e.Message) > 0 && e.Message[0] < sysexStart {
				list = append(list, channelEvent{tick, string(e.Message)})
			}
		}
		tracks = append(tracks, list)
	}
	return tracks
}

// escapes reports whether the library finds an escape or a packet of a SysEx,
// whose bytes it leaves as they are and we don't.
func escapes(f *smf.SMF) bool {
	for _, track := range f.Tracks {
		for _, e := range track {
			if len(e.Message) > 0 && e.Message[0] == sysexEnd {
				return true
			}
		}
	}
	return false
}

// libraryRead reads with the library, which panics on some files.
func libraryRead(data []byte) (f *smf.SMF) {
	defer func() {
		if recover() != nil {
			f = nil
		}
	}()
	f, err := smf.ReadFrom(bytes.NewReader(data))
	if err != nil {
		return nil
	}
	return f
}

// endsWhereItSays reports whether nothing stands after the end of a track: the
// library reads on there, we don't.
func endsWhereItSays(data []byte, f *File) bool {
	_, pos, err := header(data)
	if err != nil {
		return false
	}
	bodies, err := trackBodies(data, pos, len(f.Tracks))
	if err != nil {
		return false
	}
	for _, body := range bodies {
		w := trackWalk{data: data, body: body, emit: func(int64, []byte, []byte) error { return nil }}
		if w.walk() != nil || w.pos != body.end {
			return false
		}
	}
	return true
}

// Read never panics; what it accepts keeps its order and its bounds; it can be
// written and reads the same again; and the library, where it accepts the file
// too, finds the same channel messages.
func FuzzRead(f *testing.F) {
	f.Add(unhex(f, golden))
	for _, c := range good {
		f.Add(oneTrack(f, c.body))
	}
	for _, c := range bad {
		f.Add(unhex(f, c.file))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 1<<16 {
			return
		}
		got, err := Read("fuzz.mid", bytes.NewReader(data))
		if err != nil {
			return
		}
		tempo := got.Tempo()
		out := OutFile{Division: got.Division, Tracks: make([]OutTrack, len(got.Tracks))}
		for i, track := range got.Tracks {
			out.Tracks[i] = OutTrack{Name: track.Name, End: track.End}
		}
		last := int64(0)
		for _, e := range got.Events {
			if e.Tick < last || len(e.Data) == 0 || tempo.Time(e.Tick) < tempo.Time(last) {
				t.Fatalf("event %v after tick %d", e, last)
			}
			last = e.Tick
			if _, _, meta := e.Meta(); !meta && !whole(e.Data) {
				t.Fatalf("% X is not one whole message", e.Data)
			}
			track := &out.Tracks[e.Track]
			if e.Tick > track.End {
				t.Fatalf("event %v after its track's end %d", e, track.End)
			}
			track.Events = append(track.Events, e)
		}
		var file bytes.Buffer
		if err := Write(&file, out); err == nil { // sums of deltas may be too long for one
			again, err := Read("again.mid", &file)
			if err != nil {
				t.Fatal(err)
			}
			// Names that are empty, and those that become names now, are lost or kept
			// apart: the channel messages are not.
			if a, b := channelEvents(got.Events), channelEvents(again.Events); !reflect.DeepEqual(a, b) {
				t.Fatalf("read %v\nthen  %v", a, b)
			}
		}
		if !endsWhereItSays(data, got) {
			return
		}
		theirs := libraryRead(data)
		if theirs == nil || escapes(theirs) {
			return
		}
		var ours [][]channelEvent
		for i := range out.Tracks {
			ours = append(ours, channelEvents(out.Tracks[i].Events))
		}
		if lib := libraryEvents(theirs); !reflect.DeepEqual(ours, lib) {
			t.Fatalf("we read %v\nthe library %v", ours, lib)
		}
	})
}

// Whatever bytes come, only whole messages go out, feet use only whole ones, and
// nothing hangs in the end.
func FuzzMessage(f *testing.F) {
	for _, msg := range []string{"90 3C 40", "90 3C", "80 3C 40 00", "B0 50 7F", "B2 40 7F", "92 24 01", "C1 07", "D5 40", "D5", "F0 01 F7", "F0 01", "F8", "FF", "F4", "90 80 3C", "40", ""} {
		f.Add(unhex(f, msg), unhex(f, "92 3C 40"))
	}
	f.Fuzz(func(t *testing.T, first, second []byte) {
		w, s := newRig()
		feet := newFeet(t, foot(80), Switch{Control: Control{Kind: Note, Channel: -1, Number: 36}}, Switch{Control: Control{Kind: Pressure, Channel: 5}})
		for _, msg := range [][]byte{first, second, first} {
			if _, used := feet.Message(0, msg, nil); used && !whole(msg) {
				t.Fatalf("% X is used", msg)
			}
			w.Player(0, msg)
			w.Bed(0, msg)
		}
		for _, h := range s.heard {
			if !whole([]byte(h.msg)) {
				t.Fatalf("%v goes out", h)
			}
		}
		if w.Finish(0); s.sounding() != 0 || w.Sounding() != 0 {
			t.Fatalf("%d notes hang, the ledger counts %d", s.sounding(), w.Sounding())
		}
	})
}
