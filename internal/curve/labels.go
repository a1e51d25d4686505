package curve

import (
	"encoding/xml"
	"fmt"
	"strings"
	"time"
)

// label is a name at a time.
type label struct {
	at   time.Duration
	text string
}

// How labels are set, user units. The width of a character is a guess: the font
// is whatever the reader has.
const (
	lineHeight = 15
	character  = 6.6
	space      = 7 // between two labels
)

// The longest text that is shown, and that a pointer resting on it shows, in
// characters.
const (
	longestShown = 44
	longestHover = 300
)

// rows sets labels where they have room, in as many rows as they need and at most
// allowed (two or more), and marks every one with a tick. What has no room is
// counted. It gives the height that it took.
func (d *drawing) rows(class, name string, labels []label, top float64, allowed int) float64 {
	if len(labels) == 0 {
		return 0
	}
	ends := make([]float64, 0, allowed)
	left, column := 0, -1
	var ticks strings.Builder
	for _, l := range labels {
		x := d.x(l.at)
		if c := d.column(l.at); c != column {
			column = c
			fmt.Fprintf(&ticks, "M%s %sv-4", coordinate(x), coordinate(top))
		}
		shown := cut(l.text, longestShown)
		wide := width(shown)
		from := max(min(x, marginEnd-wide), marginLeft)
		row := 0
		for row < len(ends) && ends[row]+space > from {
			row++
		}
		if row == allowed {
			left++
			continue
		}
		if row == len(ends) {
			ends = append(ends, 0)
		}
		ends[row] = from + wide
		d.put(`<text class="%s" x="%s" y="%s"><title>%s  %s</title>%s</text>`, class, coordinate(from),
			coordinate(top+lineHeight*float64(row)+11), clock(l.at), escaped(cut(l.text, longestHover)), escaped(shown))
	}
	d.put(`<path class="tick" d="%s"/>`, ticks.String())
	d.put(`<text class="side" x="%d" y="%s">%s</text>`, marginLeft-8, coordinate(top+11), name)
	if left > 0 {
		d.put(`<text class="side" x="%d" y="%s">+%d more</text>`, marginLeft-8, coordinate(top+11+lineHeight), left)
	}
	return lineHeight*float64(len(ends)) + 8
}

// width guesses how wide a text is. Ideographs and their like are square.
func width(s string) (w float64) {
	for _, r := range s {
		w += character
		if r >= 0x1100 {
			w += character
		}
	}
	return w
}

// cut shortens a text to a number of characters.
func cut(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

// escaped makes any text fit for XML; what XML cannot hold becomes U+FFFD.
func escaped(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a Builder takes everything
	return b.String()
}
