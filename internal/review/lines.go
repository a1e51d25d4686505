package review

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"bedd/internal/pitch"

	"charm.land/lipgloss/v2"
)

// View is how the lines are to look.
type View struct {
	Width  int  // columns, 60 or more
	Chords bool // a line for each chord, with its notes
}

// Looks of a terminal, light or dark: weight says what matters, and nothing hangs
// on a colour.
var (
	strong = lipgloss.NewStyle().Bold(true)
	dim    = lipgloss.NewStyle().Faint(true)
	alarm  = lipgloss.NewStyle().Bold(true).Foreground(lipgloss.Red)
)

// row is a line of the timeline: what it says may go over several.
type row struct {
	at    time.Duration
	order int // at equal times
	lines []string
}

// The columns before what a line says.
const (
	whatColumn  = 11
	placeColumn = 9
)

// Lines writes the timeline of a session, then its figures and what they advise.
// Weights and colours are in it as ANSI sequences.
func (s *Session) Lines(to io.Writer, v View) error {
	w := bufio.NewWriter(to)
	f := s.Sum()
	fmt.Fprintln(w, strong.Render(clip(s.heading(), v.Width)))
	for _, line := range wrap(s.about(), v.Width, 0) {
		fmt.Fprintln(w, line)
	}
	for _, note := range s.Notes {
		for _, line := range wrap("! "+note, v.Width, 2) {
			fmt.Fprintln(w, alarm.Render(line))
		}
	}
	fmt.Fprintln(w)
	for _, r := range s.rows(v) {
		for _, line := range r.lines {
			fmt.Fprintln(w, strings.TrimRight(line, " "))
		}
	}
	if len(s.Chords) == 0 {
		fmt.Fprintln(w, "the bed was never brought in")
	}
	fmt.Fprintln(w)
	writeRows(w, f.Rows(), v.Width)
	fmt.Fprintln(w)
	for _, line := range wrap(strings.Join(Advice(s, f), " "), v.Width, 0) {
		fmt.Fprintln(w, strong.Render(line))
	}
	return w.Flush()
}

// heading is what a session is called.
func (s *Session) heading() string {
	if s.Title != "" {
		return Plain(s.Title)
	}
	return Plain(s.Name)
}

// about says when a session was, how long, with what, and how it ended.
func (s *Session) about() string {
	var b strings.Builder
	if !s.Start.IsZero() {
		b.WriteString(s.Start.Format("Monday 2 January 2006, 15:04, "))
	}
	b.WriteString(clock(s.Length) + " long")
	if s.Rig != "" {
		b.WriteString(", rig " + Plain(s.Rig))
	}
	if s.Version != "" {
		b.WriteString(", bedd " + Plain(s.Version))
	}
	if s.From != "" {
		b.WriteString("; it goes on from " + Plain(s.From))
	}
	if s.Ended != "" {
		b.WriteString("; " + s.Ended)
	}
	return b.String()
}

// rows are the timeline's.
func (s *Session) rows(v View) (rows []row) {
	add := func(at time.Duration, order int, lines ...string) { rows = append(rows, row{at, order, lines}) }
	spoken := map[time.Duration]string{} // by time: the order that a line of chords begins with
	for _, o := range s.Orders {
		spoken[o.At] = o.Words
	}
	for _, x := range s.Visits {
		add(x.From, 0, s.when(x.From)+strong.Render(clip(Plain(s.MomentTitle(x.Moment)), v.Width-s.indent())))
	}
	for _, c := range s.Cues {
		add(c.At, 1, s.said(c.At, quoted(c.Words), v.Width, dim)...)
	}
	begins := map[time.Duration]bool{}
	for _, stay := range s.stays() {
		begins[stay[0].From] = true
		order := spoken[stay[0].From]
		if !v.Chords {
			add(stay[0].From, 3, s.stayLines(stay, order, v)...)
			continue
		}
		for _, c := range stay {
			add(c.From, 3, s.chordLines(c, order, v)...)
			order = ""
		}
	}
	for _, o := range s.Orders {
		if !begins[o.At] || spoken[o.At] != o.Words {
			add(o.At, 2, s.said(o.At, o.Words, v.Width, lipgloss.NewStyle())...)
		}
	}
	for _, x := range s.Notices {
		if x.Bad {
			add(x.At, 4, s.said(x.At, "! "+Plain(x.Words), v.Width, alarm)...)
		} else {
			add(x.At, 4, s.said(x.At, "("+Plain(x.Words)+")", v.Width, dim)...)
		}
	}
	for _, b := range s.Beds {
		if b.To < s.Length {
			add(b.To, -1, s.said(b.To, "silent, after "+clock(b.To-b.From), v.Width, dim)...)
		}
	}
	slices.SortStableFunc(rows, func(a, b row) int {
		if a.at != b.at {
			return compare(float64(a.at), float64(b.at))
		}
		return a.order - b.order
	})
	return rows
}

// when writes the time at a line's start.
func (s *Session) when(at time.Duration) string {
	return fmt.Sprintf("%*s  ", len(stamp(s.Length, s.Length)), stamp(at, s.Length))
}

func (s *Session) indent() int { return len(s.when(0)) }

