package review

import (
	"encoding/xml"
	"fmt"
	"strings"
	"time"
)

// drawing is an SVG of some stretch of time on its way. Lengths are user units, of
// which the page is wide that many.
type drawing struct {
	b        strings.Builder
	from, to time.Duration
	wide     float64 // of the time shown
	y        float64 // where the next part begins
}

// Where things stand, user units.
const (
	drawnWide  = 760
	marginLeft = 46 // where time begins
	plotWide   = drawnWide - marginLeft - 6
	lineHigh   = 13
	letterWide = 6.6 // a guess: the font is whatever the reader has
)

func newDrawing(from, to time.Duration, wide float64) *drawing {
	return &drawing{from: from, to: to, wide: wide}
}

func (d *drawing) put(format string, args ...any) { fmt.Fprintf(&d.b, format+"\n", args...) }

// x gives where a time stands.
func (d *drawing) x(at time.Duration) float64 {
	at = min(max(at, d.from), d.to)
	return marginLeft + d.wide*float64(at-d.from)/float64(max(d.to-d.from, 1))
}

// shows reports whether a time is in the drawing. Its end belongs to the next one.
func (d *drawing) shows(at time.Duration) bool { return at >= d.from && at < d.to }

// side names a part in the left margin.
func (d *drawing) side(y float64, name string) {
	d.put(`<text class="side" x="%d" y="%s">%s</text>`, marginLeft-5, num(y), escaped(name))
}

// label is a name at a time, and how it looks.
type label struct {
	at          time.Duration
	text, class string
}

// labels sets names where they have room, in at most so many rows; what has none is
// left to its tick, and to who rests the pointer there. It gives the height taken.
func (d *drawing) labels(top float64, most int, list []label) float64 {
	ends := []float64{}
	for _, l := range list {
		x := d.x(l.at)
		text := clip(Plain(l.text), longestLabel)
		wide := letterWide * float64(columns(text))
		left, right := x, x+wide > drawnWide-4
		if right { // whatever the font, nothing is cut off
			left = max(drawnWide-2-wide, 0)
		}
		row := 0
		for row < len(ends) && ends[row]+letterWide > left {
			row++
		}
		if row == most {
			d.put(`<path class="tick" d="M%s %sv4"><title>%s</title></path>`, num(x), num(top), escaped(Plain(l.text)))
			continue
		}
		if row == len(ends) {
			ends = append(ends, 0)
		}
		ends[row] = left + wide
		d.text(l.class, x, top+lineHigh*float64(row)+10, text, right)
	}
	return lineHigh * float64(len(ends))
}

const longestLabel = 60

// text sets a name, which ends at the drawing's right edge where it would not fit.
func (d *drawing) text(class string, x, y float64, text string, right bool) {
	end := ""
	if right {
		x, end = drawnWide-2, ` text-anchor="end"`
	}
	d.put(`<text class="%s" x="%s" y="%s"%s>%s</text>`, class, num(x), num(y), end, escaped(text))
}

// axis draws the time.
func (d *drawing) axis(y float64, all time.Duration) {
	d.put(`<path class="axis" d="M%d %sH%s"/>`, marginLeft, num(y), num(marginLeft+d.wide))
	every := tickEvery(time.Duration(float64(d.to-d.from) * plotWide / d.wide))
	for at := (d.from + every - 1) / every * every; at <= d.to; at += every {
		x := d.x(at)
		d.put(`<path class="axis" d="M%s %sv4"/>`, num(x), num(y))
		if x < drawnWide-20 {
			d.put(`<text class="at" x="%s" y="%s">%s</text>`, num(x), num(y+14), clock(at))
		}
	}
	d.y = y + 18
}

// tickEvery gives a round time of which at most twelve fit.
func tickEvery(length time.Duration) time.Duration {
	for _, s := range []time.Duration{1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600} {
		if length <= 12*s*time.Second {
			return s * time.Second
		}
	}
	return (length/12/time.Hour + 1) * time.Hour
}

// svg gives the drawing, which who cannot see it is told of by words.
func (d *drawing) svg(words string) string {
	return fmt.Sprintf(`<svg viewBox="0 0 %d %s" role="img" aria-label="%s">`+"\n%s</svg>\n", drawnWide, num(d.y), escaped(words), d.b.String())
}

// num writes a length to a tenth.
func num(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") }

// escaped makes any text fit for XML; what XML cannot hold becomes U+FFFD.
func escaped(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a Builder takes everything
	return b.String()
}
