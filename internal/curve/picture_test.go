package curve

import (
	"encoding/xml"
	"errors"
	"io"
	"strconv"
	"strings"
	"testing"
	"time"
)

// picture is a drawing as an XML parser reads it.
type picture struct {
	height   float64
	elements []element
	texts    []string          // one for each text element
	titles   map[string]string // of what has an id
}

type element struct {
	name string
	attr map[string]string
}

// parsed reads a drawing and fails for anything that is not well-formed, is not
// SVG or reaches out of the drawing.
func parsed(t testing.TB, svg string) picture {
	t.Helper()
	p, err := read(svg)
	if err != nil {
		t.Fatalf("%v in\n%.2000s", err, svg)
	}
	return p
}

func read(svg string) (picture, error) {
	p := picture{titles: map[string]string{}}
	d := xml.NewDecoder(strings.NewReader(svg))
	var open []element
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			if len(open) > 0 || len(p.elements) == 0 || p.elements[0].name != "svg" {
				return p, errors.New("not one whole svg element")
			}
			return p, nil
		}
		if err != nil {
			return p, err
		}
		switch token := token.(type) {
		case xml.StartElement:
			e := element{token.Name.Local, map[string]string{}}
			if token.Name.Space != "http://www.w3.org/2000/svg" {
				return p, errors.New(e.name + " is not of SVG")
			}
			for _, a := range token.Attr {
				e.attr[a.Name.Local] = a.Value
			}
			if e.name == "svg" {
				p.height, _ = strconv.ParseFloat(strings.Fields(e.attr["viewBox"])[3], 64)
			}
			if err := p.inside(e); err != nil {
				return p, err
			}
			p.elements, open = append(p.elements, e), append(open, e)
			if e.name == "text" {
				p.texts = append(p.texts, "")
			}
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) == 0 {
				continue
			}
			switch last := open[len(open)-1]; {
			case last.name == "text":
				p.texts[len(p.texts)-1] += string(token)
			case last.attr["id"] != "":
				p.titles[last.attr["id"]] = string(token)
			}
		}
	}
}

// inside checks that an element stands in the drawing.
func (p *picture) inside(e element) error {
	out := func(x, y float64) bool { return !(x >= 0 && x <= drawingWidth && y >= 0 && y <= p.height) }
	number := func(name string) float64 {
		v, err := strconv.ParseFloat(e.attr[name], 64)
		if err != nil && e.attr[name] != "" {
			return -1
		}
		return v
	}
	switch e.name {
	case "text":
		if e.attr["x"] == "" || out(number("x"), number("y")) {
			return errors.New("a text outside: " + e.attr["x"] + "," + e.attr["y"])
		}
	case "rect":
		if x, y := number("x"), number("y"); out(x, y) || out(x+number("width")-0.11, y+number("height")-0.11) || number("width") < 0 {
			return errors.New("a rectangle outside")
		}
	case "path":
		for _, at := range corners(e.attr["d"]) {
			if out(at[0], at[1]) {
				return errors.New("a path outside: " + e.attr["d"])
			}
		}
	}
	return nil
}

// corners gives where a path of M, H, V, h and v goes, and a place outside for
// anything else.
func corners(d string) (list [][2]float64) {
	var x, y float64
	for i := 0; i < len(d); {
		n := strings.IndexAny(d[i+1:], "MHVhv")
		if n < 0 {
			n = len(d) - i - 1
		}
		numbers := strings.Fields(d[i+1 : i+1+n])
		value := func(k int) float64 {
			if k >= len(numbers) {
				return -1
			}
			v, err := strconv.ParseFloat(numbers[k], 64)
			if err != nil {
				return -1
			}
			return v
		}
		switch d[i] {
		case 'M':
			x, y = value(0), value(1)
		case 'H':
			x = value(0)
		case 'V':
			y = value(0)
		case 'h':
			x += value(0)
		case 'v':
			y += value(0)
		default:
			x, y = -1, -1
		}
		list = append(list, [2]float64{x, y})
		i += 1 + n
	}
	return list
}

// lines gives the paths of a class that lie in the panels, one list of corners
// each.
func (p picture) lines(class string) (list [][][2]float64) {
	for _, e := range p.elements {
		if e.name != "path" || strings.Fields(e.attr["class"] + " ")[0] != class {
			continue
		}
		if c := corners(e.attr["d"]); len(c) > 0 && c[0][0] <= marginRight {
			list = append(list, c)
		}
	}
	return list
}

// heights gives how high the step line of one of the classes stands at a time: all
// heights that it has within a tenth, which is how finely it is written.
func heights(lines [][][2]float64, x float64) (ys []float64) {
	for _, line := range lines {
		for i, c := range line {
			next := c
			if i+1 < len(line) {
				next = line[i+1]
			}
			if min(c[0], next[0]) <= x+0.1 && max(c[0], next[0]) >= x-0.1 {
				ys = append(ys, c[1], next[1])
			}
		}
	}
	return ys
}

// word is a text element.
type word struct {
	class, text string
	x, y        float64
}

// words gives what is written, in order.
func (p picture) words() (list []word) {
	for _, e := range p.elements {
		if e.name == "text" {
			x, _ := strconv.ParseFloat(e.attr["x"], 64)
			y, _ := strconv.ParseFloat(e.attr["y"], 64)
			list = append(list, word{e.attr["class"], p.texts[len(list)], x, y})
		}
	}
	return list
}

// scale gives how a panel's values stand, from the names of its grid's lines:
// the heights of two of them, below a panel's name.
func (p picture) scale(t testing.TB, panel, low, high string) (yLow, yHigh float64) {
	t.Helper()
	begun := false
	for _, w := range p.words() {
		switch {
		case w.text == panel:
			begun = true
		case !begun || w.class != "side":
		case w.text == high && yHigh == 0:
			yHigh = w.y - 4
		case w.text == low && yLow == 0:
			yLow = w.y - 4
		}
	}
	if yLow <= yHigh {
		t.Fatalf("the panel %q has no scale from %s to %s", panel, low, high)
	}
	return yLow, yHigh
}

// xOf gives where a time stands, from the first and the last name on the axis.
func (p picture) xOf(t testing.TB) func(time.Duration) float64 {
	t.Helper()
	var times, xs []float64
	for _, w := range p.words() {
		if w.class == "at" {
			minutes, seconds, _ := strings.Cut(w.text, ":")
			m, _ := strconv.ParseFloat(minutes, 64)
			s, _ := strconv.ParseFloat(seconds, 64)
			times, xs = append(times, 60*m+s), append(xs, w.x)
		}
	}
	if len(times) < 2 {
		t.Fatal("the axis has fewer than two times")
	}
	last := len(times) - 1
	return func(at time.Duration) float64 {
		return xs[0] + (at.Seconds()-times[0])*(xs[last]-xs[0])/(times[last]-times[0])
	}
}
