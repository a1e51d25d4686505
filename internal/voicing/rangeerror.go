package voicing

import (
	"fmt"
	"strings"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// RangeError says that no voicing of a chord keeps the hard rules, and what would
// help: an octave more at each end, fewer voices, one colour more.
type RangeError struct {
	Chord     harmony.Chord
	Voices    int
	Low, High uint8

	Wider, Fewer, Colour bool
}

func (e *RangeError) Error() string {
	var help []string
	for _, h := range [...]struct {
		helps bool
		what  string
	}{{e.Wider, "widen the range"}, {e.Fewer, "ask for fewer voices"}, {e.Colour, "allow a colour"}} {
		if h.helps {
			help = append(help, h.what)
		}
	}
	advice := ""
	if len(help) > 0 {
		advice = ": " + strings.Join(help, " or ")
	}
	return fmt.Sprintf("no %d-voice voicing of %s fits between %s and %s%s", e.Voices, e.Chord.Symbol(), name(e.Low), name(e.High), advice)
}

// narrow gives the error for a chord without a voicing of n upper notes, having
// tried what would help.
func (e *Engine) narrow(c harmony.Chord, key pitch.Key, n int) *RangeError {
	defer func(s Settings) { e.s = s }(e.s)
	asked := e.s
	asked.Weights = Weights{}
	wider, coloured := asked, asked
	wider.Low, wider.High = wider.Low-min(12, wider.Low), min(127, wider.High+12)
	coloured.Plain, coloured.Palette, coloured.Colours = false, coloured.Palette|AnyColour, coloured.Colours+1
	out := &RangeError{Chord: c, Voices: n, Low: e.s.Low, High: e.s.High}
	out.Wider, out.Colour = e.hasUnder(wider, c, key, n), e.hasUnder(coloured, c, key, n)
	for fewer := n - 1; fewer > 0 && !out.Fewer; fewer-- {
		out.Fewer = e.hasUnder(asked, c, key, fewer)
	}
	return out
}

// hasUnder reports whether a chord has a voicing of n upper notes under other
// settings, as far as some thousand notes tell.
func (e *Engine) hasUnder(s Settings, c harmony.Chord, key pitch.Key, n int) bool {
	e.s = s
	t := s.tonality(c, key)
	l := e.lister(&t, e.widest(), n, 1, nil)
	l.tries = 1 << 12
	l.all()
	return len(l.found) > 0
}
