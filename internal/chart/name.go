package chart

import (
	"fmt"
	"html"
	"strings"

	"bedd/internal/harmony"
)

// Widths of a card, in mm: four, three or two of them stand in a row on A4 and
// Letter.
const narrowCard, wideCard, grandCard = 42, 57, 70

// Sizes of type in a chord's name, in mm: capital letters are 0.73 as high.
const rootType, moreType = 14, 10.5

// drawnName draws a chord's name as large as it is, and narrower where it would not
// fit in a card of that width in mm.
func drawnName(c harmony.Chord, width int) string {
	root := c.Root.String()
	more := accidentals(strings.TrimPrefix(c.Symbol(), root))
	root = accidentals(root)
	fit := ""
	if room := float64(width); typeWidth(root, rootType)+typeWidth(more, moreType) > room {
		fit = fmt.Sprintf(` textLength="%g" lengthAdjust="spacingAndGlyphs"`, room-1)
	}
	return fmt.Sprintf(`<svg class="name" viewBox="0 0 %d 12.5" style="width:%dmm" role="img" aria-label="%s"><text y="10.5"%s><tspan class="root" font-size="%v">%s</tspan><tspan class="more" font-size="%v">%s</tspan></text></svg>`,
		width, width, html.EscapeString(c.Symbol()), fit, float64(rootType), html.EscapeString(root), moreType, html.EscapeString(more))
}

// typeWidth is about as wide as a text is in bold letters of a size, in a font that
// is rather wide.
func typeWidth(s string, size float64) (wide float64) {
	for _, c := range s {
		switch {
		case c == 'm':
			wide += 1.05
		case strings.ContainsRune("ij()/♭,", c):
			wide += 0.45
		case c >= 'A' && c <= 'Z':
			wide += 0.78
		default:
			wide += 0.7
		}
	}
	return wide * size
}
