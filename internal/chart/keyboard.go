package chart

import (
	"fmt"
	"html"
	"strings"

	"bedd/internal/pitch"
)

// Sizes of a picture, in units of which a white key is ten wide.
const (
	whiteWide, whiteHigh = 10.0, 44.0
	blackWide, blackHigh = 6.4, 27.0
	edge                 = 0.5
)

// span is the keys of a picture: white ones from Low to High.
type span struct{ Low, High int }

func black(note int) bool {
	switch pitch.ClassOf(note) {
	case 1, 3, 6, 8, 10:
		return true
	}
	return false
}

// spanOf is room for all upper notes of some steps, two octaves at least, from a C
// or F to an E or B.
func spanOf(parts ...[]Step) span {
	low, high := 127, 0
	for _, steps := range parts {
		for _, s := range steps {
			for _, n := range s.Voicing.Notes() {
				low, high = min(low, int(n)), max(high, int(n))
			}
		}
	}
	if low > high {
		low, high = 60, 60
	}
	k := span{low, high}
	for class := pitch.ClassOf(k.Low); class != 0 && class != 5; class = pitch.ClassOf(k.Low) {
		k.Low--
	}
	const twoOctaves = 23
	for class := pitch.ClassOf(k.High); k.High-k.Low < twoOctaves || class != 4 && class != 11; class = pitch.ClassOf(k.High) {
		k.High++
	}
	return k
}

// left is where the white key of a note begins, or the one below a black key.
func (k span) left(note int) float64 {
	x := 0.0
	for n := k.Low; n < note; n++ {
		if !black(n) {
			x += whiteWide
		}
	}
	if black(note) {
		return x - blackWide/2
	}
	return x
}

func (k span) width() float64 { return k.left(k.High) + whiteWide }

// keyboard draws the keys with the step's notes: a dot on what is held, a diamond on
// what is new, a ring where the right hand may rest. Middle C has its name.
func (k span) keyboard(s *Step) string {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="keys" viewBox="%g %g %g %g" role="img" aria-label="%s">`, -edge, -edge, k.width()+2*edge, whiteHigh+9+2*edge, html.EscapeString(s.spoken()))
	for _, dark := range []bool{false, true} {
		for n := k.Low; n <= k.High; n++ {
			if black(n) != dark {
				continue
			}
			class, wide, high := "white", whiteWide, whiteHigh
			if dark {
				class, wide, high = "black", blackWide, blackHigh
			}
			fmt.Fprintf(&b, `<rect class="%s" x="%g" y="0" width="%g" height="%g"/>`, class, k.left(n), wide, high)
		}
	}
	rests := map[int]bool{}
	for _, n := range s.Safe {
		if n.Note == n.To {
			rests[int(n.Note)] = true
		}
	}
	sounding := s.Voicing.Pitches()
	for n := k.Low; n <= k.High; n++ {
		on, wide, y := "onwhite", whiteWide, whiteHigh-8
		if black(n) {
			on, wide, y = "onblack", blackWide, blackHigh-6
		}
		x := k.left(n) + wide/2
		switch {
		case sounding.Has(uint8(n)) && s.Held.Has(uint8(n)):
			fmt.Fprintf(&b, `<circle class="held %s" cx="%g" cy="%g" r="%g"/>`, on, x, y, wide*0.38)
		case sounding.Has(uint8(n)):
			r := wide * 0.46
			fmt.Fprintf(&b, `<path class="new %s" d="M%g %gl%g %gl%g %gl%g %gz"/>`, on, x, y-r*1.35, r, r*1.35, -r, r*1.35, -r, -r*1.35)
		case rests[n]:
			fmt.Fprintf(&b, `<circle class="safe %s" cx="%g" cy="%g" r="1.7"/>`, on, x, y+2)
		}
	}
	if k.Low <= 60 && 60 <= k.High {
		fmt.Fprintf(&b, `<text class="middle" x="%g" y="%g">C4</text>`, k.left(60)+whiteWide/2, whiteHigh+8.4)
	}
	b.WriteString(`</svg>`)
	return b.String()
}

// spoken says what the picture shows.
func (s *Step) spoken() string {
	var held, fresh []string
	for _, n := range s.Voicing.Notes() {
		if s.Held.Has(n) {
			held = append(held, s.note(int(n)))
		} else {
			fresh = append(fresh, s.note(int(n)))
		}
	}
	said := s.Chord.Symbol()
	if len(held) > 0 {
		said += ", held " + strings.Join(held, " ")
	}
	if len(fresh) > 0 {
		said += ", new " + strings.Join(fresh, " ")
	}
	return said
}
