package score

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"slices"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// maxNotes bounds what a score holds in memory.
const maxNotes = 500_000

// readMusicXML reads MusicXML 4.0 and before (W3C), by parts or by time.
func readMusicXML(data []byte, key *pitch.Key) (Song, error) {
	text, err := toUTF8(data)
	if err != nil {
		return Song{}, err
	}
	x := xmlScore{d: xml.NewDecoder(bytes.NewReader(text)), parts: map[string]*part{}}
	x.d.CharsetReader = charset
	for {
		token, err := x.d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil {
			err = x.token(token)
		}
		if err != nil {
			line, _ := x.d.InputPos()
			return Song{}, fmt.Errorf("line %d: %w", line, plainXMLError(err))
		}
	}
	if !x.rooted {
		return Song{}, errors.New("this is XML, but no MusicXML: the root is neither score-partwise nor score-timewise")
	}
	return x.song(key)
}

func plainXMLError(err error) error {
	var strange strangeEncoding
	if errors.As(err, &strange) {
		return strange
	}
	var syntax *xml.SyntaxError
	if errors.As(err, &syntax) {
		return errors.New("not whole XML: " + syntax.Msg)
	}
	return err
}

// xmlScore walks over the elements of a score, which may be large, without
// keeping them.
type xmlScore struct {
	d         *xml.Decoder
	rooted    bool
	title     string // the work's
	movement  string
	named     string // the id of the part that is being named
	parts     map[string]*part
	order     []*part
	now       *part // the one that is being read
	inMeasure bool
	notes     int
}

func (x *xmlScore) token(token xml.Token) error {
	switch t := token.(type) {
	case xml.StartElement:
		return x.start(t)
	case xml.EndElement:
		switch t.Name.Local {
		case "measure":
			x.inMeasure = false
			if x.now != nil {
				x.now.endBar()
			}
		case "part":
			if x.now != nil && x.inMeasure {
				x.now.endBar()
			}
			x.now = nil
		}
	}
	return nil
}

func (x *xmlScore) start(t xml.StartElement) error {
	switch name := t.Name.Local; name {
	case "score-partwise", "score-timewise":
		x.rooted = true
	case "work-title":
		return x.d.DecodeElement(&x.title, &t)
	case "movement-title":
		return x.d.DecodeElement(&x.movement, &t)
	case "score-part":
		x.named = attribute(t, "id")
	case "part-name":
		if x.named != "" {
			return x.d.DecodeElement(&x.part(x.named).name, &t)
		}
	case "part":
		x.now = x.part(attribute(t, "id"))
	case "measure":
		x.inMeasure = true
	case "attributes", "note", "harmony", "direction", "sound", "backup", "forward":
		if x.now == nil || !x.inMeasure {
			return x.d.Skip()
		}
		return x.now.read(x, name, t)
	case "defaults", "identification", "credit", "print", "figured-bass", "part-group":
		return x.d.Skip()
	}
	return nil
}

func attribute(t xml.StartElement, name string) string {
	for _, a := range t.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// maxParts is more than any orchestra has.
const maxParts = 200

func (x *xmlScore) part(id string) *part {
	if p := x.parts[id]; p != nil {
		return p
	}
	p := &part{divisions: 1, beat: 1, bar: 4}
	if len(x.parts) < maxParts {
		x.parts[id], x.order = p, append(x.order, p)
	}
	return p
}

// melody is the part that sings, else the first that plays.
func (x *xmlScore) melody() *part {
	for _, p := range x.order {
		if p.sung {
			return p
		}
	}
	for _, p := range x.order {
		if len(p.upper) > 1 {
			return p
		}
	}
	return nil
}

func (x *xmlScore) song(given *pitch.Key) (Song, error) {
	s := Song{Title: x.title}
	if s.Title == "" {
		s.Title = x.movement
	}
	var chords []timedChord
	var marks []mark
	for _, p := range x.order {
		if s.Tempo == 0 {
			s.Tempo = p.tempo
		}
		if len(chords) == 0 {
			chords = p.chords
		}
		if len(marks) == 0 {
			marks = p.marks
		}
		for _, text := range p.unread {
			s.remark("a chord is left out: %s", text)
		}
	}
	all := x.allNotes()
	if len(all) == 0 && len(chords) == 0 {
		return Song{}, errors.New("there is neither a note nor a chord in this score")
	}
	if lead := x.melody(); lead != nil {
		upper := make([]note, len(lead.upper))
		for i, n := range lead.upper {
			upper[i] = lead.notes[n]
		}
		s.Figure = phrase(skyline(inOrder(upper)))
	}
	x.settleKey(&s, given, all, chords)
	if len(chords) == 0 {
		beat, bar := x.order[0].beat, x.order[0].bar
		chords = estimate(all, s.Key, beat, bar)
		s.remark("there are no chord symbols: the chords are estimated from the notes")
	}
	slices.SortStableFunc(chords, func(a, b timedChord) int { return compare(a.at, b.at) })
	s.divide(chords, marks)
	return s, nil
}

// divide puts chords under the marks before them.
func (s *Song) divide(chords []timedChord, marks []mark) {
	slices.SortStableFunc(marks, func(a, b mark) int { return compare(a.at, b.at) })
	name := "song"
	if len(marks) > 0 {
		name = "start"
	}
	var now []harmony.Chord
	for _, c := range chords {
		for len(marks) > 0 && marks[0].at <= c.at+1e-3 {
			s.addChords(name, now)
			now, name, marks = nil, marks[0].name, marks[1:]
		}
		now = append(now, c.chord)
	}
	s.addChords(name, now)
}

func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

func inOrder(notes []note) []note {
	slices.SortStableFunc(notes, func(a, b note) int { return compare(a.at, b.at) })
	return notes
}

func (x *xmlScore) allNotes() (all []note) {
	for _, p := range x.order {
		all = append(all, p.notes...)
	}
	return inOrder(all)
}
