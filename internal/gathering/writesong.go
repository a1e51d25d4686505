package gathering

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"

	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"go.yaml.in/yaml/v3"
)

// SongText writes a song as an item of a plan's order, every line after indent,
// with the remarks as comments above it. Chords are degrees of the key where numbers
// reads them as what they are, else names; byName writes names throughout.
func SongText(s Song, remarks []string, indent string, numbers harmony.Numbers, byName bool) string {
	var b strings.Builder
	line := func(format string, args ...any) {
		fmt.Fprintf(&b, indent+format+"\n", args...)
	}
	for _, r := range remarks {
		line("# %s", r)
	}
	line("- song: %s", quoted(s.Title))
	line("  key: %s", quoted(s.Key.String()))
	if s.Tempo > 0 {
		line("  tempo: %v", s.Tempo)
	}
	if len(s.Sections) == 0 && !s.First.IsZero() && s.First != harmony.Diatonic(s.Key, 1) {
		line("  first: %s", quoted(chordText(s.First, s.Key, numbers, byName)))
	}
	if s.Starts != "" {
		line("  starts: %s", quoted(s.Starts))
	}
	if len(s.Sections) > 0 {
		line("  sections:")
	}
	for _, section := range s.Sections {
		var chords []string
		for _, c := range section.Chords {
			chords = append(chords, chordText(c, s.Key, numbers, byName))
		}
		line("    %s: %s", quoted(section.Name), quoted(strings.Join(chords, " ")))
	}
	if len(s.Figure) > 0 {
		var notes []string
		for _, n := range s.Figure {
			name := pitch.NoteName(n, s.Key)
			if _, err := pitch.ParseNote(name); err != nil { // as B#-2
				name = pitch.NoteName(n, pitch.Key{})
			}
			notes = append(notes, name)
		}
		line("  figure: %s", quoted(strings.Join(notes, " ")))
	}
	return b.String()
}

// quoted is a text as YAML, in quotes where it needs them. A number stands as it
// is, since the reader takes it as text.
func quoted(s string) string {
	text, err := yaml.Marshal(s)
	if err != nil {
		panic(err) // it is a string
	}
	return strings.TrimSuffix(string(text), "\n")
}

func chordText(c harmony.Chord, k pitch.Key, numbers harmony.Numbers, byName bool) string {
	if degree := c.Degree(k); !byName {
		if read, err := harmony.ParseStep(degree, k, numbers); err == nil && read == c {
			return degree
		}
	}
	return c.Symbol()
}

// AddSongs puts songs at the end of a plan's order and leaves the rest of the file
// as it is, comments and all. The name is for its errors. It refuses a plan that has
// faults, one whose order is written in brackets, and a song whose title is there
// already. Text writes a song after an indent, as [SongText] does.
func AddSongs(name string, data []byte, library Library, songs []Song, text func(s Song, i int, indent string, numbers harmony.Numbers) string) ([]byte, error) {
	g, err := ReadGathering(name, data, library)
	if err != nil {
		return nil, err
	}
	for _, s := range songs {
		for _, there := range g.Songs {
			if strings.EqualFold(s.Title, there.Title) {
				return nil, fmt.Errorf("%s:%d: the song %q is there already: take it out first, or give the new one another title", name, there.Line, there.Title)
			}
		}
	}
	lines := strings.SplitAfter(string(data), "\n")
	at, indent, err := endOfOrder(data, lines)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	var added strings.Builder
	for i, s := range songs {
		added.WriteString("\n" + text(s, i, indent, g.Numbers))
	}
	before := strings.TrimRight(strings.Join(lines[:at], ""), " \t\r\n") + "\n"
	after := strings.Join(lines[at:], "")
	if after != "" {
		after = "\n" + strings.TrimLeft(after, "\r\n")
	}
	whole := []byte(before + added.String() + after)
	again, err := ReadGathering(name, whole, library)
	if err == nil && !slices.EqualFunc(again.Songs, slices.Concat(g.Songs, songs), func(a, b Song) bool { return a.Title == b.Title && a.Key == b.Key }) {
		err = errors.New("the songs would not be its last")
	}
	if err != nil {
		return nil, fmt.Errorf("%s: cannot be added to by itself, so print the songs and paste them under order: (%w)", name, err)
	}
	return whole, nil
}

// endOfOrder is the index of the line before which the next item of the order goes,
// and how far the items are indented.
func endOfOrder(data []byte, lines []string) (at int, indent string, err error) {
	var root yaml.Node
	if err := yaml.Unmarshal(data, &root); err != nil {
		return 0, "", err
	}
	fields := root.Content[0]
	at = len(lines)
	var order *yaml.Node
	for i := 0; i+1 < len(fields.Content); i += 2 {
		switch key := fields.Content[i]; {
		case key.Value == "order":
			order = fields.Content[i+1]
		case order != nil && key.Line <= at:
			at = key.Line - 1
		}
	}
	if order == nil || order.Style&yaml.FlowStyle != 0 || fields.Style&yaml.FlowStyle != 0 || len(order.Content) == 0 {
		return 0, "", errors.New("order is written in brackets: write its items one below the other, each after a dash")
	}
	first := lines[order.Line-1]
	for at > 0 && at < len(lines) && strings.HasPrefix(lines[at-1], "#") {
		at-- // a comment that belongs to what follows
	}
	return at, first[:len(first)-len(strings.TrimLeft(first, " "))], nil
}

// NewPlan is the text of a plan of these songs.
func NewPlan(songs []Song, text func(s Song, i int, indent string, numbers harmony.Numbers) string) []byte {
	var b bytes.Buffer
	b.WriteString("order:\n")
	for i, s := range songs {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(text(s, i, "  ", harmony.FromTonic))
	}
	return b.Bytes()
}
