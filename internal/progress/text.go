package progress

import (
	"fmt"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"bedd/internal/glance"
)

// The circle in a terminal: so many rows and columns.
const (
	circleHigh = 13
	circleWide = 62
)

// heights are the levels of a small curve, the emptiest first.
var heights = []rune("▁▂▃▄▅▆▇█")

func spark(values []float64, most float64) string {
	s := ""
	for _, v := range values {
		if v <= 0 || most <= 0 {
			s += "·"
			continue
		}
		s += string(heights[min(int(v/most*8), 7)])
	}
	return s
}

// Text writes a summary for a terminal of 80 columns.
func (s Summary) Text(now time.Time) string {
	var b strings.Builder
	if s.Only != "" {
		b.WriteString("in " + s.Only + " alone: ")
	}
	fmt.Fprintf(&b, "practised %s on %s, tasks: %d\n", duration(s.Minutes), count(s.Days, "day"), s.Tasks)
	b.WriteString("\nkeys, how strong each is in % (* the weakest, - never played)\n")
	besides := s.Others
	if s.Only == "" {
		b.WriteString(s.circle())
	} else {
		besides = s.Keys
	}
	for _, k := range besides {
		b.WriteString("  " + s.keyWords(k) + "\n")
	}
	b.WriteString("\n" + pad("over "+count(len(s.Weeks), "week"), 38) + "now\n")
	weeks := make([]float64, len(s.Weeks))
	minutes := make([]float64, len(s.Weeks))
	most := 1.0
	for i, w := range s.Weeks {
		weeks[i], minutes[i] = w.Strength, w.Minutes
		most = max(most, w.Minutes)
	}
	line := func(name, curve, now string) {
		fmt.Fprintf(&b, "  %s%s%s\n", pad(name, 19), pad(curve, 17), now)
	}
	for _, e := range s.Exercises {
		level := ""
		if e.Level > 0 {
			level = fmt.Sprintf("   up to level %d", e.Level)
		}
		line(e.Title, spark(recent(e.Strength), 1), percent(last(e.Strength))+level)
	}
	line("all of them", spark(recent(weeks), 1), percent(last(weeks)))
	line("minutes a week", spark(recent(minutes), most), fmt.Sprintf("%3.0f min", last(minutes)))
	b.WriteString("\nnext\n")
	for _, d := range s.Due {
		fmt.Fprintf(&b, "  %s in %-3s level %d  %s\n", pad(s.title(d.Exercise), 19), glance.Plain(d.Key), d.Level, d.Why)
	}
	if len(s.Last) > 0 {
		b.WriteString("\nlast\n")
	}
	for _, l := range s.Last {
		cut := ""
		if !l.Whole {
			cut = ", cut short"
		}
		row := fmt.Sprintf("  %s in %-3s level %d  %s  %s: %s%s", pad(s.title(l.Exercise), 19), glance.Plain(l.Key), l.Level, percent(l.Mark), ago(l.At, now), glance.Plain(l.Figure), cut)
		b.WriteString(clip(row, columns) + "\n")
	}
	for _, t := range s.Troubles {
		fmt.Fprintf(&b, "\nleft out: %s\n", glance.Plain(t))
	}
	return b.String()
}

// mostWeeks is how many weeks have room in a terminal.
const mostWeeks = 16

func recent(list []float64) []float64 { return list[max(len(list)-mostWeeks, 0):] }

func last(list []float64) float64 {
	if len(list) == 0 {
		return 0
	}
	return list[len(list)-1]
}

func percent(x float64) string { return fmt.Sprintf("%3.0f %%", 100*x) }

func count(n int, of string) string {
	if n == 1 {
		return "1 " + of
	}
	return fmt.Sprintf("%d %ss", n, of)
}

// columns is how wide a text is at most.
const columns = 80

func clip(text string, to int) string {
	if runes := []rune(text); len(runes) > to {
		return string(runes[:to-1]) + "…"
	}
	return text
}

// pad fills a text with blanks.
func pad(text string, to int) string {
	return text + strings.Repeat(" ", max(to-utf8.RuneCountInString(text), 0))
}

func (s Summary) title(name string) string {
	for _, e := range s.Exercises {
		if e.Name == name {
			return e.Title
		}
	}
	return glance.Plain(name)
}

// circle sets the keys around, each with its strength.
func (s Summary) circle() string {
	rows := make([][]rune, circleHigh)
	for i := range rows {
		rows[i] = []rune(strings.Repeat(" ", circleWide+16))
	}
	for i, k := range s.Keys {
		angle := 2 * math.Pi * float64(i) / float64(len(s.Keys))
		x := 2 + circleWide/2 + int(math.Round(float64(circleWide/2)*math.Sin(angle)))
		y := int(math.Round(float64(circleHigh-1) / 2 * (1 - math.Cos(angle))))
		copy(rows[y][x:], []rune(s.keyWords(k)))
	}
	var b strings.Builder
	for _, row := range rows {
		b.WriteString(strings.TrimRight(string(row), " ") + "\n")
	}
	return b.String()
}

// keyWords are a key's name, its strength as a number and as a bar.
func (s Summary) keyWords(k Key) string {
	name := glance.Plain(k.Name)
	if k.Played == 0 {
		return name + " -"
	}
	if k.Name == s.Weakest {
		name = "*" + name
	}
	return strings.TrimRight(fmt.Sprintf("%s %.0f %s", name, 100*k.Strength, strings.Repeat("■", int(math.Round(5*k.Strength)))), " ")
}
