package review

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Entry is one thing that happened, as other programs get it. Times are seconds from
// the start, notes MIDI numbers.
type Entry struct {
	At        float64 `json:"at_s"`
	Kind      string  `json:"kind"` // moment, bring-in, silence, chord, place (the chord goes on from there), order, press, cue, or a notice's kind
	What      string  `json:"what"`
	Lasts     float64 `json:"lasts_s,omitempty"` // moment, chord, silence: the bed before it
	Degree    string  `json:"degree,omitempty"`
	Key       string  `json:"key,omitempty"`
	Place     string  `json:"place,omitempty"`
	Bass      *int    `json:"bass,omitempty"`
	Upper     []int   `json:"upper,omitempty"`
	Held      []int   `json:"held,omitempty"`
	New       []int   `json:"struck,omitempty"`
	Ended     []int   `json:"released,omitempty"`
	Intensity float64 `json:"intensity,omitempty"`
	Source    string  `json:"source,omitempty"`
}

// Entries gives what happened, in order of time.
func (s *Session) Entries() []Entry {
	list := []Entry{}
	for _, v := range s.Visits {
		list = append(list, Entry{At: v.From.Seconds(), Kind: "moment", What: s.MomentTitle(v.Moment), Lasts: (v.To - v.From).Seconds()})
	}
	for _, c := range s.Cues {
		list = append(list, Entry{At: c.At.Seconds(), Kind: "cue", What: c.Words})
	}
	for _, p := range s.Feet {
		list = append(list, Entry{At: p.At.Seconds(), Kind: "press", What: p.Command.String()})
	}
	for _, o := range s.Orders {
		list = append(list, Entry{At: o.At.Seconds(), Kind: "order", What: o.Words})
	}
	for i, c := range s.Chords {
		e := c.entry()
		if e.Lasts = s.lasts(i).Seconds(); c.Same {
			e = Entry{At: e.At, Kind: "place", What: e.Place}
		}
		list = append(list, e)
	}
	for _, n := range s.Notices {
		list = append(list, Entry{At: n.At.Seconds(), Kind: n.Kind, What: n.Words})
	}
	for _, b := range s.Beds {
		list = append(list, Entry{At: b.To.Seconds(), Kind: "silence", What: "the bed is silent", Lasts: (b.To - b.From).Seconds()})
	}
	slices.SortStableFunc(list, func(a, b Entry) int { return compare(a.At, b.At) })
	return list
}

func (c Chord) entry() Entry {
	e := Entry{At: c.From.Seconds(), Kind: "chord", What: c.Symbol, Degree: c.Degree, Key: c.Key, Place: c.Place.String(),
		Upper: ints(c.Upper), Held: ints(c.Held), New: ints(c.New), Ended: ints(c.Ended), Intensity: c.Intensity, Source: c.Source.String()}
	if c.Bass >= 0 {
		e.Bass = &c.Bass
	}
	return e
}

func ints(notes []uint8) []int {
	out := []int{}
	for _, n := range notes {
		out = append(out, int(n))
	}
	return out
}

// Head is what other programs get to know of a session as a whole.
type Head struct {
	Name    string     `json:"name"`
	Title   string     `json:"title,omitempty"`
	Rig     string     `json:"rig,omitempty"`
	Version string     `json:"bedd,omitempty"`
	Start   *time.Time `json:"began,omitempty"`
	From    string     `json:"goes_on_from,omitempty"`
	Ended   bool       `json:"ended"` // as it should
	Notes   []string   `json:"notes"`
}

// Told is a session for other programs.
type Told struct {
	Session  Head     `json:"session"`
	Figures  Figures  `json:"figures"`
	Advice   []string `json:"advice"`
	Timeline []Entry  `json:"timeline"`
}

// Told gives a session for other programs.
func (s *Session) Told() Told {
	h := Head{Name: s.Name, Title: s.Title, Rig: s.Rig, Version: s.Version, From: s.From, Ended: s.Ended != "", Notes: append([]string{}, s.Notes...)}
	if !s.Start.IsZero() {
		h.Start = &s.Start
	}
	f := s.Sum()
	return Told{h, f, Advice(s, f), s.Entries()}
}

// JSON writes a session as JSON, beside another one where one is given.
func (s *Session) JSON(to io.Writer, other *Session) error {
	e := json.NewEncoder(to)
	e.SetIndent("", "  ")
	if other == nil {
		return e.Encode(s.Told())
	}
	return e.Encode(struct {
		This     Told       `json:"this"`
		Other    Told       `json:"other"`
		Compared []Compared `json:"compared"`
	}{s.Told(), other.Told(), Compare(s.Sum(), other.Sum())})
}

var csvColumns = []string{"at_s", "kind", "what", "lasts_s", "degree", "key", "place", "bass", "upper", "held", "struck", "released", "intensity", "source"}

// CSV writes what happened as comma-separated values with a head line (RFC 4180).
// Text that a spreadsheet would take for a formula has an apostrophe before it.
func (s *Session) CSV(to io.Writer) error {
	w := csv.NewWriter(to)
	w.UseCRLF = true
	if err := w.Write(csvColumns); err != nil {
		return err
	}
	for _, e := range s.Entries() {
		chord := e.Kind == "chord"
		line := []string{real(e.At), e.Kind, cell(e.What), "", cell(e.Degree), cell(e.Key), e.Place, "", list(e.Upper), list(e.Held), list(e.New), list(e.Ended), "", e.Source}
		if chord || e.Kind == "moment" || e.Kind == "silence" {
			line[3] = real(e.Lasts)
		}
		if e.Bass != nil {
			line[7] = itoa(*e.Bass)
		}
		if chord {
			line[12] = real(e.Intensity)
		}
		if err := w.Write(line); err != nil {
			return err
		}
	}
	w.Flush()
	return w.Error()
}

func real(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func list(notes []int) string {
	return strings.Trim(fmt.Sprint(notes), "[]")
}

func cell(text string) string {
	text = Plain(text)
	if first := strings.TrimSpace(text); first != "" && strings.ContainsRune("=+-@", rune(first[0])) {
		return "'" + text
	}
	return text
}
