package dynamics

import "time"

// Density turns intensity into a number of voices, one step at a time, without
// fluttering when the intensity rests on a boundary.
type Density struct {
	Thin, Full int           // fewest and most voices, 1 ≤ Thin ≤ Full
	Margin     float64       // how far past a boundary intensity must be, as a part of one step's width
	Stagger    time.Duration // least time between two steps
}

// Default margin and stagger, by ear: notes bloom one after another.
const (
	DefaultMargin  = 0.2
	DefaultStagger = 1200 * time.Millisecond
)

// Rung gives the number of voices for an intensity 0…1 with nothing before it.
func (d Density) Rung(intensity float64) int {
	width := 1 / float64(d.Full-d.Thin+1)
	return min(max(d.Thin+int(intensity/width), d.Thin), d.Full)
}

// Next gives the number of voices after now, at most one more or one less.
// The caller keeps to Stagger.
func (d Density) Next(now int, intensity float64) int {
	now = min(max(now, d.Thin), d.Full)
	width := 1 / float64(d.Full-d.Thin+1)
	low := (float64(now-d.Thin) - d.Margin) * width
	high := (float64(now-d.Thin+1) + d.Margin) * width
	switch {
	case intensity < low && now > d.Thin:
		return now - 1
	case intensity >= high && now < d.Full:
		return now + 1
	}
	return now
}
