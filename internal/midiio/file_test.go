package midiio

import (
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"testing"
	"testing/iotest"
)

// unhex reads hexadecimal bytes with spaces between them.
func unhex(t testing.TB, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.Join(strings.Fields(s), ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

const (
	head0 = "4D546864 00000006 0000 0001 01E0" // format 0, division 480
	mtrk  = "4D54726B"
)

// oneTrack is a format 0 file whose only track has the given bytes.
func oneTrack(t testing.TB, body string) []byte {
	t.Helper()
	b := unhex(t, body)
	return append(unhex(t, head0+mtrk+fmt.Sprintf("%08X", len(b))), b...)
}

// golden is a file that two unrelated libraries write identically: division
// 480, format 1, C minor, the marker "Cm", and on channel 2 the note 60 with
// velocity 80 held for 0x200000 ticks.
const golden = `4D 54 68 64 00 00 00 06 00 01 00 01 01 E0 4D 54 72 6B 00 00 00 1B
	00 FF 59 02 FD 01 00 FF 06 02 43 6D 00 91 3C 50 81 80 80 00 81 3C 00 00 FF 2F 00`

func events(f *File) string {
	var s []string
	for _, e := range f.Events {
		s = append(s, fmt.Sprintf("%d/%d:%X", e.Tick, e.Track, e.Data))
	}
	return strings.Join(s, " ")
}

func TestReadGolden(t *testing.T) {
	f, err := Read("golden.mid", bytes.NewReader(unhex(t, golden)))
	if err != nil {
		t.Fatal(err)
	}
	want := "0/0:FF59FD01 0/0:FF06436D 0/0:913C50 2097152/0:813C00"
	if got := events(f); got != want {
		t.Errorf("events %s, want %s", got, want)
	}
	if f.Format != 1 || f.Division != 480 || !reflect.DeepEqual(f.Tracks, []Track{{End: 2097152}}) {
		t.Errorf("format %d, division %d, tracks %v", f.Format, f.Division, f.Tracks)
	}
}

// good are tracks that are read, and what is read of them. The rules for
// running status and for SysEx are those of the MIDI 1.0 and the Standard MIDI
// Files 1.0 specifications (from memory where marked).
var good = []struct {
	name, body, events string
	end                int64
	skipped            int
}{
	{"running status", "00 90 3C 40 10 3E 41 00 FF 2F 00", "0/0:903C40 16/0:903E41", 16, 0},
	{"running status with one data byte", "00 C1 05 00 06 00 FF 2F 00", "0/0:C105 0/0:C106", 0, 0},
	{"velocity 0 is kept", "00 90 3C 40 60 3C 00 00 FF 2F 00", "0/0:903C40 96/0:903C00", 96, 0},
	{"release velocity is kept", "00 80 3C 33 00 FF 2F 00", "0/0:803C33", 0, 0},
	{"pitch bend, pressures", "00 E0 00 40 00 D0 11 00 A0 3C 12 00 FF 2F 00", "0/0:E00040 0/0:D011 0/0:A03C12", 0, 0},
	{"no end of track", "00 90 3C 40 10 80 3C 40", "0/0:903C40 16/0:803C40", 16, 0},
	{"end of track later than the last event", "00 90 3C 40 87 40 FF 2F 00", "0/0:903C40", 960, 0},
	{"events after the end of track", "00 FF 2F 00 00 90 3C 40 FF FF FF FF FF", "", 0, 0},
	{"an empty track", "", "", 0, 0},
	{"track name at 0, another one later", "00 FF 03 02 4C 48 10 FF 03 01 41 00 FF 2F 00", "16/0:FF0341", 16, 0},
	{"track name later than at 0", "10 FF 03 01 41 00 FF 2F 00", "16/0:FF0341", 16, 0},
	{"a second track name at 0", "00 FF 03 00 00 FF 03 01 41 00 FF 2F 00", "0/0:FF0341", 0, 0},
	{"SysEx", "00 F0 04 7E 09 01 F7 00 FF 2F 00", "0/0:F07E0901F7", 0, 0},
	{"SysEx in three packets", "00 F0 02 7E 09 10 F7 01 01 10 F7 02 02 F7 00 FF 2F 00", "32/0:F07E090102F7", 32, 0},
	{"SysEx in packets around a meta event", "00 F0 01 7E 10 FF 01 01 41 10 F7 02 02 F7 00 FF 2F 00", "16/0:FF0141 32/0:F07E02F7", 32, 0},
	{"SysEx that nothing ends", "00 F0 02 7E 09 10 90 3C 40 00 FF 2F 00", "0/0:F07E09F7 16/0:903C40", 16, 0},
	{"SysEx that the track's end ends", "00 F0 02 7E 09 10 FF 2F 00", "0/0:F07E09F7", 16, 0},
	{"SysEx that its bytes' end ends", "00 F0 02 7E 09", "0/0:F07E09F7", 0, 0},
	{"SysEx after a SysEx that nothing ends", "00 F0 01 01 00 F0 02 02 F7 00 FF 2F 00", "0/0:F001F7 0/0:F002F7", 0, 0},
	{"empty SysEx", "00 F0 00 00 FF 2F 00", "0/0:F0F7", 0, 0},
	{"SysEx with a status inside", "00 F0 03 01 90 F7 00 90 3C 40 00 FF 2F 00", "0/0:903C40", 0, 1},
	{"escaped song select", "00 F7 02 F3 01 00 FF 2F 00", "0/0:F301", 0, 0},
	{"escaped clock", "00 F7 01 F8 00 FF 2F 00", "0/0:F8", 0, 0},
	{"escaped note", "00 F7 03 90 3C 40 00 FF 2F 00", "0/0:903C40", 0, 0},
	{"escaped SysEx", "00 F7 04 F0 01 02 F7 00 FF 2F 00", "0/0:F00102F7", 0, 0},
	{"escaped part, two messages, reset, nothing", "00 F7 01 40 00 F7 02 F8 F8 00 F7 01 FF 00 F7 00 00 FF 2F 00", "", 0, 4},
	{"longest delta", "FF FF FF 7F 90 3C 40 00 FF 2F 00", "268435455/0:903C40", 268435455, 0},
	{"quantity with leading zeros", "80 80 80 05 90 3C 40 00 FF 2F 00", "5/0:903C40", 5, 0},
	{"unknown meta event", "00 FF 7F 03 00 01 02 00 FF 2F 00", "0/0:FF7F000102", 0, 0},
}

func TestReadTracks(t *testing.T) {
	for _, c := range good {
		t.Run(c.name, func(t *testing.T) {
			f, err := Read("x.mid", bytes.NewReader(oneTrack(t, c.body)))
			if err != nil {
				t.Fatal(err)
			}
			if got := events(f); got != c.events {
				t.Errorf("events %s, want %s", got, c.events)
			}
			if f.Tracks[0].End != c.end || f.Skipped != c.skipped {
				t.Errorf("ends at %d, skipped %d; want %d, %d", f.Tracks[0].End, f.Skipped, c.end, c.skipped)
			}
		})
	}
}

func TestReadTrackName(t *testing.T) {
	f, err := Read("x.mid", bytes.NewReader(oneTrack(t, "00 FF 03 02 4C 48 10 FF 03 01 41 00 FF 2F 00")))
	if err != nil {
		t.Fatal(err)
	}
	if f.Tracks[0].Name != "LH" {
		t.Errorf("name %q, want LH", f.Tracks[0].Name)
	}
}

// Equal ticks: tracks in order, and within a track the order of the file.
func TestReadMergesTracks(t *testing.T) {
	file := unhex(t, "4D546864 00000006 0001 0002 0060"+
		mtrk+"0000000E 05 90 3C 40 00 3C 00 05 3C 40 00 FF 2F 00"+
		"58585858 00000003 01 02 03"+ // an unknown chunk between tracks
		mtrk+"0000000F 00 91 01 01 05 01 00 00 02 02 0A FF 2F 00 00"+
		"58585858 00000001 07"+ // and after them
		"4D") // and what starts like a track but is none
	f, err := Read("x.mid", bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	want := "0/1:910101 5/0:903C40 5/0:903C00 5/1:910100 5/1:910202 10/0:903C40"
	if got := events(f); got != want {
		t.Errorf("events %s, want %s", got, want)
	}
	if want := []Track{{End: 10}, {End: 15}}; !reflect.DeepEqual(f.Tracks, want) {
		t.Errorf("tracks %v, want %v", f.Tracks, want)
	}
}

// A longer header is read by its length (Standard MIDI Files 1.0 asks for it).
func TestReadLongerHeader(t *testing.T) {
	file := unhex(t, "4D546864 00000008 0000 0001 01E0 AA BB"+mtrk+"00000004 00 FF 2F 00")
	if _, err := Read("x.mid", bytes.NewReader(file)); err != nil {
		t.Error(err)
	}
}

// bad are files that are refused, with the whole text of the error.
var bad = []struct{ name, file, err string }{
	{"empty", "", `byte 0: nothing there; a standard MIDI file starts with "MThd"`},
	{"not MIDI", "89 50 4E 47 0D 0A", `byte 0: not a standard MIDI file: starts with "\x89PNG", not with "MThd"`},
	{"RIFF", "52494646 20000000 524D4944", `byte 0: a MIDI file wrapped in RIFF is not read: save it again as a plain standard MIDI file`},
	{"cut in the magic", "4D 54", `byte 2: the file ends inside its header, which takes 14 bytes`},
	{"cut in the header", "4D546864 00000006 0001", `byte 10: the file ends inside its header, which takes 14 bytes`},
	{"short header", "4D546864 00000004 0000 0001 0000", `byte 4: the header says it is 4 bytes long, it takes 6 or more`},
	{"huge header", "4D546864 FFFFFFFF 0000 0001 01E0", `byte 4: the header says it is 4294967295 bytes long, but 6 are left`},
	{"format 2", "4D546864 00000006 0002 0001 01E0", `byte 8: format 2 (patterns without a common time) is not read: save it again as format 0 or 1`},
	{"format 3", "4D546864 00000006 0003 0001 01E0", `byte 8: format 3 is unknown: 0 and 1 are read`},
	{"no tracks", "4D546864 00000006 0001 0000 01E0", `byte 10: the header says there are no tracks`},
	{"format 0 with two tracks", "4D546864 00000006 0000 0002 01E0", `byte 10: format 0 has one track, but the header says 2`},
	{"SMPTE", "4D546864 00000006 0000 0001 E728", `byte 12: uses SMPTE time (division E728); bedd reads ticks per quarter note: save it again with that`},
	{"division 0", "4D546864 00000006 0000 0001 0000", `byte 12: a division of 0 ticks per quarter note; 1…32767 is read`},
	{"no track at all", head0, `byte 14: the file ends after 0 of 1 tracks`},
	{"cut in a track's head", head0 + mtrk + "0000", `byte 20: the file ends inside the head of a chunk, after 0 of 1 tracks`},
	{"65535 tracks", "4D546864 00000006 0001 FFFF 01E0" + mtrk + "00000004 00FF2F00", `byte 26: the file ends after 1 of 65535 tracks`},
	{"more tracks than said", head0 + mtrk + "00000004 00FF2F00" + mtrk + "00000004 00FF2F00", `byte 26: another track, but the header says there are 1`},
	{"huge track", head0 + mtrk + "FFFFFFFF 00 90 3C 40 10 3C 00 00 FF 2F 00 00", `byte 18: track 1 says it is 4294967295 bytes long, but 12 are left`},
	{"huge unknown chunk", head0 + "58595A20 7FFFFFFF 00", `byte 18: chunk "XYZ " says it is 2147483647 bytes long, but 1 are left`},
	{"cut in a delta", head0 + mtrk + "00000001 81", `byte 23: track 1: ends where a delta time is expected`},
	{"cut before a status", head0 + mtrk + "00000001 00", `byte 23: track 1: ends where a status is expected`},
	{"cut in a note", head0 + mtrk + "00000003 00 90 3C", `byte 25: track 1: ends where a data byte is expected`},
	{"cut before a meta type", head0 + mtrk + "00000002 00 FF", `byte 24: track 1: ends where the type of a meta event is expected`},
	{"cut before a meta length", head0 + mtrk + "00000003 00 FF 01", `byte 25: track 1: ends where a length is expected`},
	{"huge meta event", head0 + mtrk + "00000007 00 FF 01 FF FF FF 7F", `byte 25: track 1: a meta event says it is 268435455 bytes long, but 0 are left`},
	{"meta event over the end of its track", head0 + mtrk + "00000004 00 FF 01 01" + "00", `byte 25: track 1: a meta event says it is 1 bytes long, but 0 are left`},
	{"huge SysEx", head0 + mtrk + "00000008 00 F0 FF FF FF 7F 01 F7", `byte 24: track 1: a SysEx says it is 268435455 bytes long, but 2 are left`},
	{"huge escape", head0 + mtrk + "00000004 00 F7 05 F8", `byte 24: track 1: an escape says it is 5 bytes long, but 1 are left`},
	{"fifth byte of a delta", head0 + mtrk + "00000008 81 80 80 80 00 90 3C 40", `byte 22: track 1: a delta time goes on after four bytes, the most it may have`},
	{"fifth byte of a length", head0 + mtrk + "00000008 00 FF 01 80 80 80 80 00", `byte 25: track 1: a length goes on after four bytes, the most it may have`},
	{"data without status", head0 + mtrk + "00000003 00 3C 40", `byte 23: track 1: 3C where a status (80…EF, F0, F7 or FF) is expected`},
	{"running status over a meta event", head0 + mtrk + "0000000B 00 90 3C 40 00 FF 01 00 00 3C 00", `byte 31: track 1: 3C where a status (80…EF, F0, F7 or FF) is expected`},
	{"running status over a SysEx", head0 + mtrk + "0000000B 00 90 3C 40 00 F0 01 F7 00 3C 00", `byte 31: track 1: 3C where a status (80…EF, F0, F7 or FF) is expected`},
	{"running status into the next track", "4D546864 00000006 0001 0002 01E0" + mtrk + "00000004 00 90 3C 40" + mtrk + "00000003 00 3C 00", `byte 35: track 2: 3C where a status (80…EF, F0, F7 or FF) is expected`},
	{"clock in a track", head0 + mtrk + "00000002 00 F8", `byte 23: track 1: F8 where a status (80…EF, F0, F7 or FF) is expected`},
	{"status among data", head0 + mtrk + "00000004 00 90 3C 9C", `byte 25: track 1: 9C where a data byte (00…7F) is expected`},
}

func TestReadRefuses(t *testing.T) {
	for _, c := range bad {
		t.Run(c.name, func(t *testing.T) {
			f, err := Read("demo.mid", bytes.NewReader(unhex(t, c.file)))
			if want := "demo.mid: " + c.err; err == nil || err.Error() != want {
				t.Errorf("read %v\nerror %v\nwant  %s", f, err, want)
			}
		})
	}
}

// A file that is cut anywhere is refused, unless what is left makes a file
// because only the end of a track is missing, which cuts its chunk short too.
func TestReadRefusesAnyCut(t *testing.T) {
	whole := unhex(t, golden)
	for n := range whole {
		if _, err := Read("cut.mid", bytes.NewReader(whole[:n])); err == nil {
			t.Errorf("read the first %d of %d bytes", n, len(whole))
		}
	}
}

func TestReadFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "demo.mid")
	if err := os.WriteFile(path, unhex(t, golden), 0o600); err != nil {
		t.Fatal(err)
	}
	if f, err := ReadFile(path); err != nil || len(f.Events) != 4 {
		t.Errorf("read %v, %v", f, err)
	}
	if err := os.WriteFile(path, []byte("hello"), 0o600); err != nil {
		t.Fatal(err)
	}
	want := `demo.mid: byte 0: not a standard MIDI file: starts with "hell", not with "MThd"`
	if _, err := ReadFile(path); err == nil || err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
	if _, err := ReadFile(path + ".not"); !os.IsNotExist(err) {
		t.Errorf("error %v, want one that says the file does not exist", err)
	}
}

func TestReadPassesErrorsOn(t *testing.T) {
	r := io.MultiReader(bytes.NewReader(unhex(t, head0)), iotest.ErrReader(io.ErrClosedPipe))
	_, err := Read("x.mid", r)
	if want := "x.mid: byte 14: " + io.ErrClosedPipe.Error(); !errors.Is(err, io.ErrClosedPipe) || err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
}

// filler is a file of MaxFileBytes or a little less: the given events, as often as
// they fit, at most n times, and the rest one meta event.
func filler(t testing.TB, first, event string, n int) []byte {
	t.Helper()
	e := unhex(t, event)
	body := unhex(t, first)
	limit := MaxFileBytes - 22
	for range n {
		if len(body)+len(e) > limit {
			break
		}
		body = append(body, e...)
	}
	if n := limit - len(body) - 7; n >= 0 {
		body = append(body, 0, metaEvent, Text, byte(n>>21)|0x80, byte(n>>14)|0x80, byte(n>>7)|0x80, byte(n&0x7F))
		body = append(body, make([]byte, n)...)
	}
	return append(unhex(t, head0+mtrk+fmt.Sprintf("%08X", len(body))), body...)
}

// worst are the files that ask for most memory.
func worst(t testing.TB) map[string][]byte {
	manyTracks := unhex(t, "4D546864 00000006 0001 FFFF 01E0")
	for range 65535 {
		manyTracks = append(manyTracks, unhex(t, mtrk+"0000000C 00 FF 03 01 41 00 90 3C 40 00 3C 00")...)
	}
	return map[string][]byte{
		"most events":        filler(t, "00 C0 00", "00 01", MaxEvents-2),
		"too many events":    filler(t, "00 C0 00", "00 01", MaxFileBytes),
		"one SysEx":          filler(t, "00 F0 01 01", "00 F7 04 01 01 01 01", MaxFileBytes),
		"many short SysEx":   filler(t, "00 F0 01 01", "00 F0 05 01 01 01 01 F7", MaxFileBytes),
		"one meta event":     filler(t, "", "", 0),
		"tempo events":       filler(t, "", "01 FF 51 03 07 A1 20", MaxEvents-1),
		"one byte too large": make([]byte, MaxFileBytes+1),
		"endless":            make([]byte, 4*MaxFileBytes),
		"most tracks":        manyTracks,
	}
}

// All that is ever allocated stays under 64 MiB, so what is held at once does.
func TestReadMemory(t *testing.T) {
	const limit = 64 << 20
	for name, file := range worst(t) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		f, err := Read("big.mid", bytes.NewReader(file))
		if err == nil {
			f.Tempo()
		}
		runtime.ReadMemStats(&after)
		used := after.TotalAlloc - before.TotalAlloc
		t.Logf("%s: %.1f MiB for %.1f MiB, error %v", name, float64(used)/(1<<20), float64(len(file))/(1<<20), err)
		if used > limit {
			t.Errorf("%s: %d bytes allocated, more than %d", name, used, limit)
		}
	}
}

