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

// rollHigh is about how high the piano roll is.
const rollHigh = 150

// roll draws the bed's notes: as long as its first chord lasts a note has moved,
// then it is held.
func (c *score) roll(d *drawing, chords []Chord) {
	each := min(rollHigh/float64(c.high-c.low+1), 6)
	y := func(note int) float64 { return d.y + each*float64(c.high-note) }
	for note := c.low; note <= c.high; note++ {
		if note%12 == 0 {
			d.put(`<path class="octave" d="M%d %sh%s"/>`, marginLeft, num(y(note)+each/2), num(d.wide))
			d.side(y(note)+each/2+3, fmt.Sprintf("C%d", note/12-1))
		}
	}
	var held, moved strings.Builder
	for _, n := range c.s.Struck {
		if n.From >= d.to {
			break
		}
		if n.To <= d.from {
			continue
		}
		turns := n.To // when the chord that it came with is over
		if i := slices.IndexFunc(chords, func(ch Chord) bool { return ch.From > n.From && !ch.Same }); i >= 0 {
			turns = min(chords[i].From, n.To)
		}
		if len(chords) > 0 && chords[0].From > n.From { // came with an earlier chord
			turns = n.From
		}
		bar(d, &moved, n.From, turns, y(int(n.Number))+each*0.1, each*0.8)
		bar(d, &held, turns, n.To, y(int(n.Number))+each*0.3, each*0.4)
	}
	d.put(`<path class="held" d="%s"/>`, held.String())
	d.put(`<path class="moved" d="%s"/>`, moved.String())
	d.y += each*float64(c.high-c.low+1) + 6
}

// bar adds a rectangle to a path.
func bar(d *drawing, path *strings.Builder, from, to time.Duration, y, high float64) {
	from, to = max(from, d.from), min(to, d.to)
	if to <= from {
		return
	}
	x := d.x(from)
	wide := max(d.x(to)-x, 0.5)
	fmt.Fprintf(path, "M%s %sh%sv%sh-%sz", num(x), num(y), num(wide), num(high), num(wide))
}

// pianoHigh is how high the hardest strike is drawn.
const pianoHigh = 14

// boldWide is how wide a letter of a chord is, like letterWide.
const boldWide = 7.4

// piano draws the player's strikes, of those in one place the hardest.
func (c *score) piano(d *drawing) {
	hardest := map[int]uint8{}
	for _, n := range c.s.Played {
		if d.shows(n.From) {
			x := int(d.x(n.From))
			hardest[x] = max(hardest[x], n.Velocity)
		}
	}
	var path strings.Builder
	for x := marginLeft; x <= drawnWide; x++ {
		if v := hardest[x]; v > 0 {
			fmt.Fprintf(&path, "M%d %sv-%s", x, num(d.y+pianoHigh), num(pianoHigh*float64(v)/127))
		}
	}
	d.put(`<path class="strikes" d="%s"/>`, path.String())
	d.side(d.y+pianoHigh-4, "piano")
	d.y += pianoHigh + 8
}

// fullHigh is how high an intensity of 1 is drawn.
const fullHigh = 38

// intensity draws the intensity, the pedal, and whose wish it is.
func (c *score) intensity(d *drawing) {
	y := func(v float64) float64 { return d.y + fullHigh*(1-v) }
	d.put(`<path class="octave" d="M%d %sh%sM%d %sh%s"/>`, marginLeft, num(y(1)), num(d.wide), marginLeft, num(y(0)), num(d.wide))
	d.side(y(1)+4, "full")
	d.side(y(0)+3, "still")
	var pedal series
	for _, r := range within(c.s.Pedal, d, func(r Reading) time.Duration { return r.At }) {
		pedal.add(d, r.At, y(r.Position))
	}
	d.put(`<path class="pedal" d="%s"/>`, pedal.path(d))
	var level series
	var sources []run
	for _, s := range within(c.s.States, d, func(s State) time.Duration { return s.At }) {
		name := s.Source.String()
		if !s.Sounds {
			level.stop(d, s.At)
			name = ""
		} else {
			level.add(d, s.At, y(s.Intensity))
		}
		if n := len(sources); n == 0 || sources[n-1].name != name {
			if n > 0 {
				sources[n-1].to = max(s.At, d.from)
			}
			sources = append(sources, run{max(s.At, d.from), d.to, name})
		}
	}
	d.put(`<path class="level" d="%s"/>`, level.path(d))
	d.y += fullHigh + 4
	for _, r := range sources {
		if r.name != "" {
			c.strip(d, r.from, r.to, "from-"+r.name, r.name)
		}
	}
	d.side(d.y+8, "by")
	d.y += 15
}

