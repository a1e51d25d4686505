// Package glance is what the musician sees, on the terminal or in a file, from one view model.
package glance

import (
	"fmt"
	"strings"
	"time"

	"bedd/internal/bed"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// Clock writes a time as minutes, seconds and tenths.
func Clock(at time.Duration) string {
	tenths := at.Round(100*time.Millisecond) / (100 * time.Millisecond)
	return fmt.Sprintf("%2d:%02d.%d", tenths/600, tenths/10%60, tenths%10)
}

// Chord tells of a chord that has just been entered: its name and degree, the
// bass and the upper notes from low to high, each marked = held, + new or - gone,
// how full the bed is and what asks for it. Where that is wider than width
// columns it takes a second line; a width of 0 has room for everything.
func Chord(at time.Duration, v bed.View, width int) string {
	head := fmt.Sprintf("%s  %-7s %-6s ", Clock(at), v.Chord.Symbol(), v.Chord.Degree(v.Key))
	bass := ""
	if v.Voicing.Bass != voicing.NoBass {
		bass = mark(v, v.Voicing.Bass)
	}
	notes := []string{fmt.Sprintf("%-5s|", bass)}
	for _, n := range v.Voicing.Notes() {
		notes = append(notes, mark(v, n))
	}
	var room [2 * voicing.MaxUpper]uint8
	for _, n := range v.Change.Released.Append(room[:0]) {
		notes = append(notes, "-"+v.Change.Before.Spell(class(n), v.Change.BeforeKey).Note(int(n)))
	}
	tail := fmt.Sprintf("intensity %.2f %-8s %d voices", v.Intensity, v.Source, v.Density)
	if v.Missing.Len() > 0 {
		tail += ", no " + spelled(v)
	}
	line := head + strings.Join(notes, " ")
	line = fmt.Sprintf("%-68s ", line)
	if width > 0 && len([]rune(line))+len([]rune(tail)) > width {
		return strings.TrimRight(line, " ") + "\n" + strings.Repeat(" ", len(Clock(0))+2) + tail
	}
	return line + tail
}

func class(note uint8) pitch.Class { return pitch.ClassOf(int(note)) }

func mark(v bed.View, note uint8) string {
	sign := "+"
	if v.Change.Held.Has(note) {
		sign = "="
	}
	return sign + v.Chord.Spell(class(note), v.Key).Note(int(note))
}

// spelled names what the chord lacks.
func spelled(v bed.View) string {
	var out []string
	for c := range pitch.Class(12) {
		if v.Missing.Has(c) {
			out = append(out, v.Chord.Spell(c, v.Key).String())
		}
	}
	return strings.Join(out, " ")
}

// Action is the line for a command carried out or a notice; empty for what has
// a line of its own or none.
func Action(a bed.Action) string {
	if words := Words(a); words != "" {
		return Clock(a.At) + "  " + words
	}
	return ""
}

// Words says what Action says, without when.
func Words(a bed.Action) string {
	switch a.Kind {
	case bed.Did:
		switch what := a.Command.String(); a.Command {
		case bed.Stay, bed.Follow:
			return what + map[bool]string{true: " on", false: " off"}[a.On]
		case bed.KeyUp, bed.KeyDown, bed.KeyTo:
			return "key " + a.Key.String()
		case bed.LevelUp, bed.LevelDown:
			return fmt.Sprintf("%s to %d %%", what, a.Value)
		case bed.Take:
			if a.Song == 0 {
				return "no song follows"
			}
			return fmt.Sprintf("next is song %d", a.Song)
		default:
			return what
		}
	case bed.Tell:
		return "(" + a.Notice.String() + ")"
	}
	return ""
}

// Step says in a word or two what the next step does.
func Step(v bed.View) string {
	switch v.NextDoes {
	case bed.NoCommand:
		return "holds " + v.Next.Symbol()
	case bed.Next:
		return v.Next.Symbol()
	case bed.BringIn:
		return "bring in " + v.Next.Symbol()
	case bed.Take:
		return "take"
	case bed.Swap, bed.Land, bed.LandThrough, bed.FirstChord:
		return v.NextDoes.String() + " to " + v.Next.Symbol()
	}
	return v.NextDoes.String()
}

// Status is one line, at most width characters wide, on how things stand: the
// chord, what the next step does, how full, what is switched on, and what is heard of a
// voice, empty where nobody is listened to.
func Status(at time.Duration, v bed.View, heard string, width int) string {
	const gauge = 10
	full := min(int(v.Intensity*gauge+0.5), gauge)
	s := fmt.Sprintf("%s  %-6s > %-16s [%s%s] %s", Clock(at), v.Chord.Symbol(), Step(v),
		strings.Repeat("#", full), strings.Repeat(".", gauge-full), v.Phase)
	if v.Stay {
		s += "  STAY"
	}
	if v.Follow {
		s += "  FOLLOW"
	}
	if heard != "" {
		s += "  " + heard
	}
	if r := []rune(s); len(r) > width {
		s = string(r[:max(width, 0)])
	}
	return s
}