func TestReadLimits(t *testing.T) {
	files := worst(t)
	if f, err := Read("big.mid", bytes.NewReader(files["most events"])); err != nil || len(f.Events) != MaxEvents {
		t.Errorf("the most events: error %v", err)
	}
	_, err := Read("big.mid", bytes.NewReader(files["too many events"]))
	if want := "big.mid: byte 1000024: track 1: more than 500000 events, the most that are read"; err == nil || err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
	_, err = Read("big.mid", bytes.NewReader(files["one byte too large"]))
	if want := "big.mid: larger than 4194304 bytes, the most that is read"; err == nil || err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
	late := oneTrack(t, strings.Repeat("FF FF FF 7F FF 01 00", 1025))
	_, err = Read("late.mid", bytes.NewReader(late))
	if want := "late.mid: byte 7190: track 1: goes past tick 274877906944, the last that is read"; err == nil || err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
}

func BenchmarkReadMostEvents(b *testing.B) {
	file := worst(b)["most events"]
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read("big.mid", bytes.NewReader(file)); err != nil {
			b.Fatal(err)
		}
	}
}

// Sorting is at its worst with as many tracks as may be, all at once.
func BenchmarkReadMostTracks(b *testing.B) {
	file := worst(b)["most tracks"]
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read("big.mid", bytes.NewReader(file)); err != nil {
			b.Fatal(err)
		}
	}
}
