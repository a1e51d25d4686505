package review

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

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
