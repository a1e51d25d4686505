package review

import (
	"fmt"
	"strings"
	"time"
	"unicode"

	"github.com/charmbracelet/x/ansi"
)

// quoted writes what was said, in quotation marks unless it has its own.
func quoted(words string) string {
	if words = Plain(words); strings.HasPrefix(words, "“") || strings.HasPrefix(words, "\"") {
		return words
	}
	return "“" + words + "”"
}

// Plain makes any text fit for a terminal: what cannot be shown becomes a blank.
func Plain(s string) string {
	return strings.Join(strings.FieldsFunc(s, func(r rune) bool { return !unicode.IsPrint(r) && r != '\u00a0' }), " ")
}

// clip shortens a text to a number of columns.
func clip(s string, most int) string { return ansi.Truncate(s, max(most, 1), "…") }

// columns is how wide a terminal shows a text.
func columns(s string) int { return ansi.StringWidth(s) }

// together joins what stands on one line: a blank that wrap does not break at.
const together = "\u00a0"

// wrap breaks a text between words, and a word that is too long within; later lines
// are indented.
func wrap(text string, width, indent int) (lines []string) {
	line := ""
	for _, word := range words(text, max(width-indent, 1)) {
		switch {
		case line == "":
			line = word
		case columns(line)+1+columns(word) > width:
			lines = append(lines, line)
			line = strings.Repeat(" ", indent) + word
		default:
			line += " " + word
		}
	}
	return append(lines, line)
}

// words splits a text into what is to stay on one line.
func words(text string, width int) (list []string) {
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == '\n' || r == '\t' }) {
		if columns(word) <= width {
			list = append(list, strings.ReplaceAll(word, together, " "))
			continue
		}
		for _, part := range strings.Split(word, together) {
			list = append(list, strings.Split(ansi.Hardwrap(part, width, true), "\n")...)
		}
	}
	return list
}

// clock writes a time as minutes and seconds, with hours where there are any.
func clock(d time.Duration) string {
	s := int(d.Round(time.Second) / time.Second)
	if s >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
	}
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

// stamp is when something was: with tenths in a session of less than an hour.
func stamp(at, length time.Duration) string {
	if length >= time.Hour {
		s := int(at / time.Second)
		return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
	}
	tenths := int(at.Round(100*time.Millisecond) / (100 * time.Millisecond))
	return fmt.Sprintf("%d:%02d.%d", tenths/600, tenths/10%60, tenths%10)
}

// short writes how long something lasted.
func short(d time.Duration) string {
	if d >= 100*time.Second {
		return clock(d)
	}
	if d < 10*time.Second {
		return fmt.Sprintf("%.1f s", d.Seconds())
	}
	return fmt.Sprintf("%.0f s", d.Seconds())
}

func itoa(n int) string { return fmt.Sprint(n) }
