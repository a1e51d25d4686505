package score

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bedd/internal/midiio"
)

// smf is a MIDI file of one track with these bytes and an end, at 96 ticks a
// quarter note.
func smf(body string) []byte {
	body += "\x00\xff\x2f\x00"
	n := len(body)
	return []byte("MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60MTrk" + string([]byte{0, 0, byte(n >> 8), byte(n)}) + body)
}

// scaleOf plays eight quarter notes of a scale.
func scaleOf(notes string) (body string) {
	for i := range len(notes) {
		body += "\x00\x90" + notes[i:i+1] + "\x40\x60\x80" + notes[i:i+1] + "\x40"
	}
	return body
}

func TestMIDISignatures(t *testing.T) {
	// E flat major, up and down: 63 65 67 68 70 72 74 75.
	eb := scaleOf("\x3f\x41\x43\x44\x46\x43\x3f\x46\x3f")
	for _, c := range []struct{ name, body, key, by, remark string }{
		{"a signature", "\x00\xff\x59\x02\xfd\x00" + eb, "Eb", "from the signature", ""},
		{"none", eb, "Eb", "guessed from the notes", ""},
		{"the one that programs write by themselves", "\x00\xff\x59\x02\x00\x00" + eb, "Eb", "guessed from the notes", "the signature is that of C major, but what sounds is not: the key is guessed"},
		{"one that is none", "\x00\xff\x59\x02\x20\x00" + eb, "Eb", "guessed from the notes", ""},
		{"one with too few bytes", "\x00\xff\x59\x01\x20" + eb, "Eb", "guessed from the notes", ""},
	} {
		s, err := Read("x.mid", smf(c.body), nil)
		if err != nil || s.Key != mustKey(t, c.key) || s.KeyBy != c.by || !strings.Contains(strings.Join(s.Remarks, "; "), c.remark) {
			t.Errorf("%s: %v %s, %q, %v", c.name, s.Key, s.KeyBy, s.Remarks, err)
		}
	}
}

func TestMarkersAreSections(t *testing.T) {
	s, err := Read("x.mid", smf("\x00\xff\x06\x05Verse"+scaleOf("\x30\x34\x37\x30")+"\x00\xff\x06\x06Chorus"+scaleOf("\x35\x39\x3c\x35")), nil)
	if err != nil || len(s.Sections) != 2 || s.Sections[0].Name != "Verse" || symbols(s.Sections[0].Chords) != "C" || s.Sections[1].Name != "Chorus" || symbols(s.Sections[1].Chords) != "F" {
		t.Errorf("%+v, %v", s, err)
	}
}

func TestDrumsAreNoMusic(t *testing.T) {
	_, err := Read("x.mid", smf("\x00\x99\x24\x40\x60\x89\x24\x40"), nil)
	if want := "x.mid: there is no note in this MIDI file, but for drums"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

func TestBadMIDIIsExplained(t *testing.T) {
	if _, err := Read("x.mid", []byte("MThd"), nil); err == nil || !strings.HasPrefix(err.Error(), "x.mid: ") {
		t.Errorf("got %v", err)
	}
	if s, err := Read("x.mid", append([]byte("RIFF\x00\x00\x00\x00RMIDdata\x00\x00\x00\x00"), smf(scaleOf("\x3c\x40\x43\x3c"))...), nil); err != nil || s.Key != mustKey(t, "C") {
		t.Errorf("inside RIFF: %+v, %v", s, err)
	}
}

func FuzzMIDI(f *testing.F) {
	f.Add(smf(scaleOf("\x3c\x40\x43\x3c")))
	f.Add(smf("\x00\xff\x58\x04\x06\x03\x18\x08\x00\x90\x3c\x40"))
	files, err := filepath.Glob("testdata/songs/0*.mid")
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if !bytes.HasPrefix(data, []byte("MThd")) || len(data) > midiio.MaxFileBytes {
			return
		}
		s, err := Read("x", data, nil)
		checkSong(t, s, err)
	})
}

// Estimating has a bound, however long a file says that its notes are.
func BenchmarkEstimateLongest(b *testing.B) {
	notes := []note{{60, 0, 1e7}, {64, 0, 1e7}}
	for i := range 100_000 {
		notes = append(notes, note{60 + i%12, float64(i), 1})
	}
	for b.Loop() {
		estimate(notes, mustKey(b, "C"), 1, 4)
	}
}
