package glance

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// Plain is a text in one line with nothing in it that a terminal would obey instead of
// showing it: devices, plans and performances bring names of their own. Control
// characters (ECMA-48, with those of eight bits), what turns the direction of writing
// (Unicode Standard Annex 9) and what is no text each become a replacement character.
func Plain(s string) string {
	return strings.Map(func(r rune) rune {
		if r == utf8.RuneError || unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) || r == '\u2028' || r == '\u2029' {
			return utf8.RuneError
		}
		return r
	}, s)
}
