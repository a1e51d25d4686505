package gathering

import (
	"bedd/internal/harmony"

	"go.yaml.in/yaml/v3"
)

// maxSections bounds a song.
const maxSections = 32

func (p *planReader) song(n *yaml.Node) {
	s := Song{Line: n.Line}
	var first, figure string
	var sections []writtenSection
	keyed := false
	said := p.mapping(n, "a song",
		field{"song", p.text("song", &s.Title)},
		field{"key", p.key(&s.Key, &keyed)},
		field{"tempo", p.part("tempo", 20, 300, &s.Tempo)},
		field{"first", p.text("first", &first)},
		field{"starts", p.text("starts", &s.Starts)},
		field{"sections", p.sections(&sections)},
		field{"figure", p.text("figure", &figure)},
	)
	p.need(n, said, "key", "a song has a key:")
	s.NoKey = !keyed
	if keyed {
		s.First = harmony.Diatonic(s.Key, 1)
		for _, w := range sections {
			if chords := p.progression(w.line, w.name, w.chords, s.Key, p.numbers); chords != nil {
				s.Sections = append(s.Sections, Section{Name: w.name, Chords: chords, Line: w.line})
			}
		}
		if len(s.Sections) > 0 {
			s.First = s.Sections[0].Chords[0]
		}
		if first != "" {
			chord, err := harmony.ParseStep(first, s.Key, p.numbers)
			if err != nil {
				p.fault(said.line("first"), "first: %v", err)
			} else {
				s.First = chord
			}
		}
		if figure != "" {
			var err error
			if s.Figure, err = ParseFigure(figure, s.Key, p.numbers); err != nil {
				p.fault(said.line("figure"), "figure: %v", err)
			}
		}
	}
	p.g.Songs = append(p.g.Songs, s)
}

// writtenSection is a section before its song's key is known.
type writtenSection struct {
	name, chords string
	line         int
}

// sections reads a progression for each name, in the order of the file.
func (p *planReader) sections(to *[]writtenSection) func(*yaml.Node) {
	return func(n *yaml.Node) {
		if n.Kind != yaml.MappingNode {
			p.fault(n.Line, "sections are written as a name, a colon and chords each, not as %s", kindOf(n))
			return
		}
		if len(n.Content) > 2*maxSections {
			p.fault(n.Line, "sections has %d items: at most %d are read", len(n.Content)/2, maxSections)
			return
		}
		p.each(n, func(name string, key, value *yaml.Node) {
			var w writtenSection
			p.text("a section's name", &w.name)(key)
			if isNull(value) && value.LineComment == "" {
				value.LineComment = key.LineComment // where the parser puts it
			}
			p.text("section "+clip(name), &w.chords)(value)
			if w.line = value.Line; w.name != "" && w.chords != "" {
				*to = append(*to, w)
			}
		})
	}
}
