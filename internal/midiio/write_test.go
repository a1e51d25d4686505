package midiio

import (
	"bytes"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"bedd/internal/midiio/readback"

	"gitlab.com/gomidi/midi/v2/smf"
	"pgregory.net/rapid"
)

// The table of the Standard MIDI Files 1.0 specification, and three more.
func TestAppendQuantity(t *testing.T) {
	for _, c := range []struct {
		n    int64
		want string
	}{
		{0x00, "00"}, {0x40, "40"}, {0x7F, "7F"}, {0x80, "81 00"}, {0x2000, "C0 00"},
		{0x3FFF, "FF 7F"}, {0x4000, "81 80 00"}, {0x100000, "C0 80 00"},
		{0x1FFFFF, "FF FF 7F"}, {0x200000, "81 80 80 00"}, {0x8000000, "C0 80 80 00"},
		{0xFFFFFFF, "FF FF FF 7F"},
		{480, "83 60"}, {240, "81 70"}, {960, "87 40"},
	} {
		got := appendQuantity(nil, c.n)
		if !bytes.Equal(got, unhex(t, c.want)) {
			t.Errorf("%X is % X, want %s", c.n, got, c.want)
		}
		w := trackWalk{data: got, body: span{0, len(got)}}
		if back, err := w.quantity("a quantity"); err != nil || int64(back) != c.n || w.pos != len(got) {
			t.Errorf("%s is %X, %v, want %X", c.want, back, err, c.n)
		}
	}
}

// The bytes of the Standard MIDI Files 1.0 specification; key signatures as two
// libraries write them.
func TestMetaBytes(t *testing.T) {
	for _, c := range []struct {
		data []byte
		want string
	}{
		{KeyMeta(-3, true), "FF 59 02 FD 01"},  // C minor
		{KeyMeta(-3, false), "FF 59 02 FD 00"}, // E♭ major
		{KeyMeta(7, false), "FF 59 02 07 00"},
		{KeyMeta(9, true), "FF 59 02 07 01"},
		{KeyMeta(-9, true), "FF 59 02 F9 01"},
		{TempoMeta(500_000), "FF 51 03 07 A1 20"},   // 120 bpm
		{TempoMeta(1_000_000), "FF 51 03 0F 42 40"}, // 60 bpm
		{TempoMeta(833_333), "FF 51 03 0C B7 35"},   // 72 bpm
		{TempoMeta(0), "FF 51 03 00 00 01"},
		{TempoMeta(1 << 30), "FF 51 03 FF FF FF"},
		{TimeMeta(6, 3), "FF 58 04 06 03 18 08"}, // 6/8
		{TextMeta(Marker, "Cm"), "FF 06 02 43 6D"},
		{TextMeta(Text, ""), "FF 01 00"},
		{TextMeta(TrackName, "thru"), "FF 03 04 74 68 72 75"},
	} {
		if got := appendMessage(nil, c.data); !bytes.Equal(got, unhex(t, c.want)) {
			t.Errorf("% X, want %s", got, c.want)
		}
	}
}

func TestWriteGolden(t *testing.T) {
	path := filepath.Join(t.TempDir(), "golden.mid")
	err := WriteFile(path, OutFile{Division: 480, Tracks: []OutTrack{{
		Events: []Event{
			{Tick: 0, Data: KeyMeta(-3, true)},
			{Tick: 0, Data: TextMeta(Marker, "Cm")},
			{Tick: 0, Data: []byte{0x91, 60, 80}},
			{Tick: 0x200000, Data: []byte{0x81, 60, 0}},
		},
		End: 0x200000,
	}}})
	if err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if want := unhex(t, golden); !bytes.Equal(got, want) {
		t.Errorf("wrote % X\nwant  % X", got, want)
	}
}

func one(events ...Event) OutFile {
	end := int64(0)
	if len(events) > 0 {
		end = max(0, events[len(events)-1].Tick)
	}
	return OutFile{Division: 480, Tracks: []OutTrack{{Name: "thru", Events: events, End: end}}}
}

