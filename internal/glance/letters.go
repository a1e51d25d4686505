package glance

import (
	"image"
	"strings"

	"golang.org/x/image/font"
	"golang.org/x/image/font/inconsolata"
	"golang.org/x/image/math/fixed"
)

// The cell of a big letter in pixels, and which of its rows have ink.
const (
	letterWidth = 8
	firstInk    = 1
	afterInk    = 15
	baseline    = 12
)

// BigHeight is how many rows big letters take at scale 1.
const BigHeight = (afterInk - firstInk) / 2

// signs are the letters that the font lacks, in its own cell from firstInk on.
var signs = map[rune][afterInk - firstInk]string{
	'♭': {
		"        ",
		" ██     ",
		" ██     ",
		" ██     ",
		" █████  ",
		" ██  ██ ",
		" ██  ██ ",
		" ██ ██  ",
		" ████   ",
		" ██     ",
	},
	'♯': {
		"        ",
		"  █  █  ",
		"  █  █ █",
		"  █ ████",
		"████████",
		"███ █   ",
		"  █  █ █",
		"  █ ████",
		"████████",
		"███ █   ",
		"  █  █  ",
	},
}

// big writes a chord in letters of 8 by 7 cells, or the whole multiple of that
// that scale says, with half blocks for pixels.
func big(symbol string, scale int) []string {
	return bigWords(strings.NewReplacer("b", "♭", "#", "♯").Replace(symbol), scale)
}

// bigWords writes words in the same letters.
func bigWords(words string, scale int) []string {
	text := []rune(words)
	ink := image.NewAlpha(image.Rect(0, 0, letterWidth*len(text), 16))
	pen := font.Drawer{Dst: ink, Src: image.Opaque, Face: inconsolata.Bold8x16}
	for i, r := range text {
		if sign, ok := signs[r]; ok {
			stamp(ink, i*letterWidth, sign[:])
			continue
		}
		pen.Dot = fixed.P(i*letterWidth, baseline)
		pen.DrawString(string(r))
	}
	dark := func(x, y int) bool { return ink.AlphaAt(x/scale, firstInk+y/scale).A > 127 }
	rows := make([]string, BigHeight*scale)
	for row := range rows {
		var line strings.Builder
		for x := range ink.Rect.Dx() * scale {
			switch upper, lower := dark(x, 2*row), dark(x, 2*row+1); {
			case upper && lower:
				line.WriteRune('█')
			case upper:
				line.WriteRune('▀')
			case lower:
				line.WriteRune('▄')
			default:
				line.WriteRune(' ')
			}
		}
		rows[row] = strings.TrimRight(line.String(), " ")
	}
	return rows
}

func stamp(ink *image.Alpha, left int, rows []string) {
	for y, row := range rows {
		x := 0
		for _, r := range row {
			if r == '█' {
				ink.Pix[ink.PixOffset(left+x, firstInk+y)] = 255
			}
			x++
		}
	}
}

// bigWidth is how many columns big gives at scale 1.
func bigWidth(symbol string) int { return letterWidth * len([]rune(symbol)) }
