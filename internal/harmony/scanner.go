package harmony

import "strings"

// scanner walks through a chord's text.
type scanner struct {
	text    string
	at      int
	counted bool // the root is a number: a minus parts chords, as in 27-5
}

// take moves past the first of the options that comes next, and returns it.
func (s *scanner) take(options ...string) string {
	for _, o := range options {
		if strings.HasPrefix(s.text[s.at:], o) {
			s.at += len(o)
			return o
		}
	}
	return ""
}

// takeWord is take for words in small letters that may stand in capitals.
func (s *scanner) takeWord(options ...string) string {
	for _, o := range options {
		if startsWith(s.text[s.at:], o) {
			s.at += len(o)
			return o
		}
	}
	return ""
}

// startsWith reports whether s starts with the word; one of several letters may
// be in capitals, in whole or in part.
func startsWith(s, word string) bool {
	const small = 0x20 // in ASCII, what small letters have and capitals have not
	if len(s) < len(word) || s[0]|small != word[0]|small {
		return false
	}
	return s[:len(word)] == word || len(word) > 1 && strings.EqualFold(s[:len(word)], word)
}

// goesOn reports whether s starts with what can only go on with a chord, never
// begin one.
func goesOn(s string) bool {
	for _, word := range [...]string{"(", "m", "M", "sus", "add", "no3", "no5", "omit", "dim", "aug", "alt", "dom"} {
		if s != "" && startsWith(s, word) {
			return true
		}
	}
	return false
}

// blank moves past blanks inside a chord, as in C7 sus4.
func (s *scanner) blank() bool {
	rest := strings.TrimLeft(s.text[s.at:], blanks)
	if len(rest) == len(s.text)-s.at || !goesOn(rest) {
		return false
	}
	s.at = len(s.text) - len(rest)
	return true
}

const blanks = " \t"

// word moves past the word that comes next.
func (s *scanner) word() (word, bool) {
	rest := s.text[s.at:]
	for _, w := range words {
		if !startsWith(rest, w.text) || w.text == "ma" && startsWith(rest[1:], "add") || w.text == "o" && startsWith(rest, "omit") {
			continue
		}
		s.at += len(w.text)
		return w, true
	}
	return word{}, false
}

// accidental moves past one accidental: -1 for a flat, 1 for a sharp, 0 when
// there is none.
func (s *scanner) accidental() int {
	switch s.take("b", "♭", "#", "♯") {
	case "b", "♭":
		return -1
	case "#", "♯":
		return 1
	}
	return 0
}

// sign moves past one accidental as older charts have it before a number.
func (s *scanner) sign() int {
	switch {
	case s.take("+") != "":
		return 1
	case !s.counted && s.take("-", "−") != "":
		return -1
	}
	return 0
}

// word is a beginning of a suffix that names the chord's triad.
type word struct {
	text    string
	triad   quality
	seventh quality // what a number after the word takes for its seventh
	kind    wordKind
}

type wordKind uint8

const (
	plainWord  wordKind = iota
	dashWord            // a plainWord that may also stand between two chords
	bigWord             // may follow another word to make its seventh major
	bigSymbol           // a bigWord that has its seventh without a number
	halfSymbol          // has its seventh without a number
	tallWord            // names no chord without a number
)

// words holds each longer word before its own beginning. Words of two letters
// and more are read in capitals too.
var words = [...]word{
	{"major", majorTriad, majorSeventh, bigWord},
	{"maj", majorTriad, majorSeventh, bigWord},
	{"ma", majorTriad, majorSeventh, bigWord},
	{"minor", minorTriad, minorSeventh, plainWord},
	{"min", minorTriad, minorSeventh, plainWord},
	{"mi", minorTriad, minorSeventh, plainWord},
	{"dim", diminishedTriad, diminishedSeventh, plainWord},
	{"aug", augmentedTriad, minorSeventh, plainWord},
	{"dom", majorTriad, minorSeventh, tallWord},
	{"M", majorTriad, majorSeventh, bigWord},
	{"Δ", majorTriad, majorSeventh, bigSymbol}, // the Greek letter
	{"∆", majorTriad, majorSeventh, bigSymbol}, // the increment sign
	{"△", majorTriad, majorSeventh, bigSymbol}, // the triangle
	{"^", majorTriad, majorSeventh, bigSymbol}, // the triangle in ASCII
	{"m", minorTriad, minorSeventh, plainWord},
	{"-", minorTriad, minorSeventh, dashWord},
	{"−", minorTriad, minorSeventh, dashWord}, // the minus sign
	{"°", diminishedTriad, diminishedSeventh, plainWord},
	{"º", diminishedTriad, diminishedSeventh, plainWord}, // the ordinal sign
	{"o", diminishedTriad, diminishedSeventh, plainWord},
	{"ø", diminishedTriad, minorSeventh, halfSymbol},
	{"Ø", diminishedTriad, minorSeventh, halfSymbol},
	{"+", augmentedTriad, minorSeventh, plainWord},
}

func (w word) big() bool {
	return w.kind == bigWord || w.kind == bigSymbol
}
