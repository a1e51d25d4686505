package review

import (
	"fmt"
	"time"
)

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
