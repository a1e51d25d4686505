package harmony

import (
	"errors"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"bedd/internal/pitch"
)

// maxChords is the longest progression: 16 bars of four chords.
const maxChords = 64

// ParseProgression reads one to 64 chords, each as ParseStep reads it.
//
// Between chords stand blanks, line ends, commas, bars and dashes, as many as
// wanted. A hyphen is a dash where a chord by name or roman numeral follows it
// (C-G-Am, I-V-vi), where blanks or nothing stand before it, and in a chain of
// degrees (1-5-6-4). Elsewhere it is the minor sign: C-7, 6-. Two degrees with
// a hyphen that may be either, as in 2-7, are refused. The longer dashes – and
// — always part chords: 1–4. A blank does not part a chord from what can only go
// on with it: C7 sus4, A m7, C (b9).
//
// The error says which chord is not understood, and the character in s.
func ParseProgression(s string, k pitch.Key, n Numbers) ([]Chord, error) {
	var chords []Chord
	for _, it := range items(s) {
		steps, f := it.chords(k, n)
		if f != nil {
			return nil, fmt.Errorf("chord %d of the progression, %q: %s", len(chords)+1, clip(it.text), f.in(s, it.at))
		}
		chords = append(chords, steps...)
		if len(chords) > maxChords {
			return nil, fmt.Errorf("a progression has at most %d chords: there are more at character %d", maxChords, utf8.RuneCountInString(s[:it.at])+1)
		}
	}
	if len(chords) == 0 {
		return nil, errors.New("no chords: write names or degrees with blanks between them, as in C F Am G or 1 4 6m 5")
	}
	return chords, nil
}

// item is a piece of a progression between separators: one chord, or degrees
// joined by hyphens.
type item struct {
	text string
	at   int // offset in bytes
}

// items cuts a progression at its separators, but not inside parentheses.
func items(s string) []item {
	var found []item
	start, depth := 0, 0
	cut := func(end int) {
		if end > start {
			found = append(found, item{s[start:end], start})
		}
	}
	for i, r := range s {
		switch {
		case r == '(':
			depth++
		case r == ')':
			depth--
		case depth > 0:
		case i > start && strings.ContainsRune(blanks, r) && goesOn(strings.TrimLeft(s[i:], blanks)):
		case unicode.IsSpace(r) || strings.ContainsRune(",|–—", r) || r == '-' && (i == start || startsChord(s[i+1:])):
			cut(i)
			start = i + utf8.RuneLen(r)
		}
	}
	cut(len(s))
	return found
}

// startsChord reports whether s starts with a chord's name or roman numeral.
func startsChord(s string) bool {
	s = strings.TrimLeft(s, "b#♭♯")
	return s != "" && strings.IndexByte("ABCDEFGIViv", s[0]) >= 0
}

// chords reads the item as one chord, or as degrees joined by hyphens.
func (it item) chords(k pitch.Key, n Numbers) ([]Chord, *fault) {
	one, wrong := parseStep(it.text, k, n)
	chain := it.chain(k, n)
	switch {
	case wrong != nil && chain == nil:
		return nil, wrong
	case wrong != nil:
		return chain, nil
	case chain == nil:
		return []Chord{one}, nil
	}
	first, second, _ := strings.Cut(it.text, "-")
	return nil, &fault{
		at:   len(first),
		what: "the hyphen may be a minor sign or a dash",
		hint: fmt.Sprintf("write %sm%s, or %s %s", first, second, first, second),
	}
}

// chain reads degrees joined by hyphens, or nothing.
func (it item) chain(k pitch.Key, n Numbers) []Chord {
	texts := strings.Split(it.text, "-")
	if len(texts) < 2 {
		return nil
	}
	var found []Chord
	for _, text := range texts {
		if _, step := (&scanner{text: text}).degree(); step < 0 {
			return nil
		}
		c, wrong := parseStep(text, k, n)
		if wrong != nil {
			return nil
		}
		found = append(found, c)
	}
	return found
}
