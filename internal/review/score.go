package review

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// score draws the time in which the bed sounds, in lines below each other, as notes
// are printed.
type score struct {
	s         *Session
	low, high int           // of the bed's notes, MIDI numbers
	long      time.Duration // of a line
}

// mostLines is how many lines a score should have at most: some ten sheets of paper.
const mostLines = 40

func newScore(s *Session) *score {
	c := &score{s: s, low: 127, high: 0}
	for _, n := range s.Struck {
		c.low, c.high = min(c.low, int(n.Number)), max(c.high, int(n.Number))
	}
	if c.low > c.high {
		c.low, c.high = 48, 72
	}
	for _, seconds := range []time.Duration{30, 60, 90, 120, 180, 300, 600, 900, 1800, 3600} {
		most := mostLines
		if seconds == 30 { // only where that does not turn a short session into a long one
			most /= 4
		}
		if c.long = seconds * time.Second; c.lines() <= most {
			return c
		}
	}
	for c.lines() > mostLines && c.long < s.Length {
		c.long *= 2
	}
	return c
}

// lines counts the lines of all moments.
func (c *score) lines() (n int) {
	for _, v := range c.s.Visits {
		for _, x := range c.passages(v) {
			n += int((x.to - x.from + c.long - 1) / c.long)
		}
	}
	return n
}

// passage is a stretch of time that is drawn.
type passage struct{ from, to time.Duration }

// passages gives what is drawn of a moment: where the bed sounds, and silences that are
// short beside a line.
func (c *score) passages(v Visit) (list []passage) {
	for _, b := range c.s.Beds {
		if b.From < v.From || b.From >= v.To && v.To < c.s.Length || b.To == b.From {
			continue
		}
		if n := len(list); n > 0 && b.From-list[n-1].to < c.long/2 {
			list[n-1].to = b.To
			continue
		}
		list = append(list, passage{b.From, b.To})
	}
	return list
}

// draw draws a passage, line by line.
func (c *score) draw(x passage) (svgs []string) {
	for from := x.from; from < x.to; from += c.long {
		to := min(from+c.long, x.to)
		svgs = append(svgs, c.line(from, to, to == x.to))
	}
	return svgs
}

// line draws one line.
func (c *score) line(from, to time.Duration, last bool) string {
	d := newDrawing(from, to, plotWide*float64(to-from)/float64(c.long))
	chords := c.chordsIn(from, to)
	d.y = c.said(d, last)
	c.names(d, chords)
	top := d.y
	c.roll(d, chords)
	c.piano(d)
	c.intensity(d)
	c.feet(d)
	for _, ch := range chords {
		if d.shows(ch.From) && !ch.Same {
			d.put(`<path class="comes" d="M%s %sV%s"/>`, num(d.x(ch.From)), num(top), num(d.y))
		}
	}
	d.axis(d.y, c.s.Length)
	return d.svg(describe(from, to, chords))
}

func (c *score) chordsIn(from, to time.Duration) []Chord {
	var list []Chord
	for _, ch := range c.s.Chords {
		if ch.From < to && ch.To > from {
			list = append(list, ch)
		}
	}
	return list
}

// said sets what was done, said and told.
func (c *score) said(d *drawing, last bool) float64 {
	in := func(at time.Duration) bool { return d.shows(at) || last && at == d.to }
	var list []label
	for _, x := range c.s.Cues {
		if in(x.At) {
			list = append(list, label{x.At, quoted(x.Words), "cue"})
		}
	}
	for _, x := range c.s.Orders {
		if in(x.At) {
			list = append(list, label{x.At, x.Words, "order"})
		}
	}
	for _, x := range c.s.Notices {
		switch {
		case !in(x.At):
		case x.Bad:
			list = append(list, label{x.At, "! " + x.Words, "alarm"})
		default:
			list = append(list, label{x.At, "(" + x.Words + ")", "told"})
		}
	}
	slices.SortStableFunc(list, func(a, b label) int { return compare(float64(a.at), float64(b.at)) })
	return d.labels(0, 4, list) + 4
}

// names sets the chords with their degrees, and where they come from.
func (c *score) names(d *drawing, chords []Chord) {
	end := 0.0
	for _, ch := range chords {
		x := d.x(ch.From)
		if x < end || ch.Same && ch.From > d.from { // no room: the line where it comes, and the list of figures, are left
			continue
		}
		wide := boldWide * float64(max(len([]rune(ch.Symbol)), len([]rune(ch.Degree)))+1)
		right := x+wide > drawnWide
		if right && ch.To > d.to { // the next line begins with it
			continue
		}
		end = x + wide
		d.text("chord", x, d.y+10, ch.Symbol, right)
		d.text("degree", x, d.y+10+lineHigh, ch.Degree, right)
	}
	d.y += 2*lineHigh + 3
	for _, run := range runs(chords, func(ch Chord) string { return ch.Place.String() }) {
		c.strip(d, run.from, run.to, run.name, run.name)
	}
	d.side(d.y+8, "from")
	d.y += 14
}

// strip draws a stretch of time with its name, where that has room.
func (c *score) strip(d *drawing, from, to time.Duration, class, name string) {
	x, end := d.x(from), d.x(to)
	if end-x < 0.5 {
		return
	}
	d.put(`<rect class="strip %s" x="%s" y="%s" width="%s" height="10"><title>%s to %s: %s</title></rect>`, class, num(x), num(d.y), num(end-x), clock(from), clock(to), name)
	if end-x > letterWide*float64(len(name))+4 {
		d.put(`<text class="inside" x="%s" y="%s">%s</text>`, num(x+3), num(d.y+8.3), name)
	}
}

// run is a stretch of time of one kind.
type run struct {
	from, to time.Duration
	name     string
}

func runs(chords []Chord, name func(Chord) string) (list []run) {
	for _, ch := range chords {
		if n := len(list); n > 0 && list[n-1].name == name(ch) && list[n-1].to == ch.From {
			list[n-1].to = ch.To
			continue
		}
		list = append(list, run{ch.From, ch.To, name(ch)})
	}
	return list
}

// boldWide is how wide a letter of a chord is, like letterWide.
const boldWide = 7.4

// feet marks each press.
func (c *score) feet(d *drawing) {
	var path strings.Builder
	n := 0
	for _, p := range c.s.Feet {
		if d.shows(p.At) {
			x := d.x(p.At)
			fmt.Fprintf(&path, "M%s %sl3 6h-6z", num(x), num(d.y))
			n++
		}
	}
	d.put(`<path class="feet" d="%s"><title>%s</title></path>`, path.String(), counted(n, "press"))
	d.side(d.y+7, "feet")
	d.y += 11
}

// describe says in words what a line shows.
func describe(from, to time.Duration, chords []Chord) string {
	var names []string
	for i, ch := range chords {
		if i == mostDescribed {
			names = append(names, fmt.Sprintf("and %d more", len(chords)-i))
			break
		}
		names = append(names, fmt.Sprintf("%s %s", clock(ch.From), ch.Symbol))
	}
	return fmt.Sprintf("%s to %s: %s", clock(from), clock(to), strings.Join(names, ", "))
}

const mostDescribed = 24
