package curve

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"bedd/internal/bed"
	"bedd/internal/dynamics"
	"bedd/internal/glance"
	"bedd/internal/session"
)

// Where things stand, user units. A unit is a screen's pixel at the drawing's own
// size, and a column.
const (
	drawingWidth = 1200
	marginLeft   = 76 // where time begins
	marginRight  = 1064
	marginEnd    = drawingWidth - 12
	legendGap    = 12
)

// drawing is an SVG on its way.
type drawing struct {
	curve *Curve
	run   Run
	sent  []session.Sent
	under strings.Builder // what all else stands on
	body  strings.Builder
	y     float64 // where the next part begins
}

// Write draws a run as one SVG that needs nothing else: fit for a light and a
// dark screen and for paper. It is at most 1 MiB, however long the run: a series
// has at most four points a column (see [drawing.reduced]), and names are set as
// far as there is room. Errors are the writer's.
func (c *Curve) Write(to io.Writer, run Run) error {
	run.End = max(run.End, time.Second)
	d := &drawing{curve: c, run: run, sent: run.Take.Sent(), y: 66}
	d.names()
	top := d.y
	d.panels()
	bottom := d.y
	d.silences(top, bottom)
	d.chords(top, bottom)
	d.time(bottom)
	w := bufio.NewWriter(to)
	fmt.Fprintf(w, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %.0f" width="%d" height="%.0f" role="img" aria-labelledby="title desc">
<title id="title">%s</title>
<desc id="desc">%s</desc>
<style>%s</style>
<rect class="paper" width="%d" height="%.0f"/>
`, drawingWidth, d.y, drawingWidth, d.y, escaped(cut(run.Title, longestHover)), escaped(d.description()), style, drawingWidth, d.y)
	fmt.Fprintf(w, `<text class="heading" x="12" y="27">%s</text>`+"\n"+`<text class="sum" x="12" y="46">%s</text>`+"\n",
		escaped(cut(run.Title, 100)), escaped(cut(d.run.Source+": "+d.sum(), 160)))
	io.WriteString(w, d.under.String())
	io.WriteString(w, d.body.String())
	io.WriteString(w, "</svg>\n")
	return w.Flush()
}

func (d *drawing) put(format string, args ...any) {
	fmt.Fprintf(&d.body, format+"\n", args...)
}

// x gives where a time stands.
func (d *drawing) x(at time.Duration) float64 {
	part := float64(min(max(at, 0), d.run.End)) / float64(d.run.End)
	return marginLeft + part*(marginRight-marginLeft)
}

func (d *drawing) column(at time.Duration) int { return int(d.x(at)) }

// names draws chords, what was done and what was said.
func (d *drawing) names() {
	var chords, did, said []label
	moments := []label{{0, d.run.Moments(d.curve.rig.Bed.First)}}
	for _, e := range d.run.Take.Entered {
		chords = append(chords, label{e.At, e.View.Chord.Symbol()})
	}
	for _, a := range d.run.Take.Marks {
		if a.Kind == bed.ChangeMoment {
			moments = append(moments, label{a.At, d.run.Moments(int(a.Value))})
		} else if words := glance.Words(a); words != "" {
			did = append(did, label{a.At, words})
		}
	}
	for _, c := range d.run.Cues {
		said = append(said, label{time.Duration(c.At * float64(time.Second)), c.Text})
	}
	d.y += d.rows("said", "said", said, d.y, 3)
	d.y += d.rows("moment", "moment", moments, d.y, 2)
	d.y += d.rows("did", "done", did, d.y, 3)
	d.y += d.rows("chord", "chord", chords, d.y, 2)
}

// silences shades where nothing sounds.
func (d *drawing) silences(top, bottom float64) {
	for _, s := range d.stretches(d.curve.silences()) {
		x := d.x(s.from)
		fmt.Fprintf(&d.under, `<rect class="silence" x="%s" y="%s" width="%s" height="%s"/>`+"\n", coordinate(x), coordinate(top),
			coordinate(d.x(s.to)-x), coordinate(bottom-top))
	}
}

// closest is how near to each other on average lines through the panels are still
// told apart, user units.
const closest = 6

// chords draws a line through all panels where a chord comes, as long as the lines
// can be told apart.
func (d *drawing) chords(top, bottom float64) {
	var lines strings.Builder
	n, column := 0, -1
	for _, e := range d.run.Take.Entered {
		if c := d.column(e.At); c != column {
			n, column = n+1, c
			fmt.Fprintf(&lines, "M%s %sV%s", coordinate(d.x(e.At)), coordinate(top), coordinate(bottom))
		}
	}
	if n > 0 && n <= (marginRight-marginLeft)/closest {
		fmt.Fprintf(&d.under, `<path class="comes" d="%s"/>`+"\n", lines.String())
	}
}

// time draws the axis.
func (d *drawing) time(bottom float64) {
	d.put(`<path class="axis" d="M%d %sH%d"/>`, marginLeft, coordinate(bottom), marginRight)
	every := tickEvery(d.run.End)
	for at := time.Duration(0); at <= d.run.End; at += every {
		x := coordinate(d.x(at))
		d.put(`<path class="axis" d="M%s %sv5"/><text class="at" x="%s" y="%s">%s</text>`, x, coordinate(bottom), x, coordinate(bottom+18), clock(at))
	}
	d.put(`<text class="note" x="%d" y="%s">minutes:seconds</text>`, marginRight+legendGap+20, coordinate(bottom+18))
	d.y = bottom + 30
}

// tickEvery gives a round time of which at most fourteen fit into the run.
func tickEvery(end time.Duration) time.Duration {
	for _, s := range []time.Duration{1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800} {
		if end <= 14*s*time.Second {
			return s * time.Second
		}
	}
	return (end/14/time.Hour + 1) * time.Hour
}

// clock writes a time as minutes and seconds, and tenths where there are any.
func clock(at time.Duration) string {
	return strings.TrimSuffix(strings.TrimSpace(glance.Clock(at)), ".0")
}

// sum says in a line what the figures were.
func (d *drawing) sum() string {
	low, high, thin, full := math.Inf(1), math.Inf(-1), uint8(255), uint8(0)
	for _, s := range d.curve.states {
		if s.sounding {
			low, high = min(low, float64(s.intensity)), max(high, float64(s.intensity))
			thin, full = min(thin, s.voices), max(full, s.voices)
		}
	}
	if thin > full {
		return "the bed was never brought in"
	}
	s := fmt.Sprintf("intensity %.2f to %.2f, %d to %d voices", low, high, thin, full)
	for l := range bed.NumLayers {
		loudest := -1.0
		for _, p := range d.curve.controlled(d.sent, l, expression) {
			loudest = max(loudest, p.value)
		}
		if loudest > 0 {
			s += fmt.Sprintf(", %s up to %s dB", l, strings.Replace(fmt.Sprintf("%.1f", dynamics.GainDB(uint8(loudest))), "-", "−", 1))
		}
	}
	if d.curve.rig.Share {
		s += "; piano and bed share a sound, so no levels are sent"
	}
	return s
}

// description says in words what the drawing shows.
func (d *drawing) description() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s, %s (minutes:seconds): %s.", cut(d.run.Source, longestHover), clock(d.run.End), d.sum())
	const most = 60
	var source []string
	for _, s := range d.stretches(d.curve.sources()) {
		source = append(source, clock(s.from)+" "+strings.TrimPrefix(s.class, "from-"))
	}
	list(&b, "The intensity comes from", source, most)
	var chords []string
	for _, e := range d.run.Take.Entered {
		chords = append(chords, fmt.Sprintf("%s %s at intensity %.2f with %d voices", clock(e.At), e.View.Chord.Symbol(), e.View.Intensity, e.View.Density))
	}
	list(&b, "Chords", chords, most)
	return b.String()
}

// list adds a list to a text, as far as most items.
func list(b *strings.Builder, what string, items []string, most int) {
	if len(items) == 0 {
		return
	}
	rest := ""
	if n := len(items) - most; n > 0 {
		items, rest = items[:most], fmt.Sprintf("; and %d more", n)
	}
	fmt.Fprintf(b, " %s: %s%s.", what, strings.Join(items, "; "), rest)
}
