package curve

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"bedd/internal/bed"
	"bedd/internal/dynamics"
)

// lowest is where the scale of levels ends, dB: below it a pad is not heard under
// a piano (by ear).
const lowest = -40

// panels draws the series, one below the other.
func (d *drawing) panels() {
	d.intensityPanel()
	d.voicePanels()
	d.handsPanel()
	d.voicesPanel()
	d.levelsPanel()
	d.brightnessPanel()
}

// panel begins a panel of a height, and gives the function that places a value
// between low, at its foot, and high. What lies beyond stands at the edge.
func (d *drawing) panel(name string, height, low, high float64) (y func(float64) float64) {
	top := d.y + 24
	d.y = top + height + 8
	d.put(`<text class="side strong" x="%d" y="%s">%s</text>`, marginLeft-8, coordinate(top-9), name)
	return func(v float64) float64 {
		return top + height*(1-(min(max(v, low), high)-low)/(high-low))
	}
}

// grid draws a line with its name at a value.
func (d *drawing) grid(y float64, name string) {
	d.put(`<path class="grid" d="M%d %sH%d"/><text class="side" x="%d" y="%s">%s</text>`, marginLeft, coordinate(y), marginRight, marginLeft-8, coordinate(y+4), name)
}

// legend names classes of lines to the right of a panel, and says what else there
// is to say.
func (d *drawing) legend(top float64, classes, names []string, note string) {
	y := top + 6
	for i, class := range classes {
		d.put(`<path class="%s" d="M%d %sh24"/><text x="%d" y="%s">%s</text>`, class, marginRight+legendGap, coordinate(y),
			marginRight+legendGap+30, coordinate(y+4), escaped(names[i]))
		y += lineHeight
	}
	d.note(y, note)
}

// note says something in the right margin.
func (d *drawing) note(y float64, text string) {
	d.put(`<text class="note" x="%d" y="%s">%s</text>`, marginRight+legendGap, coordinate(y+4), text)
}

func (d *drawing) intensityPanel() {
	y := d.panel("intensity", 190, 0, 1)
	for _, v := range []float64{0, 0.25, 0.5, 0.75, 1} {
		d.grid(y(v), fmt.Sprintf("%.2f", v))
	}
	points := d.curve.intensity()
	var classes, names []string
	add := func(class, name string) {
		if !slices.Contains(classes, class) {
			classes, names = append(classes, class), append(names, name)
		}
	}
	for _, p := range points {
		class, _, silent := strings.Cut(p.class, " ")
		if !silent {
			add(class, strings.TrimPrefix(class, "from-"))
		}
	}
	slices.Sort(classes)
	slices.Sort(names)
	if pedal := d.curve.pedalled(); len(pedal) > 0 {
		d.steps(pedal, y)
		add("pedal", "the pedal itself")
	}
	d.steps(points, y)
	d.legend(y(1), classes, names, "pale: nothing sounds")

	top := d.y - 4 // the sources once more, as a strip
	for _, s := range d.stretches(d.curve.sources()) {
		x, end, name := d.x(s.from), d.x(s.to), strings.TrimPrefix(s.class, "from-")
		d.put(`<rect class="strip %s" x="%s" y="%s" width="%s" height="14"><title>%s to %s: %s</title></rect>`, s.class, coordinate(x), coordinate(top), coordinate(end-x), clock(s.from), clock(s.to), escaped(name))
		if end-x > width(name)+4 {
			d.put(`<text class="inside" x="%s" y="%s">%s</text>`, coordinate((x+end)/2), coordinate(top+11), escaped(name))
		}
	}
	d.put(`<text class="side" x="%d" y="%s">from</text>`, marginLeft-8, coordinate(top+11))
	d.y = top + 18
}

// handsPanel draws the player's strikes, of those in one column the hardest.
func (d *drawing) handsPanel() {
	if len(d.curve.strikes) == 0 {
		return
	}
	const height = 26
	y := d.panel("piano", height, 0, 1)
	var path strings.Builder
	for i := 0; i < len(d.curve.strikes); {
		hardest, column := d.curve.strikes[i], d.column(d.curve.strikes[i].at)
		for i++; i < len(d.curve.strikes) && d.column(d.curve.strikes[i].at) == column; i++ {
			if d.curve.strikes[i].value > hardest.value {
				hardest = d.curve.strikes[i]
			}
		}
		fmt.Fprintf(&path, "M%s %sV%s", coordinate(d.x(hardest.at)), coordinate(y(0)), coordinate(y(float64(hardest.value))))
	}
	d.put(`<path class="strikes" d="%s"/>`, path.String())
	d.note(y(0.5), "height: velocity")
}

func (d *drawing) voicesPanel() {
	points := d.curve.voices()
	low, high := float64(d.curve.rig.Bed.Voicing.Thin), float64(d.curve.rig.Bed.Voicing.Full)
	for _, p := range points {
		if p.class != "" {
			low, high = min(low, p.value), max(high, p.value)
		}
	}
	y := d.panel("voices", 14*(high-low+1), low-0.5, high+0.5)
	for v := low; v <= high; v++ {
		d.grid(y(v), fmt.Sprintf("%.0f", v))
	}
	d.steps(points, y)
	d.note(y(high), "without the bass")
}

// decibels gives what a level means, no lower than the scale.
func decibels(controller float64) float64 {
	return max(dynamics.GainDB(uint8(math.Round(controller))), lowest)
}

// layers gives what is sent to each layer as a controller, and which layers that
// is anything for: none where piano and bed share a sound.
func (d *drawing) layers(controller byte) (series [bed.NumLayers][]point, names []string) {
	for l := range bed.NumLayers {
		series[l] = d.curve.controlled(d.sent, l, controller)
		if len(series[l]) > 0 {
			names = append(names, l.String())
		}
	}
	return series, names
}

func (d *drawing) levelsPanel() {
	series, names := d.layers(expression)
	if len(names) == 0 {
		return
	}
	y := d.panel("level, dB", 140, lowest, 0)
	for db := 0; db > lowest; db -= 6 {
		d.grid(y(float64(db)), strings.Replace(fmt.Sprint(db), "-", "−", 1))
	}
	d.grid(y(lowest), "off")
	for _, points := range series {
		d.steps(points, func(v float64) float64 { return y(decibels(v)) })
	}
	d.legend(y(0), names, names, "controller 11")
}

func (d *drawing) brightnessPanel() {
	series, names := d.layers(brightness)
	if len(names) == 0 {
		return
	}
	y := d.panel("brightness", 70, 0, 127)
	for _, v := range []float64{0, 64, 127} {
		d.grid(y(v), fmt.Sprintf("%.0f", v))
	}
	for _, points := range series {
		d.steps(points, y)
	}
	d.legend(y(127), names, names, "controller 74")
}