// said is a line of words at a time.
func (s *Session) said(at time.Duration, words string, width int, look lipgloss.Style) (lines []string) {
	for i, line := range wrap(words, width-s.indent(), 2) {
		lead := s.when(at)
		if i > 0 {
			lead = strings.Repeat(" ", len(lead))
		}
		lines = append(lines, lead+look.Render(line))
	}
	return lines
}

// chordLines tells of one chord with its notes.
func (s *Session) chordLines(c Chord, order string, v View) (lines []string) {
	lead := fmt.Sprintf("%s%-*s%-*s%-7s %-6s ", s.when(c.From), whatColumn, order, placeColumn, c.Place, c.Symbol, c.Degree)
	for _, line := range wrap(c.notes(), v.Width-columns(lead), 0) {
		lines = append(lines, lead+line)
		lead = strings.Repeat(" ", columns(lead))
	}
	return lines
}

// stayLines tells of the chords at one place.
func (s *Session) stayLines(stay []Chord, order string, v View) (lines []string) {
	first, last := stay[0], stay[len(stay)-1]
	tail := fmt.Sprintf("%s %s", s.voicesOf(stay), s.spark(first.From, last.To))
	lead := fmt.Sprintf("%s%-*s%-*s", s.when(first.From), whatColumn, order, placeColumn, first.Place)
	room := v.Width - len(lead)
	wrapped := wrap(s.chordsOf(stay), room-columns(tail)-2, 0)
	for i, line := range wrapped {
		if i == 0 {
			lines = append(lines, fmt.Sprintf("%s%-*s%s", lead, room-columns(tail), line, tail))
			continue
		}
		lines = append(lines, strings.Repeat(" ", len(lead))+line)
	}
	return lines
}

// aFew is how many chords are listed; of more the progression is told, and how
// often it went round.
const aFew = 8

// chordsOf lists chords with their seconds.
func (s *Session) chordsOf(stay []Chord) string {
	n := len(s.progression(stay[0].Moment, stay[0].Place))
	if len(stay) <= max(aFew, n) || n == 0 {
		var list []string
		for _, c := range stay {
			list = append(list, strings.ReplaceAll(c.Symbol+" "+short(c.To-c.From), " ", together))
		}
		return strings.Join(list, ", ")
	}
	var names []string
	var lasting []weighed
	for i, c := range stay {
		if i < n {
			names = append(names, c.Symbol)
		}
		lasting = append(lasting, weighed{(c.To - c.From).Seconds(), 1})
	}
	sp := spread(lasting)
	return fmt.Sprintf("%s: %d chords, %.1f rounds, %.0f s a chord (%.0f to %.0f)", strings.Join(names, " "), len(stay), float64(len(stay))/float64(n), sp.Median, sp.Low, sp.High)
}

// voicesOf says how many upper notes there were.
func (s *Session) voicesOf(stay []Chord) string {
	low, high := stay[0].Voices, stay[0].Voices
	from, to := stay[0].From, stay[len(stay)-1].To
	first, _ := slices.BinarySearchFunc(s.States, from, func(x State, at time.Duration) int { return compare(float64(x.At), float64(at)) })
	for _, x := range s.States[first:] {
		if x.At >= to {
			break
		}
		low, high = min(low, int(x.Voices)), max(high, int(x.Voices))
	}
	if low == high {
		return fmt.Sprintf("%d voices", low)
	}
	return fmt.Sprintf("%d–%d voices", low, high)
}

// bars are eighths of a line's height.
var bars = []rune("▁▂▃▄▅▆▇█")

const sparks = 8

// spark draws the intensity between two times.
func (s *Session) spark(from, to time.Duration) string {
	out := make([]rune, sparks)
	for i := range out {
		at := from + (to-from)*time.Duration(2*i+1)/(2*sparks)
		out[i] = bars[min(int(s.intensityAt(at)*float64(len(bars))), len(bars)-1)]
	}
	return string(out)
}

// intensityAt gives the intensity at a time, 0…1.
func (s *Session) intensityAt(at time.Duration) float64 {
	i, found := slices.BinarySearchFunc(s.States, at, func(x State, at time.Duration) int { return compare(float64(x.At), float64(at)) })
	if found {
		return s.States[i].Intensity
	}
	if i == 0 {
		return 0
	}
	return s.States[i-1].Intensity
}

// notes writes a chord's notes, marked = held, + new or - gone.
func (c Chord) notes() string {
	key, err := pitch.ParseKey(c.Key)
	name := func(n uint8) string {
		if err != nil {
			return fmt.Sprint(n)
		}
		return pitch.NoteName(int(n), key)
	}
	sign := func(n uint8) string {
		if slices.Contains(c.Held, n) {
			return "="
		}
		return "+"
	}
	var out []string
	if c.Bass >= 0 {
		out = append(out, sign(uint8(c.Bass))+name(uint8(c.Bass)), "|")
	}
	for _, n := range c.Upper {
		out = append(out, sign(n)+name(n))
	}
	for _, n := range c.Ended {
		out = append(out, "-"+name(n))
	}
	return strings.Join(append(out, fmt.Sprintf("%.2f"+together+"%s", c.Intensity, c.Source)), " ")
}