func TestWriteFileRefuses(t *testing.T) {
	tooLate := one(Event{Data: []byte{0x90, 60, 1}})
	tooLate.Tracks[0].End = -1
	for _, c := range []struct {
		file OutFile
		err  string
	}{
		{OutFile{Division: 0, Tracks: make([]OutTrack, 1)}, "out.mid: division 0 is out of range 1…32767"},
		{OutFile{Division: 32768, Tracks: make([]OutTrack, 1)}, "out.mid: division 32768 is out of range 1…32767"},
		{OutFile{Division: 480}, "out.mid: 0 tracks are out of range 1…65535"},
		{one(Event{Tick: 5, Data: []byte{0xF8}}, Event{Tick: 4, Data: []byte{0xF8}}), `out.mid: track 1 "thru": event 2: tick 4 comes after tick 5`},
		{one(Event{Tick: -1, Data: []byte{0xF8}}), `out.mid: track 1 "thru": event 1: tick -1 comes after tick 0`},
		{one(Event{Tick: 1 << 28, Data: []byte{0xF8}}), `out.mid: track 1 "thru": event 1: tick 268435456 is more than 268435455 after tick 0`},
		{one(Event{Tick: MaxTick + 1, Data: []byte{0xF8}}), `out.mid: track 1 "thru": event 1: tick 274877906945 is past the last, 274877906944`},
		{tooLate, `out.mid: track 1 "thru": end: tick -1 comes after tick 0`},
		{one(Event{}), `out.mid: track 1 "thru": event 1:  is not one whole message`},
		{one(Event{Data: []byte{0x90, 60}}), `out.mid: track 1 "thru": event 1: 90 3C is not one whole message`},
		{one(Event{Data: []byte{0x90, 60, 200}}), `out.mid: track 1 "thru": event 1: 90 3C C8 is not one whole message`},
		{one(Event{Data: []byte{0xF0, 1}}), `out.mid: track 1 "thru": event 1: F0 01 is not one whole message`},
		{one(Event{Data: []byte{0xFF}}), `out.mid: track 1 "thru": event 1: FF is not one whole message`},
		{one(Event{Data: []byte{0xFF, 0x2F}}), `out.mid: track 1 "thru": event 1: an end of track is not for the events, End says it`},
	} {
		dir := t.TempDir()
		path := filepath.Join(dir, "out.mid")
		if err := os.WriteFile(path, []byte("before"), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := WriteFile(path, c.file); err == nil || err.Error() != dir+"/"+c.err {
			t.Errorf("error %v\nwant  %s", err, c.err)
		}
		left, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		kept, err := os.ReadFile(path)
		if len(left) != 1 || err != nil || string(kept) != "before" {
			t.Errorf("%s: left %v, with %q, %v", c.err, left, kept, err)
		}
	}
}

func TestWriteFileReplaces(t *testing.T) {
	dir := t.TempDir()
	path, link := filepath.Join(dir, "out.mid"), filepath.Join(dir, "link.mid")
	if err := os.WriteFile(path, []byte("before"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(path, link); err != nil {
		t.Fatal(err)
	}
	if err := WriteFile(link, one(Event{Data: []byte{0x90, 60, 1}})); err != nil {
		t.Fatal(err)
	}
	if f, err := ReadFile(path); err != nil || len(f.Events) != 1 {
		t.Errorf("behind the link is %v, %v", f, err)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 2 {
		t.Errorf("left %v, %v", left, err)
	}
}

func TestWriteFileWantsARegularFile(t *testing.T) {
	dir := t.TempDir()
	if err := WriteFile(dir, one()); err == nil || err.Error() != dir+" is a folder: name a file in it" {
		t.Errorf("error %v", err)
	}
	if err := WriteFile(filepath.Join(dir, "no", "out.mid"), one()); err == nil || !strings.HasSuffix(err.Error(), "there is no folder "+filepath.Join(dir, "no")) {
		t.Errorf("error %v, want one that says the folder does not exist", err)
	}
}

// drawMessage draws any message that a file can hold.
func drawMessage(t *rapid.T) []byte {
	seven := rapid.SliceOfN(rapid.Byte().Filter(func(b byte) bool { return b < 0x80 }), 2, 2)
	status := rapid.SampledFrom([]byte{0x80, 0x90, 0xA0, 0xB0, 0xC0, 0xD0, 0xE0, 0xF0, 0xF2, 0xF8, 0xFF}).Draw(t, "status")
	data := seven.Draw(t, "data")
	switch {
	case status == metaEvent:
		kind := rapid.SampledFrom([]byte{Text, Marker, TrackName, tempoChange, 0x7F}).Draw(t, "kind")
		return append([]byte{metaEvent, kind}, rapid.SliceOfN(rapid.Byte(), 0, 200).Draw(t, "meta")...)
	case status == sysexStart:
		return append(append([]byte{sysexStart}, data...), sysexEnd)
	case status >= 0xF0:
		return append([]byte{status}, data[:dataBytes(status)]...)
	}
	status |= rapid.ByteRange(0, 15).Draw(t, "channel")
	return append([]byte{status}, data[:dataBytes(status)]...)
}

func drawOutFile(t *rapid.T) OutFile {
	f := OutFile{Division: rapid.IntRange(1, 32767).Draw(t, "division")}
	for range rapid.IntRange(1, 4).Draw(t, "tracks") {
		track := OutTrack{Name: rapid.SampledFrom([]string{"conductor", "bed warm", "größer", "x"}).Draw(t, "name")}
		for range rapid.IntRange(0, 12).Draw(t, "events") {
			track.End += rapid.SampledFrom([]int64{0, 0, 1, 127, 128, 16384, 1 << 21, maxQuantity}).Draw(t, "gap")
			track.Events = append(track.Events, Event{Tick: track.End, Track: uint16(len(f.Tracks)), Data: drawMessage(t)})
		}
		track.End += rapid.Int64Range(0, 1000).Draw(t, "rest")
		f.Tracks = append(f.Tracks, track)
	}
	return f
}

func TestWriteThenRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		out := drawOutFile(t)
		var file bytes.Buffer
		if err := Write(&file, out); err != nil {
			t.Fatal(err)
		}
		f, err := Read("x.mid", &file)
		if err != nil {
			t.Fatal(err)
		}
		var want []Event
		for i, track := range out.Tracks {
			want = append(want, track.Events...)
			if got := f.Tracks[i]; got != (Track{track.Name, track.End}) {
				t.Fatalf("track %d is %v, want %q and end %d", i, got, track.Name, track.End)
			}
		}
		slices.SortStableFunc(want, func(a, b Event) int { return int(a.Tick - b.Tick) })
		if len(want) != len(f.Events) || len(want) > 0 && !reflect.DeepEqual(f.Events, want) {
			t.Fatalf("read %v\nwrote %v", f.Events, want)
		}
		if f.Format != 1 || f.Division != out.Division || f.Skipped != 0 {
			t.Fatalf("format %d, division %d, skipped %d", f.Format, f.Division, f.Skipped)
		}
	})
}

func TestLibraryReadsWhatWeWrite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		out := drawOutFile(t)
		var file bytes.Buffer
		if err := Write(&file, out); err != nil {
			t.Fatal(err)
		}
		theirs, err := smf.ReadFrom(&file)
		if err != nil {
			t.Fatal(err)
		}
		var want [][]channelEvent
		for _, track := range out.Tracks {
			want = append(want, channelEvents(track.Events))
		}
		if got := libraryEvents(theirs); !reflect.DeepEqual(got, want) {
			t.Fatalf("the library reads %v\nwritten were %v", got, want)
		}
	})
}

