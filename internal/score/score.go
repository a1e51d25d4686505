// Package score reads what a plan needs of a song from MusicXML, MIDI files and
// chord sheets.
package score

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Song is what a file says of a song.
type Song struct {
	Title    string
	Key      pitch.Key
	KeyBy    string  // where the key is from, in words
	Tempo    float64 // beats a minute, or 0 where the file does not say
	Sections []Section
	Figure   []int    // the first notes of the melody, MIDI note numbers, or none
	Remarks  []string // what the reader should look at, in words
}

// Section is a part of a song, such as its verse.
type Section struct {
	Name   string
	Chords []harmony.Chord
}

func (s *Song) remark(format string, args ...any) {
	if text := fmt.Sprintf(format, args...); !slices.Contains(s.Remarks, text) {
		s.Remarks = append(s.Remarks, text)
	}
}

// maxBytes bounds a file, and what a compressed one may hold: a full orchestral
// score is a tenth of it.
const maxBytes = 16 << 20

// Bounds of what is taken from a file.
const (
	maxSections = 32
	maxChords   = 64 // in a section, as harmony reads a progression
)

// ReadFile reads a song as [Read] does; the title is the file's name where the
// file has none.
func ReadFile(path string, key *pitch.Key) (Song, error) {
	f, err := os.Open(path)
	if err != nil {
		return Song{}, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxBytes+1))
	if err != nil {
		return Song{}, err
	}
	return Read(filepath.Base(path), data, key)
}

// Read reads a song from a MusicXML file, plain or compressed, a standard MIDI
// file, or a text with lines of chords over lines of words; it tells them apart
// by what is in them. A key that is given counts in place of the file's own.
// Errors start with the name.
func Read(name string, data []byte, key *pitch.Key) (Song, error) {
	switch {
	case len(data) == 0:
		return Song{}, fmt.Errorf("%s: the file is empty", name)
	case len(data) > maxBytes:
		return Song{}, fmt.Errorf("%s: larger than %d bytes, the most that is read", name, maxBytes)
	}
	read := readSheet
	switch text := string(data[:min(len(data), 512)]); {
	case strings.HasPrefix(text, "PK\x03\x04"):
		read = readCompressed
	case strings.HasPrefix(text, "MThd"), strings.HasPrefix(text, "RIFF"):
		read = readMIDI
	case looksLikeXML(text):
		read = readMusicXML
	case looksLikeABC(text):
		return Song{}, fmt.Errorf("%s: this is ABC notation, which is not read: save the tune as MusicXML or as a MIDI file", name)
	}
	song, err := read(data, key)
	if err != nil {
		return Song{}, fmt.Errorf("%s: %w", name, err)
	}
	for _, title := range []string{strings.TrimSuffix(name, filepath.Ext(name)), "a song"} {
		if song.Title = clean(song.Title); song.Title == "" {
			song.Title = title
		}
	}
	return song, nil
}

func looksLikeXML(text string) bool {
	text = strings.TrimLeft(strings.TrimPrefix(text, "\ufeff"), " \t\r\n")
	return strings.HasPrefix(text, "<") || strings.HasPrefix(text, "\xff\xfe<") || strings.HasPrefix(text, "\xfe\xff\x00<")
}

func looksLikeABC(text string) bool {
	return strings.HasPrefix(text, "X:") || strings.HasPrefix(text, "%abc") || strings.Contains(text, "\nX:") && strings.Contains(text, "\nK:")
}

// maxTitle is as much of a title as a plan takes.
const maxTitle = 400

// clean is text on one line without what cannot be shown.
func clean(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == '\u007f' || r >= '\u0080' && r < '\u00a0' || r == '\ufffd' {
			return ' '
		}
		return r
	}, s)
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > maxTitle {
		s = string(r[:maxTitle])
	}
	return s
}

// addChords puts chords under a section's name: one that goes on from one bar to
// the next is one chord, and what is played several times stands there once.
func (s *Song) addChords(name string, chords []harmony.Chord) {
	chords = cycle(slices.Compact(slices.Clone(chords)))
	if len(chords) == 0 {
		return
	}
	if len(chords) > maxChords {
		s.remark("%s: its first %d of %d chords are taken", name, maxChords, len(chords))
		chords = chords[:maxChords]
	}
	for _, other := range s.Sections {
		if slices.Equal(other.Chords, chords) && sameName(other.Name, name) {
			return
		}
	}
	if len(s.Sections) == maxSections {
		s.remark("more than %d sections: the first ones are taken", maxSections)
		return
	}
	s.Sections = append(s.Sections, Section{s.freeName(name), chords})
}

// sameName reports whether two headings name the same part, as Verse 1 and Verse 2
// do.
func sameName(a, b string) bool {
	cut := func(s string) string { return strings.ToLower(strings.TrimRight(s, " 0123456789")) }
	return cut(a) == cut(b)
}

// freeName is the name, or the name with a number where there is one already.
func (s *Song) freeName(name string) string {
	taken := func(n string) bool {
		return slices.ContainsFunc(s.Sections, func(o Section) bool { return strings.EqualFold(o.Name, n) })
	}
	free := name
	for i := 2; taken(free); i++ {
		free = fmt.Sprintf("%s %d", name, i)
	}
	return free
}

// cycle is the shortest beginning that, played over and over, is all of it.
func cycle(chords []harmony.Chord) []harmony.Chord {
	for n := 1; n <= len(chords)/2; n++ {
		if len(chords)%n == 0 && slices.Equal(chords[n:], chords[:len(chords)-n]) {
			return chords[:n]
		}
	}
	return chords
}

// all is every chord of the song in order.
func (s *Song) all() (chords []harmony.Chord) {
	for _, section := range s.Sections {
		chords = append(chords, section.Chords...)
	}
	return chords
}
