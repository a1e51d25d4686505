package review

import (
	"bufio"
	"fmt"
	"io"
	"strings"
)

// Compared is one figure of two sessions.
type Compared struct {
	Name       string `json:"name"`
	A          string `json:"a"`
	B          string `json:"b"`
	Difference string `json:"difference"` // A less B, signed; empty where both are the same
}

// Compare sets the figures of two sessions side by side.
func Compare(a, b Figures) (list []Compared) {
	add := func(name string, x, y float64, words func(float64) string) {
		c := Compared{Name: name, A: words(x), B: words(y)}
		switch {
		case c.A == c.B:
		case x > y:
			c.Difference = "+" + words(x-y)
		default:
			c.Difference = "−" + words(y-x)
		}
		list = append(list, c)
	}
	number := func(v float64) string { return fmt.Sprintf("%.0f", v) }
	tenths := func(v float64) string { return fmt.Sprintf("%.1f", v) }
	parts := func(v float64) string { return fmt.Sprintf("%.2f", v) }
	share := func(v float64) string { return fmt.Sprintf("%.0f %%", 100*v) }
	milli := func(v float64) string { return fmt.Sprintf("%.2f ms", v) }
	add("in all", a.Length, b.Length, span)
	add("the bed sounded", a.Sounded, b.Sounded, span)
	add("silence", a.Silent, b.Silent, span)
	add("brought in", float64(a.Beds), float64(b.Beds), number)
	for i, p := range a.Places {
		add(onPlace[p.Name], part(p.Seconds, a.Sounded), part(b.Places[i].Seconds, b.Sounded), share)
	}
	add("chords", float64(a.Chords), float64(b.Chords), number)
	add("changes a minute", a.PerMinute, b.PerMinute, tenths)
	add("a chord lasts", a.ChordTime.Median, b.ChordTime.Median, seconds)
	add("notes held at changes", part(float64(a.Kept), float64(a.Kept+a.Moved)), part(float64(b.Kept), float64(b.Kept+b.Moved)), share)
	add("longest chord", a.Repetition.LongestChord, b.Repetition.LongestChord, seconds)
	add("longest on one progression", a.Repetition.LongestStay, b.Repetition.LongestStay, span)
	add("different changes", float64(a.Repetition.DifferentMoves), float64(b.Repetition.DifferentMoves), number)
	add("intensity", a.Intensity.Median, b.Intensity.Median, parts)
	add("intensity's range", a.Intensity.High-a.Intensity.Low, b.Intensity.High-b.Intensity.Low, parts)
	add("landings", float64(len(a.Landings)), float64(len(b.Landings)), number)
	add("landings that arrived", float64(arrived(a)), float64(arrived(b)), number)
	for i := range min(len(a.Delays), len(b.Delays)) {
		add("late, "+a.Delays[i].What+", slowest hundredth", a.Delays[i].P99, b.Delays[i].P99, milli)
	}
	add("bytes for the bed", float64(a.Sent.Bed), float64(b.Sent.Bed), number)
	add("bytes of the piano", float64(a.Sent.Piano), float64(b.Sent.Piano), number)
	add("stutters", float64(a.Under), float64(b.Under), number)
	add("devices lost", float64(a.PortLost), float64(b.PortLost), number)
	return list
}

func part(part, all float64) float64 {
	if all <= 0 {
		return 0
	}
	return part / all
}

func arrived(f Figures) (n int) {
	for _, l := range f.Landings {
		if l.Arrived {
			n++
		}
	}
	return n
}

// Beside writes two sessions' figures side by side.
func Beside(to io.Writer, a, b *Session, width int) error {
	w := bufio.NewWriter(to)
	for _, s := range []*Session{a, b} {
		fmt.Fprintln(w, strong.Render(clip(s.heading(), width)))
		for _, line := range wrap(s.about(), width, 0) {
			fmt.Fprintln(w, line)
		}
		for _, note := range s.Notes {
			for _, line := range wrap("! "+Plain(note), width, 2) {
				fmt.Fprintln(w, alarm.Render(line))
			}
		}
	}
	fmt.Fprintln(w)
	rows := append([]Compared{{"", "this", "the other", "difference"}}, Compare(a.Sum(), b.Sum())...)
	var wide [3]int
	for _, r := range rows {
		for i, cell := range []string{r.Name, r.A, r.B} {
			wide[i] = max(wide[i], columns(cell))
		}
	}
	for _, r := range rows {
		line := ""
		for i, cell := range []string{r.Name, r.A, r.B} {
			line += cell + strings.Repeat(" ", wide[i]-columns(cell)+2)
		}
		fmt.Fprintln(w, strings.TrimRight(line+r.Difference, " "))
	}
	return w.Flush()
}
