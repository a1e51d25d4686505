package glance

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"bedd/internal/bed"

	"charm.land/lipgloss/v2"
	"github.com/charmbracelet/x/ansi"
)

// lowestKey is the C that the keyboard begins with, by its MIDI number.
const lowestKey = 24

// block is a part of the picture, with how soon it goes where there is no room:
// the highest first.
type block struct {
	rows []string
	goes int
}

// chordBlock is the place of the chord among the blocks.
const chordBlock = 1

func rowsOf(blocks []block) (n int) {
	for _, b := range blocks {
		n += len(b.rows)
	}
	return n
}

// Draw draws a model for a terminal of some columns and rows. What a glance needs
// most stays when there is little room; the chord grows when there is much.
func Draw(m Model, width, height int) string { return draw(m, width, height, onDark) }

func draw(m Model, width, height int, s styles) string {
	if width <= 0 || height <= 0 {
		return ""
	}
	chord, next := chordRows(m, width, height, s)
	small := []string{s.strong.Render(m.Chord) + s.dim.Render("  then ") + s.next.Render(m.Next)}
	blocks := []block{
		{[]string{head(m, width, s)}, 3},
		{chord, 0},
		{task(m, s), 1},
		{[]string{stepRow(m, s)}, 1},
		{choiceRow(m, width, s), 2},
		{next, 5},
		{keyboard(m.Notes, lowestKey, width, s), 6},
		{[]string{names(m, s)}, 7},
		{[]string{gauge(m, width, s)}, 2},
		{[]string{links(m, s)}, 4},
		{hears(m, s), 8},
		{[]string{foot(m, s)}, 8},
		{prompted(m, s), 5},
		{news(m, s), 9},
		{invitation(m, s), 10},
	}
	if len(chord) == 0 {
		blocks[chordBlock].rows = small
	}
	for rowsOf(blocks) > height {
		last := 0
		for i, b := range blocks {
			if len(b.rows) > 0 && (len(blocks[last].rows) == 0 || b.goes > blocks[last].goes) {
				last = i
			}
		}
		if big := &blocks[chordBlock]; blocks[last].goes <= 1 && len(big.rows) > 1 {
			big.rows = small
		} else {
			blocks[last].rows = nil
		}
	}
	var rows []string
	for _, b := range blocks {
		rows = append(rows, b.rows...)
	}
	for i := range rows {
		rows[i] = ansi.Truncate(rows[i], width, "…")
	}
	return strings.Join(rows, "\n")
}

// chordRows are the chord and the next one in big letters, as big as they can be;
// nothing where there is no room for that.
func chordRows(m Model, width, height int, s styles) (chord, next []string) {
	const others = 1 + 1 + keyboardHeight + 1 + 1 + 1 + 1 + 1
	if bigWidth(m.Chord)+1 > width {
		return nil, nil
	}
	letters := (height - others) / BigHeight // rows of them at scale 1
	scale := min(max(min(width/(bigWidth(m.Chord)+1), letters-1), 1), 3)
	after := min(max(min(width/(bigWidth(m.Next)+1), letters-scale), 1), max(scale-1, 1))
	look := s.strong
	if !m.Sounds {
		look = s.dim
	}
	chord = paint(big(m.Chord, scale), look)
	if bigWidth(m.Next)+1 <= width {
		next = paint(big(m.Next, after), s.next)
	}
	return chord, next
}

func paint(rows []string, look lipgloss.Style) []string {
	out := make([]string, len(rows))
	for i, row := range rows {
		out[i] = " " + look.Render(row)
	}
	return out
}

// head is the first row: in which key and what for, and how long of how long.
func head(m Model, width int, s styles) string {
	key := "in " + m.Key
	if m.Fingers != "" {
		key = "sounds in " + m.Key + ", hands in " + m.Fingers
	}
	left := " " + s.strong.Render(key) + "  " + s.plain.Render(m.Title)
	right := minutes(m.Elapsed)
	look := s.plain
	if m.Lasts > 0 {
		right += " of " + minutes(m.Lasts)
	}
	if m.Longest > 0 && m.Elapsed > m.Longest || m.Longest == 0 && m.Lasts > 0 && m.Elapsed > m.Lasts {
		look = s.alarm
		right += " over"
	}
	gap := width - ansi.StringWidth(left) - len(right) - 1
	if gap < 1 {
		left, gap = ansi.Truncate(left, max(width-len(right)-2, 0), "…"), 1
	}
	return left + strings.Repeat(" ", gap) + look.Render(right)
}

func minutes(seconds float64) string {
	whole := int(math.Round(seconds))
	return fmt.Sprintf("%d:%02d", whole/60, whole%60)
}

