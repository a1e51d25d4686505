package glance

import (
	"bytes"
	"unicode/utf8"
)

// sequences are what terminals send for keys without a character (ECMA-48
// control sequences as xterm and the Linux console use them).
var sequences = map[string]string{
	"[A": "up", "[B": "down", "[C": "right", "[D": "left",
	"OA": "up", "OB": "down", "OC": "right", "OD": "left",
	"[H": "home", "[F": "end", "OH": "home", "OF": "end",
	"[1~": "home", "[4~": "end", "[7~": "home", "[8~": "end",
	"[5~": "pageup", "[6~": "pagedown",
	"OP": "f1", "OQ": "f2", "OR": "f3", "OS": "f4",
	"[[A": "f1", "[[B": "f2", "[[C": "f3", "[[D": "f4", "[[E": "f5",
	"[11~": "f1", "[12~": "f2", "[13~": "f3", "[14~": "f4",
	"[15~": "f5", "[17~": "f6", "[18~": "f7", "[19~": "f8",
	"[20~": "f9", "[21~": "f10", "[23~": "f11", "[24~": "f12",
}

// longest is the length of the longest sequence.
const longest = 4

// Interrupt is the name Keys gives to control-C and control-D.
const Interrupt = "interrupt"

// Unfinished reports whether what a terminal sent ends inside a sequence: the
// rest may follow, or it was the esc key.
func Unfinished(sent []byte) bool {
	i := bytes.LastIndexByte(sent, 0x1B)
	if i < 0 {
		return false
	}
	rest := sent[i+1:]
	if len(rest) == 0 {
		return true
	}
	if rest[0] != '[' && rest[0] != 'O' {
		return false
	}
	for _, c := range rest[1:] {
		if c >= '@' && c <= '~' && !(len(rest) == 2 && c == '[') {
			return false
		}
	}
	return true
}

// Keys names the keys in what a terminal in raw mode sent in one piece:
// characters by themselves, the others as in space, enter, tab, esc, up,
// pagedown, f1. An escape that stands alone, or twice, is the esc key; with a
// character after it, as the alt key sends, both are skipped, and so are
// unknown sequences.
func Keys(sent []byte) []string {
	var names []string
	for len(sent) > 0 {
		name, n := key(sent)
		if name != "" {
			names = append(names, name)
		}
		sent = sent[n:]
	}
	return names
}

func key(sent []byte) (name string, length int) {
	switch c := sent[0]; {
	case c == 0x1B:
		return escape(sent[1:])
	case c == ' ':
		return "space", 1
	case c == '\r' || c == '\n':
		return "enter", 1
	case c == '\t':
		return "tab", 1
	case c == 0x7F || c == 0x08:
		return "backspace", 1
	case c == 0x03 || c == 0x04:
		return Interrupt, 1
	case c < 0x20:
		return "", 1
	}
	r, n := utf8.DecodeRune(sent)
	if r == utf8.RuneError {
		return "", n
	}
	return string(r), n
}

// escape names what follows an escape; the length counts the escape.
func escape(rest []byte) (name string, length int) {
	if len(rest) == 0 {
		return "esc", 1
	}
	for n := min(longest, len(rest)); n >= 2; n-- {
		if name, ok := sequences[string(rest[:n])]; ok {
			return name, 1 + n
		}
	}
	if rest[0] == 0x1B && (len(rest) == 1 || rest[1] != '[' && rest[1] != 'O') {
		return "esc", 2 // pressed in a hurry
	}
	if rest[0] != '[' && rest[0] != 'O' {
		_, n := key(rest)
		return "", 1 + n
	}
	for i, c := range rest[1:] { // a sequence ends with a byte from @ to ~
		if c >= '@' && c <= '~' {
			return "", 2 + i + 1
		}
	}
	return "", 1 + len(rest)
}
