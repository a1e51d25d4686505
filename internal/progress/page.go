package progress

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"slices"
	"strings"
	"time"
)

//go:embed page.html
var pageText string

//go:embed page.css
var pageStyle string

var pageTemplate = template.Must(template.New("page").Funcs(template.FuncMap{
	"percent": func(x float64) string { return fmt.Sprintf("%.0f %%", 100*x) },
	"now":     last,
}).Parse(pageText))

// Page writes a summary as one HTML page that needs nothing else, fit for a screen and
// for A4 paper.
func (s Summary) Page(to io.Writer, now time.Time) error {
	return pageTemplate.Execute(to, map[string]any{
		"Style": template.CSS(pageStyle), "S": s, "Practised": duration(s.Minutes), "Days": count(s.Days, "day"), "On": now.Format("2 January 2006"),
		"Circle": s.drawCircle(), "Weeks": s.weekRows(), "Curves": s.drawCurves(), "Legend": s.legend(), "Rows": s.keyRows(now), "Last": s.lastRows(now), "Due": s.dueRows(),
	})
}

type row []string

func (s Summary) keyRows(now time.Time) (rows []row) {
	for _, k := range slices.Concat(s.Keys, s.Others) {
		strength := "–"
		if k.Played > 0 {
			strength = fmt.Sprintf("%.0f %%", 100*k.Strength)
		}
		rows = append(rows, row{k.Name, strength, fmt.Sprint(k.Played), ago(k.Last, now)})
	}
	return rows
}

func (s Summary) weekRows() (rows []row) {
	for i, w := range s.Weeks {
		r := row{w.From.Format("2 Jan 2006")}
		for _, e := range s.Exercises {
			r = append(r, fmt.Sprintf("%.0f", 100*e.Strength[i]))
		}
		rows = append(rows, append(r, fmt.Sprintf("%.0f", 100*w.Strength), fmt.Sprintf("%.0f", w.Minutes)))
	}
	return rows
}

func (s Summary) lastRows(now time.Time) (rows []row) {
	for _, l := range s.Last {
		figure := l.Figure
		if !l.Whole {
			figure = strings.TrimPrefix(figure+", cut short", ", ")
		}
		rows = append(rows, row{s.title(l.Exercise), l.Key, fmt.Sprint(l.Level), fmt.Sprintf("%.0f %%", 100*l.Mark), figure, ago(l.At, now)})
	}
	return rows
}

func (s Summary) dueRows() (rows []row) {
	for _, d := range s.Due {
		rows = append(rows, row{s.title(d.Exercise), d.Key, fmt.Sprint(d.Level), d.Why})
	}
	return rows
}

