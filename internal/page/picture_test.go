package page

import (
	"encoding/base64"
	"fmt"
	"html"
	"image/color"
	"strings"
	"testing"

	"bedd/internal/glance"

	"github.com/charmbracelet/x/vt"
	"github.com/chromedp/chromedp"
)

// The size of a terminal's cell in a picture, in pixels.
const (
	cellWidth  = 10
	cellHeight = 20
)

// blocks are the characters that fill their cell to its edge, as left, top, width and
// height of what they fill, in halves: fonts leave gaps.
var blocks = map[string][4]int{"█": {0, 0, 2, 2}, "▀": {0, 0, 2, 1}, "▄": {0, 1, 2, 1}}

const bold = 1 // among the attributes of a cell

// terminalPicture is what a terminal shows of a model, as a page with a drawing (SVG 2).
func terminalPicture(m glance.Model, columns, rows int) string {
	screen := vt.NewEmulator(columns, rows)
	_, _ = screen.WriteString(strings.ReplaceAll(glance.Draw(m, columns, rows), "\n", "\r\n"))
	var drawn strings.Builder
	for y := range rows {
		for x := range columns {
			cell := screen.CellAt(x, y)
			if cell == nil || strings.TrimSpace(cell.Content) == "" {
				continue
			}
			ink, weight := "#b8b0a0", "normal"
			if cell.Style.Fg != nil {
				c := color.NRGBAModel.Convert(cell.Style.Fg).(color.NRGBA)
				ink = fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B)
			}
			if cell.Style.Attrs&bold != 0 {
				weight = "bold"
			}
			left, top := x*cellWidth, y*cellHeight
			if b, ok := blocks[cell.Content]; ok {
				fmt.Fprintf(&drawn, `<rect x="%d" y="%d" width="%d" height="%d" fill="%s"/>`, left+b[0]*cellWidth/2, top+b[1]*cellHeight/2, b[2]*cellWidth/2, b[3]*cellHeight/2, ink)
				continue
			}
			fmt.Fprintf(&drawn, `<text x="%d" y="%d" fill="%s" font-weight="%s" textLength="%d" lengthAdjust="spacingAndGlyphs">%s</text>`,
				left, top+cellHeight*3/4, ink, weight, cellWidth*max(cell.Width, 1), html.EscapeString(cell.Content))
		}
	}
	return fmt.Sprintf(`<!doctype html><meta charset="utf-8"><style>body { margin: 0; background: #000 } rect { shape-rendering: crispEdges }</style>
<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%d" font-family="DejaVu Sans Mono, monospace" font-size="16.6">%s</svg>`,
		columns*cellWidth, rows*cellHeight, drawn.String())
}

// TestBrowserPictures makes the README's pictures, where they are wanted.
func TestBrowserPictures(t *testing.T) {
	if *pictures == "" {
		t.Skip("no folder for pictures: run scripts/screenshots")
	}
	b := newBrowser(t)
	for name, size := range map[string][2]int{"terminal": {80, 24}, "terminal-large": {132, 43}} {
		b.size(int64(size[0]*cellWidth), int64(size[1]*cellHeight))
		b.do(chromedp.Navigate("data:text/html;base64," + base64.StdEncoding.EncodeToString([]byte(terminalPicture(sample(), size[0], size[1])))))
		b.drawn()
		b.picture(name)
	}
	s := open(t, thisMachine, true)
	b.size(1280, 800)
	b.do(chromedp.Navigate(s.url()))
	b.live()
	b.until(`Math.abs(document.getElementById("full").clientWidth / document.getElementById("gauge").clientWidth - 0.62) < 0.01`)
	b.picture("page-tablet")
	reads := open(t, thisMachine, false)
	b.size(360, 640)
	b.do(chromedp.Navigate(reads.url()))
	b.live()
	b.choose("show", "reading")
	b.choose("transpose", "-3")
	b.reads("chord", "Em7")
	b.drawn()
	b.picture("page-phone")
}