// within gives what is in a drawing, and the last before it.
func within[T any](list []T, d *drawing, at func(T) time.Duration) []T {
	first, _ := slices.BinarySearchFunc(list, d.from, func(x T, t time.Duration) int { return int(max(min(at(x)-t, 1), -1)) })
	end, _ := slices.BinarySearchFunc(list, d.to, func(x T, t time.Duration) int { return int(max(min(at(x)-t, 1), -1)) })
	return list[max(first-1, 0):end]
}

// series is a line of steps; of those in one place the least, the greatest and the
// last are kept.
type series struct {
	b         strings.Builder
	column    float64
	last      float64
	low, high float64
	some      bool
}

func (p *series) add(d *drawing, at time.Duration, y float64) {
	x := d.x(at)
	if p.some && x-p.column < 0.5 {
		p.low, p.high, p.last = min(p.low, y), max(p.high, y), y
		return
	}
	p.flush()
	if !p.some {
		fmt.Fprintf(&p.b, "M%s %s", num(x), num(y))
	} else {
		fmt.Fprintf(&p.b, "H%sV%s", num(x), num(y))
	}
	p.some, p.column, p.last, p.low, p.high = true, x, y, y, y
}

// flush writes what was kept of a place.
func (p *series) flush() {
	if p.some && (p.low != p.last || p.high != p.last) {
		fmt.Fprintf(&p.b, "V%sV%sV%s", num(p.low), num(p.high), num(p.last))
	}
}

// stop ends the line at a time, until more is added.
func (p *series) stop(d *drawing, at time.Duration) {
	if p.some {
		p.flush()
		fmt.Fprintf(&p.b, "H%s", num(d.x(at)))
		p.some = false
	}
}

func (p *series) path(d *drawing) string {
	p.stop(d, d.to)
	return p.b.String()
}

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

// overview draws all of a session in one line: when the bed sounded and where it
// came from, how full it was, the moments, what did not work.
func (c *score) overview() string {
	d := newDrawing(0, max(c.s.Length, time.Second), plotWide)
	var moments []label
	for _, v := range c.s.Visits {
		moments = append(moments, label{v.From, c.s.MomentTitle(v.Moment), "moment"})
	}
	d.y = d.labels(0, 3, moments) + 4
	for _, v := range c.s.Visits[1:] {
		d.put(`<path class="comes" d="M%s %sv62"/>`, num(d.x(v.From)), num(d.y))
	}
	for _, r := range runs(c.s.Chords, func(ch Chord) string { return ch.Place.String() }) {
		c.strip(d, r.from, r.to, r.name, r.name)
	}
	d.side(d.y+8, "bed")
	d.y += 16
	var level series
	y := func(v float64) float64 { return d.y + fullHigh*(1-v) }
	for _, s := range c.s.States {
		v := s.Intensity
		if !s.Sounds {
			v = 0
		}
		level.add(d, s.At, y(v))
	}
	d.put(`<path class="level" d="%s"/>`, level.path(d))
	d.side(y(1)+4, "full")
	d.side(y(0)+3, "still")
	d.y += fullHigh + 4
	for _, n := range c.s.Notices {
		if n.Bad {
			d.put(`<path class="bad" d="M%s %sl4 7h-8z"><title>%s %s</title></path>`, num(d.x(n.At)), num(d.y), clock(n.At), escaped(Plain(n.Words)))
		}
	}
	d.y += 9
	d.axis(d.y, c.s.Length)
	return d.svg(fmt.Sprintf("the whole session, %s: the bed sounded %s", clock(c.s.Length), times(len(c.s.Beds))))
}