// drawCircle draws the keys as sectors, as long as they are strong.
func (s Summary) drawCircle() template.HTML {
	const middle, from, to = 180.0, 34.0, 140.0
	var b strings.Builder
	b.WriteString(`<svg viewBox="0 0 360 360" role="img" aria-label="How strong each key is, around the circle of fifths; the table has the same"><title>Keys</title>`)
	at := func(r, angle float64) string {
		return fmt.Sprintf("%.1f %.1f", middle+r*math.Sin(angle), middle-r*math.Cos(angle))
	}
	sector := func(class string, inner, outer, angle float64) {
		const half = math.Pi/12 - 0.02
		fmt.Fprintf(&b, `<path class="%s" d="M%s A%.1f %.1f 0 0 1 %s L%s A%.1f %.1f 0 0 0 %s Z"/>`, class,
			at(outer, angle-half), outer, outer, at(outer, angle+half), at(inner, angle+half), inner, inner, at(inner, angle-half))
	}
	for i, k := range s.Keys {
		angle := 2 * math.Pi * float64(i) / float64(len(s.Keys))
		sector("room", from, to, angle)
		if k.Strength > 0 {
			sector("strong", from, from+(to-from)*k.Strength, angle)
		}
		mark, number := "", "–"
		if k.Played > 0 {
			number = fmt.Sprintf("%.0f", 100*k.Strength)
		}
		if k.Name == s.Weakest {
			mark = " ▾"
			sector("weakest", to-3, to, angle)
		}
		x, y := middle+162*math.Sin(angle), middle-162*math.Cos(angle)
		fmt.Fprintf(&b, `<text class="key" x="%.1f" y="%.1f">%s%s</text><text class="number" x="%.1f" y="%.1f">%s</text>`, x, y, template.HTMLEscapeString(k.Name), mark, x, y+12, number)
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

// dashes tell the curves apart by shape too.
var dashes = []string{"", "8 3", "2 3", "12 3 2 3", "5 5", "1 4", "9 2 2 2 2 2", "14 5"}

// The curves' place.
const (
	curvesWide, curvesHigh = 640.0, 240.0
	left, foot             = 44.0, 22.0
)

func (s Summary) drawCurves() template.HTML {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="weeks" viewBox="0 0 %.0f %.0f" role="img" aria-label="Strength over the weeks, by exercise and together, and minutes a week; the table has the same"><title>Weeks</title>`, curvesWide, curvesHigh+66)
	x := func(i int) float64 {
		return left + (curvesWide-left-10)*(float64(i)+0.5)/float64(max(len(s.Weeks), 1))
	}
	y := func(v float64) float64 { return 13 + (curvesHigh-13-foot)*(1-v) }
	for _, v := range []float64{0, 0.25, 0.5, 0.75, 1} {
		fmt.Fprintf(&b, `<path class="grid" d="M%.0f %.1fH%.0f"/><text class="side" x="%.0f" y="%.1f">%.0f</text>`, left, y(v), curvesWide-10, left-5, y(v)+3, 100*v)
	}
	line := func(class, dash string, value func(i int) float64) {
		d := ""
		for i := range s.Weeks {
			d += fmt.Sprintf("%c%.1f %.1f", map[bool]byte{true: 'M', false: 'L'}[i == 0], x(i), y(value(i)))
		}
		fmt.Fprintf(&b, `<path class="%s" stroke-dasharray="%s" d="%s"/>`, class, dash, d)
	}
	for k, e := range s.Exercises {
		line(fmt.Sprintf("curve c%d", k%len(dashes)), dashes[k%len(dashes)], func(i int) float64 { return e.Strength[i] })
	}
	line("curve together", "", func(i int) float64 { return s.Weeks[i].Strength })
	most := 1.0
	for _, w := range s.Weeks {
		most = max(most, w.Minutes)
	}
	each := max(len(s.Weeks)/8, 1)
	for i, w := range s.Weeks {
		if i%each == 0 {
			class := "at"
			if i/each%2 == 1 {
				class = "at second"
			}
			fmt.Fprintf(&b, `<text class="%s" x="%.1f" y="%.1f">%s</text>`, class, x(i), curvesHigh-6, w.From.Format("2 Jan"))
		}
		h := 40 * w.Minutes / most
		fmt.Fprintf(&b, `<rect class="minutes" x="%.1f" y="%.1f" width="8" height="%.1f"/>`, x(i)-4, curvesHigh+46-h, h)
	}
	fmt.Fprintf(&b, `<text class="side" x="%.0f" y="%.1f">%.0f</text><text class="at" x="%.1f" y="%.1f">minutes a week</text></svg>`, left-5, curvesHigh+14, most, curvesWide/2, curvesHigh+60)
	return template.HTML(b.String())
}

// legend names the curves.
func (s Summary) legend() (list []template.HTML) {
	one := func(class, dash, name string) {
		list = append(list, template.HTML(fmt.Sprintf(`<svg viewBox="0 0 36 10" aria-hidden="true"><path class="%s" stroke-dasharray="%s" d="M0 5H36"/></svg> %s`, class, dash, template.HTMLEscapeString(name))))
	}
	for k, e := range s.Exercises {
		one(fmt.Sprintf("curve c%d", k%len(dashes)), dashes[k%len(dashes)], fmt.Sprintf("%s, %.0f %%", e.Title, 100*last(e.Strength)))
	}
	one("curve together", "", "all of them")
	return list
}
