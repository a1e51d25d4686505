package clarity

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strings"
)

// Picture shows a voice and a bed by their spectra. Levels are spectrum levels in dB
// SPL at the listener.
type Picture struct {
	Title          string
	Voice          Levels
	Bed            Levels
	Room           Levels
	VoiceIs, BedIs string // in words
}

// heard is how the words come through, room and all.
func (p Picture) heard() Heard { return Hear(p.Voice, p.Room.With(p.Bed)) }

// bandName writes a band's frequency short, as in 160, 1k, 2.5k.
func bandName(hz float64) string {
	if hz < 1000 {
		return fmt.Sprintf("%.0f", hz)
	}
	return strings.TrimSuffix(fmt.Sprintf("%.3g", hz/1000), ".0") + "k"
}

const (
	sketchTop, sketchBottom, sketchStep = 55, -15, 5 // dB
)

// Sketch draws the picture in characters, 62 wide: each band has the voice to the left
// and the bed to the right.
func (p Picture) Sketch() string {
	var b strings.Builder
	need := p.Room.With(internalNoise)
	drawn := false
	for db := sketchTop; db >= sketchBottom; db -= sketchStep {
		row := ""
		for i := range Centres {
			cell := [3]rune{' ', ' ', ' '}
			reaches := func(l float64) bool { return math.Round(l/sketchStep)*sketchStep >= float64(db) }
			if reaches(need[i]) {
				cell[2] = '.'
			}
			if reaches(p.Voice[i]) {
				cell[0] = '█'
			}
			if reaches(p.Bed[i]) {
				cell[1] = '▒'
			}
			row += string(cell[:])
		}
		if drawn = drawn || strings.TrimSpace(row) != ""; drawn {
			fmt.Fprintln(&b, strings.TrimRight(fmt.Sprintf("%4d  %s", db, row), " "))
		}
	}
	names := ""
	for i, hz := range Centres {
		if i%2 == 0 {
			names += fmt.Sprintf("%-6s", bandName(hz))
		}
	}
	fmt.Fprintf(&b, "  dB  %sHz\n", names)
	fmt.Fprintf(&b, "      █ %s   ▒ %s   . the ear and the room in silence\n", p.VoiceIs, p.BedIs)
	return b.String()
}

// Where things stand in the drawing, user units.
const (
	drawingWidth, drawingHeight    = 560, 350
	left, right, top, bottom, base = 40, 548, 58, 246, 300
	topDB, bottomDB                = 60.0, -30.0
)

const style = `
text{font:12px system-ui,"DejaVu Sans",sans-serif;fill:#222}
.paper{fill:#fff}
.heading{font-size:16px;font-weight:600}
.note{fill:#555}
.grid{stroke:#000;stroke-opacity:.12}
.bed{fill:#c2560c;fill-opacity:.45;stroke:#8a3c07}
.voice{fill:none;stroke:#005a94;stroke-width:3}
.masking{fill:none;stroke:#222;stroke-width:1.6;stroke-dasharray:6 3}
.ear{fill:none;stroke:#777;stroke-width:1.4;stroke-dasharray:1.5 3}
.weight{fill:none;stroke:#777}
.through{fill:#005a94;fill-opacity:.75}
@media screen and (prefers-color-scheme:dark){
text{fill:#ddd}.paper{fill:#15181b}.note{fill:#a5abb1}.grid{stroke:#fff}
.bed{fill:#e69f00;stroke:#e69f00}.voice{stroke:#56b4e9}.masking{stroke:#ddd}.ear,.weight{stroke:#999}.through{fill:#56b4e9}
}
`

