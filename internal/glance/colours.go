package glance

import "charm.land/lipgloss/v2"

// Palette are the colours of a view, each as in #C8964A. Every one has a contrast of at
// least 4.5 : 1 on its ground (WCAG 2.2, 1.4.3), and none stands alone: shapes and words
// say the same.
type Palette struct {
	Ground string
	Plain  string
	Strong string // the chord, and what is held
	Dim    string
	Next   string // what comes, and what has moved
	Alarm  string
	Safe   string
}

// Dark is for a dark place: warm whites on black, and nothing bright but the chord. The
// page has the same colours.
var Dark = Palette{
	Ground: "#000000", Plain: "#B8B0A0", Strong: "#F2EAD8", Dim: "#8F887A", Next: "#C8964A", Alarm: "#E8705A", Safe: "#7FA79F",
}

// Light is for a terminal that its owner keeps light.
var Light = Palette{
	Ground: "#FFFFFF", Plain: "#4A453C", Strong: "#1A1712", Dim: "#665F54", Next: "#85560F", Alarm: "#AD3522", Safe: "#35665E",
}

// styles are the looks of the terminal's view.
type styles struct {
	plain, strong, dim, next, alarm lipgloss.Style
	marks                           [Safe + 1]lipgloss.Style
	line, black                     string // parts of the keyboard
}

var onDark, onLight = newStyles(Dark), newStyles(Light)

func newStyles(p Palette) styles {
	colour := func(hex string) lipgloss.Style { return lipgloss.NewStyle().Foreground(lipgloss.Color(hex)) }
	s := styles{
		plain: colour(p.Plain), strong: colour(p.Strong).Bold(true), dim: colour(p.Dim),
		next: colour(p.Next), alarm: colour(p.Alarm).Bold(true),
	}
	s.marks = [...]lipgloss.Style{Held: s.strong, Moved: s.next.Bold(true), Safe: colour(p.Safe)}
	s.line, s.black = s.dim.Render("│"), s.dim.Render("█")
	return s
}
