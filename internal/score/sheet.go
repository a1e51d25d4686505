package score

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// maxLines bounds a chord sheet.
const maxLines = 20_000

// readSheet reads a text with a line of chords over each line of words, under
// headings such as [Verse], Chorus: or VERSE 2. The first line that is neither is
// the title; Title:, Key: and Tempo: may stand anywhere.
func readSheet(data []byte, given *pitch.Key) (Song, error) {
	text, err := toUTF8(data)
	if err != nil {
		return Song{}, err
	}
	if i := bytes.IndexFunc(text, func(c rune) bool { return c == 0 || c < ' ' && !unicode.IsSpace(c) }); i >= 0 {
		return Song{}, errors.New("this is no MusicXML, no standard MIDI file and no plain text")
	}
	lines := strings.Split(strings.ReplaceAll(decoded(text), "\r\n", "\n"), "\n")
	if len(lines) > maxLines {
		return Song{}, fmt.Errorf("more than %d lines, the most that are read of a chord sheet", maxLines)
	}
	sheet := sheet{section: "song"}
	for i, line := range lines {
		if err := sheet.line(strings.TrimRight(line, " \t\r")); err != nil {
			return Song{}, fmt.Errorf("line %d: %w", i+1, err)
		}
	}
	sheet.close()
	s := &sheet.Song
	if len(s.Sections) == 0 {
		return Song{}, errors.New("there is no line of chords in this text: a line counts as one when every word on it is a chord's name, such as C, F#m7 or Bb/D")
	}
	switch {
	case given != nil:
		s.Key, s.KeyBy = *given, "as given"
	case sheet.key != nil:
		s.Key, s.KeyBy = *sheet.key, "as the sheet says"
	default:
		s.keyByEar(nil, s.all())
	}
	return *s, nil
}

// sheet is a chord sheet as far as it has been read.
type sheet struct {
	Song
	key     *pitch.Key
	section string
	chords  []harmony.Chord
	started bool // a line of words or chords has been
}

var (
	headed  = regexp.MustCompile(`^\s*(?:\[([^\[\]]{1,60})\]|([^:]{1,60}):)\s*$`)
	setting = regexp.MustCompile(`(?i)^\s*(title|key|tempo)\s*[:=]\s*(.+)$`)
	led     = regexp.MustCompile(`^\s*(?:\[([^\[\]]{1,60})\]|([^:]{1,60}):)\s+(\S.*)$`) // Intro: C F
	parts   = regexp.MustCompile(`(?i)^\s*((?:intro|introduction|verse|chorus|refrain|bridge|pre-?chorus|interlude|instrumental|solo|ending|outro|coda|tag|part)\b(?:\s*\d+|\s+[A-Z])?)\s*$`)
	number  = regexp.MustCompile(`\d+(?:\.\d+)?`)
	trailer = regexp.MustCompile(`\s*[\(\[]?\s*(?:[x×]\s*\d+|\d+\s*[x×])\s*[\)\]]?\s*$`) // (2x), x 4
)

func (s *sheet) line(line string) error {
	if strings.TrimSpace(line) == "" {
		return nil
	}
	if m := setting.FindStringSubmatch(line); m != nil {
		return s.set(strings.ToLower(m[1]), strings.TrimSpace(m[2]))
	}
	if chords, ok := chordLine(line); ok {
		s.chords, s.started = append(s.chords, chords...), true
		return nil
	}
	name, rest := heading(line), ""
	if m := led.FindStringSubmatch(line); name == "" && m != nil {
		name, rest = clean(m[1]+m[2]), m[3]
	}
	if chords, ok := chordLine(rest); name != "" && (rest == "" || ok) {
		s.close()
		s.section, s.chords, s.started = name, chords, true
		return nil
	}
	if !s.started && s.Title == "" {
		s.Title = line
	}
	s.started = true
	return nil
}

func (s *sheet) set(what, to string) error {
	switch what {
	case "title":
		s.Title = to
	case "key":
		k, err := pitch.ParseKey(to)
		if err != nil {
			return err
		}
		s.key = &k
	case "tempo":
		perMinute, err := strconv.ParseFloat(number.FindString(to), 64)
		if err != nil || tempo(perMinute) == 0 {
			return fmt.Errorf("tempo %q is not a number of beats a minute, 20 to 300", clean(to))
		}
		s.Tempo = tempo(perMinute)
	}
	return nil
}

func (s *sheet) close() {
	s.addChords(s.section, s.chords)
	s.chords = nil
}

// heading is the name of a section that begins here, or empty.
func heading(line string) string {
	line = trailer.ReplaceAllString(line, "")
	if m := headed.FindStringSubmatch(line); m != nil {
		return clean(m[1] + m[2])
	}
	if m := parts.FindStringSubmatch(line); m != nil {
		return clean(strings.ToLower(m[1]))
	}
	return ""
}

// chordLine reads a line on which every word is a chord, but for bars, repeats
// and N.C.
func chordLine(line string) (chords []harmony.Chord, ok bool) {
	line = trailer.ReplaceAllString(line, "")
	words := strings.FieldsFunc(line, func(r rune) bool { return unicode.IsSpace(r) || strings.ContainsRune("|‖", r) })
	if len(words) > maxChords*4 {
		return nil, false
	}
	for _, w := range words {
		w = strings.Trim(w, ":,;")
		switch {
		case w == "" || w == "%" || w == "/" || w == "-" || w == "–" || w == "." || strings.EqualFold(w, "N.C") || strings.EqualFold(w, "N.C.") || strings.EqualFold(w, "NC"):
			continue
		}
		found, ok := chordWord(w)
		if !ok {
			return nil, false
		}
		chords = append(chords, found...)
	}
	return chords, len(chords) > 0
}

// chordWord reads one word, which may be several chords with dashes between
// them or one in parentheses.
func chordWord(w string) ([]harmony.Chord, bool) {
	if strings.HasPrefix(w, "(") && strings.HasSuffix(w, ")") {
		w = w[1 : len(w)-1]
	}
	if first, _ := utf8.DecodeRuneInString(w); first < 'A' || first > 'G' {
		return nil, false
	}
	chords, err := harmony.ParseProgression(w, pitch.Key{}, harmony.FromTonic)
	return chords, err == nil
}