// WriteSVG draws the picture as one SVG that needs nothing else, for a light and a dark
// screen and for paper. Errors are the writer's.
func (p Picture) WriteSVG(to io.Writer) error {
	w := bufio.NewWriter(to)
	h := p.heard()
	width := float64(right-left) / Bands
	x := func(i int) float64 { return left + float64(i)*width }
	y := func(db float64) float64 {
		return top + (topDB-min(max(db, bottomDB), topDB))/(topDB-bottomDB)*(bottom-top)
	}
	fmt.Fprintf(w, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%[1]d" height="%[2]d" role="img" aria-labelledby="t d">
<title id="t">%s</title>
<desc id="d">%s</desc>
<style>%s</style>
<rect class="paper" width="%[1]d" height="%[2]d"/>
<text class="heading" x="8" y="20">%[3]s</text>
`, drawingWidth, drawingHeight, escaped(p.Title), escaped(p.describe(h)), style)
	p.legend(w)
	for db := bottomDB; db <= topDB; db += 10 {
		fmt.Fprintf(w, `<path class="grid" d="M%d %.1fH%d"/><text class="note" x="%d" y="%.1f" text-anchor="end">%s</text>`+"\n", left, y(db), right, left-6, y(db)+4, minus(db))
	}
	fmt.Fprintf(w, `<text class="note" x="8" y="%d">dB</text>`+"\n", top-10)
	for i, hz := range Centres {
		if at := y(p.Bed[i]); at < bottom {
			fmt.Fprintf(w, `<rect class="bed" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`+"\n", x(i)+3, at, width-6, bottom-at)
		}
		if i%2 == 0 {
			fmt.Fprintf(w, `<text class="note" x="%.1f" y="%d" text-anchor="middle">%s</text>`+"\n", x(i)+width/2, bottom+15, bandName(hz))
		}
	}
	steps := func(class string, l Levels) {
		fmt.Fprintf(w, `<path class="%s" d="M%.1f %.1f`, class, x(0), y(l[0]))
		for i := range l {
			fmt.Fprintf(w, "V%.1fH%.1f", y(l[i]), x(i+1))
		}
		fmt.Fprintln(w, `"/>`)
	}
	steps("ear", internalNoise)
	steps("masking", h.Masking)
	steps("voice", p.Voice)
	const tallest = 30.0 / 0.09 // user units for an importance of 1
	for i := range Centres {
		tall := importance[i] * tallest
		fmt.Fprintf(w, `<rect class="weight" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/><rect class="through" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`+"\n",
			x(i)+6, base-tall, width-12, tall, x(i)+6, base-tall*h.Audible[i], width-12, tall*h.Audible[i])
	}
	fmt.Fprintf(w, `<text class="note" x="%d" y="%d">how much each band counts, and (filled) gets through: %.2f of 1 together</text>`+"\n", left, base+17, h.Index)
	fmt.Fprintf(w, `<text class="note" x="%d" y="%d">Hz; spectrum levels at the listener, dB SPL; index by ANSI S3.5-1997</text>`+"\n</svg>\n", left, base+35)
	return w.Flush()
}

func (p Picture) legend(w io.Writer) {
	fmt.Fprintf(w, `<path class="voice" d="M40 34h22"/><text x="67" y="38">%s</text>
<rect class="bed" x="146" y="28" width="22" height="11"/><text x="173" y="38">%s</text>
<path class="masking" d="M296 34h22"/><text x="323" y="38">what masks</text>
<path class="ear" d="M412 34h22"/><text x="439" y="38">a healthy ear</text>
`, escaped(p.VoiceIs), escaped(p.BedIs))
}

// describe says in words what the drawing shows.
func (p Picture) describe(h Heard) string {
	return fmt.Sprintf("%s has %.0f dB together, %s %.0f dB between 140 Hz and 9 kHz; of the words %.2f of 1 get through.",
		p.VoiceIs, p.Voice.Overall(), p.BedIs, p.Bed.Overall(), h.Index)
}

func minus(db float64) string { return strings.Replace(fmt.Sprintf("%.0f", db), "-", "−", 1) }

func escaped(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a Builder takes everything
	return b.String()
}
