package glance

import (
	"strings"

	"github.com/charmbracelet/x/ansi"
)

// Card is one thing that the player is asked to do, to be read from two metres.
type Card struct {
	Head  string   // which step of how many
	Big   string   // a few letters, as large as they will go
	Say   []string // the same in sentences
	Heard []string // what came of it
	Alarm []string // what is not as it should be, and what to do
	Care  string   // a caution
	Keys  []string // which keys do what now
}

// DrawCard draws a card for a terminal of some columns and rows. What is to be done and
// the keys stay when there is little room; the caution stays as long as the sentences.
func DrawCard(c Card, width, height int) string { return drawCard(c, width, height, onDark) }

func drawCard(c Card, width, height int, s styles) string {
	if width <= 0 || height <= 0 {
		return ""
	}
	big, small := c.bigRows(width, height, s), []string{" " + s.strong.Render(c.Big)}
	text := func(mark string, lines []string, look func(...string) string) (rows []string) {
		for _, l := range lines {
			for i, row := range strings.Split(ansi.Wordwrap(l, max(width-4, 8), ""), "\n") {
				m := mark
				if i > 0 {
					m = strings.Repeat(" ", len([]rune(mark)))
				}
				rows = append(rows, " "+look(m+row))
			}
		}
		return rows
	}
	care := []string{}
	if c.Care != "" {
		care = text("", []string{c.Care}, s.dim.Render)
	}
	blocks := []block{
		{[]string{" " + s.dim.Render(c.Head)}, 3},
		{big, 0},
		{text("", c.Say, s.plain.Render), 1},
		{text("! ", c.Alarm, s.alarm.Render), 2},
		{text("✓ ", c.Heard, s.next.Render), 4},
		{care, 2},
		{text("", []string{strings.Join(c.Keys, "   ")}, s.next.Render), 1},
	}
	if len(big) == 0 {
		blocks[chordBlock].rows = small
	}
	for rowsOf(blocks) > height {
		last := chordBlock
		for i, b := range blocks {
			if len(b.rows) > 0 && b.goes > blocks[last].goes {
				last = i
			}
		}
		switch b := &blocks[last]; {
		case b.goes <= 1 && len(blocks[chordBlock].rows) > 1:
			blocks[chordBlock].rows = small
		case last == chordBlock:
			return ansi.Truncate(small[0], width, "…")
		default:
			b.rows = b.rows[:len(b.rows)-1]
		}
	}
	var rows []string
	for i, b := range blocks {
		if i == len(blocks)-1 && rowsOf(blocks) < height { // the keys at the foot
			rows = append(rows, make([]string, height-rowsOf(blocks))...)
		}
		rows = append(rows, b.rows...)
	}
	rows = rows[:min(len(rows), height)]
	for i := range rows {
		rows[i] = ansi.Truncate(rows[i], width, "…")
	}
	return strings.Join(rows, "\n")
}

// bigRows writes the big lines as large as they will go; nothing where they do not fit.
func (c Card) bigRows(width, height int, s styles) []string {
	const others = 13
	for scale := 3; scale >= 1; scale-- {
		fits := bigWidth(c.Big)*scale+1 <= width && BigHeight*scale+others <= height
		if fits || scale == 1 && bigWidth(c.Big)+1 <= width {
			return paint(bigWords(c.Big, scale), s.strong)
		}
	}
	return nil
}

// ShowCard shows a card in place of what was shown before. It never waits.
func (t *Terminal) ShowCard(c Card) { t.show(c) }

func (c Card) draw(width, height int, look styles) string { return drawCard(c, width, height, look) }
func (c Card) drawHelp(help []string, width, height int, look styles) string {
	if len(help) == 0 {
		return drawCard(c, width, height, look)
	}
	return drawHelp([]string{" " + look.dim.Render(c.Head), " " + look.strong.Render(c.Big)}, help, width, height, look)
}
func (c Card) busy() bool { return true }
