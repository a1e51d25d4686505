package curve

import (
	"fmt"
	"strings"
	"time"
)

// most is how many points of a series one column of the drawing holds as they
// are; where there are more, the least, the greatest and the last stand for them.
const most = 4

// reduced thins a series to at most most points a column. What a column keeps of
// many is drawn as the last of them is.
func (d *drawing) reduced(points []point) []point {
	var kept []point
	for len(points) > 0 {
		n, column := 1, d.column(points[0].at)
		for n < len(points) && d.column(points[n].at) == column {
			n++
		}
		if n <= most {
			kept = append(kept, points[:n]...)
		} else {
			kept = append(kept, extremes(points[:n])...)
		}
		points = points[n:]
	}
	return kept
}

// extremes gives the least and the greatest of what is drawn, in order of time,
// and the last.
func extremes(points []point) []point {
	low, high, class := -1, -1, ""
	for i, p := range points {
		if p.class == "" {
			continue
		}
		class = p.class
		if low < 0 || p.value < points[low].value {
			low = i
		}
		if high < 0 || p.value > points[high].value {
			high = i
		}
	}
	last := points[len(points)-1]
	if low < 0 {
		return []point{last}
	}
	first, second := points[min(low, high)], points[max(low, high)]
	first.class, second.class = class, class
	return []point{first, second, last}
}

// steps draws a series as steps: one path for every stretch of one class.
func (d *drawing) steps(points []point, y func(float64) float64) {
	var path strings.Builder
	class, before := "", ""
	end := func(x string) {
		if class != "" {
			d.put(`<path class="%s" d="%sH%s"/>`, class, path.String(), x)
		}
		path.Reset()
	}
	for _, p := range d.reduced(points) {
		x, v := coordinate(d.x(p.at)), coordinate(y(p.value))
		switch {
		case p.class == class && class == "":
		case p.class == class:
			fmt.Fprintf(&path, "H%sV%s", x, v)
		case class == "" || p.class == "":
			end(x)
			fmt.Fprintf(&path, "M%s %s", x, v)
		default: // the line goes on in another manner
			end(x)
			fmt.Fprintf(&path, "M%s %sV%s", x, before, v)
		}
		class, before = p.class, v
	}
	end(coordinate(d.x(d.run.End)))
}

// stretch is a part of a series with one class.
type stretch struct {
	from, to time.Duration
	class    string
}

// stretches gives where a series is drawn, by class; what begins and ends in one
// column of the drawing is left out.
func (d *drawing) stretches(points []point) (list []stretch) {
	points = d.reduced(points)
	for i, p := range points {
		to := d.run.End
		if i+1 < len(points) {
			to = points[i+1].at
		}
		if n := len(list); n > 0 && list[n-1].class == p.class && list[n-1].to == p.at {
			list[n-1].to = to
		} else if p.class != "" && d.column(to) > d.column(p.at) {
			list = append(list, stretch{p.at, to, p.class})
		}
	}
	return list
}

// coordinate writes a length in user units to a tenth.
func coordinate(v float64) string {
	return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0")
}
