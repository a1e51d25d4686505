package chart

import (
	"fmt"
	"io"
	"strings"

	"bedd/internal/gathering"
	"bedd/internal/voicing"
)

const textWidth = 76

// WriteText writes charts as plain text, one below the other.
func WriteText(w io.Writer, charts []Chart) error {
	var b strings.Builder
	for i, c := range charts {
		if i > 0 {
			b.WriteString("\n" + strings.Repeat("─", textWidth) + "\n\n")
		}
		c.text(&b)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (c *Chart) text(b *strings.Builder) {
	fmt.Fprintf(b, "%s\n%d  %s\n", c.Plan, c.Number, c.Moment.For)
	for _, line := range c.about() {
		fmt.Fprintf(b, "   %s\n", line)
	}
	fmt.Fprintf(b, "\nin %s\n", c.Key)
	section := func(title string, steps []Step) {
		if len(steps) == 0 {
			return
		}
		fmt.Fprintf(b, "\n%s\n", title)
		names, degrees := 0, 0
		for _, s := range steps {
			names, degrees = max(names, len(s.Chord.Symbol())), max(degrees, len(s.Chord.Degree(s.Key)))
		}
		for _, s := range steps {
			fmt.Fprintf(b, "   %-*s  %-*s  %s\n", names, s.Chord.Symbol(), degrees, s.Chord.Degree(s.Key), s.notes())
			fmt.Fprintf(b, "   %s%s\n", strings.Repeat(" ", names+degrees+4), s.safe())
		}
	}
	section("home", c.Home)
	section("away", c.Away)
	switch {
	case c.Next == nil:
		b.WriteString("\nland: nothing follows, so rest on the tonic and fade\n")
	case len(c.Land) == 0:
		fmt.Fprintf(b, "\nland in %s, in %s: %s is its first chord already\n", c.Next.Title, c.Next.Key, c.From)
	default:
		section(fmt.Sprintf("land in %s, in %s, from %s (%v)", c.Next.Title, c.Next.Key, c.From, c.Moment.Ending), c.Land)
	}
	for _, way := range c.Ways {
		if way.From != c.From {
			fmt.Fprintf(b, "   from %-8s %s\n", way.From.Symbol(), way.text())
		}
	}
	if avoid := c.avoid(); len(avoid) > 0 {
		fmt.Fprintf(b, "\nkeep out of the bed: it would give %s away\n", c.Next.Title)
		for _, a := range avoid {
			fmt.Fprintf(b, "   %s: %s\n", a.what, strings.Join(a.notes, " "))
		}
	}
	b.WriteString("\n= held, + new; after them what is safe for the right hand: notes that rest on\nthis chord and the next | on this one | passing notes and where they go\n")
}

// about is what is known of the moment besides its music, a line each.
func (c *Chart) about() (lines []string) {
	m := c.Moment
	cue := m.Cue
	if cue != "" && m.CueBy != "" {
		cue += " (" + m.CueBy + ")"
	} else if m.CueBy != "" {
		cue = "a sign from " + m.CueBy
	}
	if cue != "" {
		lines = append(lines, "come in on: "+cue)
	}
	about := []string{}
	if m.Mood != "" {
		about = append(about, m.Mood)
	}
	if long := lasting(m); long != "" {
		about = append(about, long)
	}
	if len(about) > 0 {
		lines = append(lines, strings.Join(about, "; "))
	}
	if c.Next != nil {
		then := "then: " + c.Next.Title + ", in " + c.Next.Key.String()
		if c.Next.Tempo > 0 {
			then += fmt.Sprintf(", %v bpm", c.Next.Tempo)
		}
		if c.Next.Starts != "" {
			then += "; " + c.Next.Starts
		}
		lines = append(lines, then)
	}
	if c.Moved != 0 {
		lines = append(lines, fmt.Sprintf("moved from %s, the key of the plan", m.Bed.Key))
	}
	return lines
}

// notes writes the bass and the upper notes, held ones after =, new ones after +.
func (s *Step) notes() string {
	var words []string
	if s.Voicing.Bass != voicing.NoBass {
		words = append(words, s.note(int(s.Voicing.Bass)), "|")
	}
	for _, n := range s.Voicing.Notes() {
		mark := "+"
		if s.Held.Has(n) {
			mark = "="
		}
		words = append(words, mark+s.note(int(n)))
	}
	return strings.Join(words, " ")
}

func (s *Step) safe() string {
	both, here, passing := s.names()
	return strings.Join(both, " ") + " | " + strings.Join(here, " ") + " | " + strings.Join(passing, " ")
}

func (w *Way) text() string {
	if len(w.Chords) == 0 {
		return "already there"
	}
	return strings.Join(symbols(w.Chords), " ")
}

// avoided is what would give the next song away.
type avoided struct {
	what  string
	notes []string
}

func (c *Chart) avoid() (list []avoided) {
	if c.Next == nil {
		return nil
	}
	for _, s := range c.Next.Sections {
		list = append(list, avoided{s.Name, symbols(s.Chords)})
	}
	if f := figure(c.Next); len(f) > 0 {
		list = append(list, avoided{"its figure", f})
	}
	return list
}

// WriteOrder writes the order of songs and moments as plain text.
func WriteOrder(w io.Writer, g *gathering.Gathering) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n\n", g.Title)
	for _, it := range order(g) {
		switch {
		case it.Song != nil:
			fmt.Fprintf(&b, "     %-4s %s\n", it.Song.Key, strings.Join(append([]string{it.Song.Title}, it.Facts...), ", "))
		default:
			fmt.Fprintf(&b, "%3d  %-4s %s\n", it.Number, it.Moment.Bed.Key, strings.Join(append([]string{it.Moment.For}, it.Facts...), ", "))
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// item is a line of the order: a song, or the moment with that number.
type item struct {
	Song   *gathering.Song
	Moment *gathering.Moment
	Number int
	Facts  []string
}

// order has songs and moments as they come.
func order(g *gathering.Gathering) (items []item) {
	moment := 0
	moments := func(after int) {
		for ; moment < len(g.Moments) && g.Moments[moment].After <= after; moment++ {
			m := &g.Moments[moment]
			var facts []string
			if long := lasting(*m); long != "" {
				facts = append(facts, long)
			}
			if m.Cue != "" {
				facts = append(facts, "on: "+m.Cue)
			}
			items = append(items, item{Moment: m, Number: moment + 1, Facts: facts})
		}
	}
	moments(-1)
	for i := range g.Songs {
		s := &g.Songs[i]
		var facts []string
		if s.Tempo > 0 {
			facts = append(facts, fmt.Sprintf("%v bpm", s.Tempo))
		}
		if s.Starts != "" {
			facts = append(facts, s.Starts)
		}
		items = append(items, item{Song: s, Facts: facts})
		moments(i)
	}
	return items
}