func stepRow(m Model, s styles) string {
	if c := m.Choice; c != nil {
		return s.dim.Render(" left foot: ") + s.next.Render("take "+c.What+" ▸ "+c.Answers[c.At]) + s.dim.Render("   arm: the next one")
	}
	way := ""
	if len(m.Landing) > 1 && (m.Lands || m.Step == bed.Land.String() || m.Step == bed.LandThrough.String()) {
		way = "   the way: " + strings.Join(m.Landing, " ")
	}
	if m.Walks {
		way += ", by itself"
	}
	return s.dim.Render(" left foot: ") + s.next.Render(m.Step) + s.dim.Render(" ▸ ") + s.next.Render(m.Next) + s.dim.Render("     now "+m.Chord+", "+m.Degree+onThis(m)+way)
}

// onThis is how long the bed has been on its progression, landing or chord.
func onThis(m Model) string {
	if !m.Sounds {
		return ""
	}
	return ", " + minutes(m.OnThis) + " on this"
}

// choiceRow lists the answers around the one that step takes, those that were
// used in brackets.
func choiceRow(m Model, width int, s styles) []string {
	c := m.Choice
	if c == nil {
		return nil
	}
	row, n := "", len(c.Answers)
	for i := range n {
		at := (c.At + i) % n
		answer := c.Answers[at]
		if slices.Contains(c.Used, at) {
			answer = "(" + answer + ")"
		}
		if ansi.StringWidth(row)+ansi.StringWidth(answer)+5 > width && i > 0 {
			row += s.dim.Render(" …")
			break
		}
		if i == 0 {
			row += " " + s.next.Render("▸ "+answer)
			continue
		}
		row += s.plain.Render("  " + answer)
	}
	return []string{row}
}

// task is what counts now in a practice.
func task(m Model, s styles) []string {
	if m.Task == "" {
		return nil
	}
	return []string{" " + s.strong.Render(m.Task)}
}

// prompted is what it is time for.
func prompted(m Model, s styles) []string {
	if m.Prompt == "" {
		return nil
	}
	return []string{s.dim.Render(" time: ") + s.next.Render(m.Prompt)}
}

// names lists the bed's notes, each with the shape of its mark.
func names(m Model, s styles) string {
	row := ""
	for _, n := range m.Notes {
		if n.Mark != Safe {
			row += " " + s.marks[n.Mark].Render(string(shapes[n.Mark])+n.Name)
		}
	}
	if len(m.Missing) > 0 {
		row += s.dim.Render("  no " + strings.Join(m.Missing, " "))
	}
	return row
}

// gauge shows how full the bed is, and whose wish that is.
func gauge(m Model, width int, s styles) string {
	columns := min(max(width-56, 8), 40)
	full := min(max(int(math.Round(m.Intensity*float64(columns))), 0), columns)
	row := " " + s.next.Render(strings.Repeat("━", full)) + s.dim.Render(strings.Repeat("┄", columns-full)) +
		s.plain.Render(fmt.Sprintf(" %3.0f %%", 100*m.Intensity)) + s.dim.Render(fmt.Sprintf(" %s, %d voices, ", m.Source, m.Voices)) + s.plain.Render(m.Phase)
	if m.Stay {
		row += s.alarm.Render("  STAY")
	}
	if m.Follow {
		row += s.alarm.Render("  FOLLOW")
	}
	return row
}

// links shows every port, with an arrow away from an input and to an output, and a
// cross where it is lost.
func links(m Model, s styles) string {
	if len(m.Links) == 0 {
		return s.dim.Render(" no MIDI port")
	}
	row := ""
	for _, l := range m.Links {
		name := s.plain.Render(l.Name)
		if !l.Up {
			name = s.alarm.Render("✕ " + l.Name + " LOST")
		}
		if l.Way == "out" {
			row += " " + s.dim.Render("▸ ") + name + " "
		} else {
			row += " " + name + s.dim.Render(" ▸") + " "
		}
	}
	return row
}

func foot(m Model, s styles) string {
	if m.Foot == "" {
		return s.dim.Render(" ? lists the keys")
	}
	return s.dim.Render(" last: ") + s.plain.Render(m.Foot) + s.dim.Render(fmt.Sprintf(", %s ago    ? lists the keys", minutes(m.FootAt)))
}

// hears is what is heard of a voice.
func hears(m Model, s styles) []string {
	if m.Hears == "" {
		return nil
	}
	return []string{" " + s.dim.Render(m.Hears)}
}

func news(m Model, s styles) []string {
	if len(m.News) == 0 {
		return nil
	}
	return []string{" " + s.alarm.Render("! ") + s.plain.Render(m.News[len(m.News)-1])}
}

// invitation says how a device gets to the page.
func invitation(m Model, s styles) []string {
	if m.Page == "" {
		return nil
	}
	return []string{s.dim.Render(" page: ") + s.plain.Render(m.Page)}
}

// drawHelp draws the list of keys under what matters most.
func drawHelp(top, help []string, width, height int, s styles) string {
	rows := append(top, "")
	for _, line := range append(slices.Clip(help), "", "? closes this list") {
		rows = append(rows, " "+s.plain.Render(line))
	}
	rows = rows[:min(len(rows), height)]
	for i := range rows {
		rows[i] = ansi.Truncate(rows[i], width, "…")
	}
	return strings.Join(rows, "\n")
}
