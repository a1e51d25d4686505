package glance

import (
	"fmt"
	"strings"
)

// shapes tell the marks apart where there is no colour.
var shapes = [...]rune{Held: '●', Moved: '◆', Safe: '·'}

// keyboardHeight is how many rows a keyboard takes.
const keyboardHeight = 3

// octaveWidth is how many columns an octave takes: two for each white key.
const octaveWidth = 14

// blacks are the columns of an octave's black keys: on the line between two white
// ones.
var blacks = map[int]int{1: 2, 3: 4, 6: 8, 8: 10, 10: 12}

// whites are the columns inside an octave's white keys.
var whites = map[int]int{0: 1, 2: 3, 4: 5, 5: 7, 7: 9, 9: 11, 11: 13}

// keyboard draws the keys from C lowest on, as many octaves as fit, with the notes
// marked, and the names of the Cs below.
func keyboard(notes []Note, lowest uint8, width int, s styles) []string {
	octaves := min(max((width-1)/octaveWidth, 0), (127-int(lowest))/12)
	if octaves == 0 {
		return nil
	}
	back, front := make([]string, octaves*octaveWidth+1), make([]string, octaves*octaveWidth+1)
	for i := range back {
		back[i], front[i] = " ", " "
		if i%2 == 0 {
			back[i], front[i] = s.line, s.line
		}
	}
	for octave := range octaves {
		for _, column := range blacks {
			back[octave*octaveWidth+column] = s.black
		}
	}
	for _, n := range notes {
		above := int(n.Number) - int(lowest)
		if above < 0 || above >= 12*octaves {
			continue
		}
		shape := s.marks[n.Mark].Render(string(shapes[n.Mark]))
		start := above / 12 * octaveWidth
		if column, ok := blacks[above%12]; ok {
			if n.Mark != Safe {
				back[start+column] = shape
			}
		} else {
			front[start+whites[above%12]] = shape
		}
	}
	var names strings.Builder
	for octave := range octaves {
		fmt.Fprintf(&names, "%-*s", octaveWidth, fmt.Sprintf(" C%d", int(lowest)/12-1+octave))
	}
	return []string{strings.Join(back, ""), strings.Join(front, ""), s.dim.Render(strings.TrimRight(names.String(), " "))}
}