func TestMidoReadsWhatWeWrite(t *testing.T) {
	out := OutFile{Division: 96, Tracks: []OutTrack{
		{Name: "conductor", End: 5000, Events: []Event{
			{Tick: 0, Data: TempoMeta(833_333)},
			{Tick: 0, Data: KeyMeta(-3, true)},
			{Tick: 0, Data: TimeMeta(6, 3)},
			{Tick: 384, Data: TextMeta(Marker, "chord Fm7")},
		}},
		{Name: "thru", End: 4000, Events: []Event{
			{Tick: 0, Data: []byte{0x90, 60, 1}},
			{Tick: 0, Data: []byte{0x90, 64, 127}},
			{Tick: 200, Data: []byte{0x90, 60, 0}},
			{Tick: 200, Data: []byte{0x80, 64, 64}},
			{Tick: 300, Data: []byte{0xB0, 64, 127}},
			{Tick: 301, Data: []byte{0xE0, 1, 64}},
			{Tick: 4000, Data: []byte{0xD0, 9}},
		}},
		{Name: "bed warm", End: 0x200000, Events: []Event{
			{Tick: 10, Data: []byte{0xF0, 0x7E, 0x7F, 9, 3, 0xF7}},
			{Tick: 10, Data: []byte{0xC1, 89}},
			{Tick: 16394, Data: []byte{0x91, 48, 70}},
			{Tick: 0x200000, Data: []byte{0x81, 48, 0}},
		}},
	}}
	path := filepath.Join(t.TempDir(), "ours.mid")
	if err := WriteFile(path, out); err != nil {
		t.Fatal(err)
	}
	theirs := readback.Read(t, path)
	if theirs.Type != 1 || theirs.Division != 96 || len(theirs.Tracks) != len(out.Tracks) {
		t.Fatalf("mido reads type %d, division %d, %d tracks", theirs.Type, theirs.Division, len(theirs.Tracks))
	}
	for i, track := range out.Tracks {
		want := []readback.Event{{Tick: 0, Data: asMido(TextMeta(TrackName, track.Name))}}
		for _, e := range track.Events {
			want = append(want, readback.Event{Tick: e.Tick, Data: asMido(e.Data)})
		}
		want = append(want, readback.Event{Tick: track.End, Data: []byte{0xFF, 0x2F, 0}})
		if got := theirs.Tracks[i]; got.Name != track.Name || !reflect.DeepEqual(got.Events, want) {
			t.Errorf("mido reads %q %v\nwritten was %q %v", got.Name, got.Events, track.Name, want)
		}
	}
}

// asMido is a message as mido gives it: a meta event with its length.
func asMido(msg []byte) []byte {
	if msg[0] == metaEvent {
		return appendMessage(nil, msg)
	}
	return msg
}
