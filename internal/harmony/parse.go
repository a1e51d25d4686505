package harmony

import (
	"fmt"
	"strings"

	"bedd/internal/pitch"
)

// ParseChord reads a chord symbol: a root, a quality, what is added, and a
// bass after a slash.
//
//	triads      C  Cm C- Cmin  Cdim C° Co  Caug C+  C5
//	sixths      C6 Cm6 C6/9 C69
//	sevenths    C7 Cdom7  Cmaj7 CM7 CΔ C^7  Cm7  CmMaj7 Cm(maj7) Cm/maj7  Cm7b5 Cø  Cdim7 C°7
//	taller      C9 C11 C13, Cmaj9, Cm11; 11 has no major third, 13 no eleventh
//	suspended   Csus2 Csus4 Csus, C7sus4, C9sus4
//	altered     b5 #5 b9 #9 #11 b13, plain or in parentheses: C7b9, C7(b9,#11)
//	            C7alt is C7#5#9; C7+ C7aug, C7-5 C7+9 as older charts have them
//	added       add2 add9 add4 add11 add6 add13 b6, addb9 …; C2 is Cadd9, C7(13) and C7/13 C7add13
//	left out    no3 no5, omit3 omit5
//
// Words of two letters and more may stand in capitals: CMI7, CSUS4. Accidentals
// are b and # or ♭ and ♯. As many as fit belong to the root: Cb9 is a ninth on
// Cb, C(b9) a triad on C. A suspension takes the third's place whatever the third
// was. An alteration takes the place of the natural tone, and beside a seventh
// b13 also takes that of the fifth; b6 leaves it. Blanks may stand before a word or
// a parenthesis that goes on with the chord: C7 sus4. N.C. is refused: a bed always
// holds a chord.
//
// The error says which character is not understood, counted from 1.
func ParseChord(s string) (Chord, error) {
	c, f := parseNamed(s)
	if f != nil {
		return Chord{}, fmt.Errorf("unknown chord %q: %s", clip(s), f.in(s, 0))
	}
	return c, nil
}

// parseNamed reads a chord whose root is a note name.
func parseNamed(s string) (Chord, *fault) {
	root, rest, err := pitch.ParseName(s)
	if err != nil {
		if f := noChord(s); f != nil {
			return Chord{}, f
		}
		return Chord{}, &fault{0, "no root", err.Error()}
	}
	start := len(s) - len(rest)
	sc := &scanner{text: s, at: start}
	q, f := sc.quality(majorTriad, false)
	if f != nil {
		if f.at == start && s[start-1] == 'x' {
			return Chord{}, notUnderstood(s, start-1) // the x was no double sharp after all
		}
		return Chord{}, f
	}
	c := Chord{Root: root, Bass: root, quality: q}
	if sc.at < len(s) {
		if c.Bass, f = parseBassName(s, sc.at+len("/")); f != nil {
			return Chord{}, f
		}
	}
	return c, nil
}

// noChord finds fault with the sign that no chord sounds.
func noChord(s string) *fault {
	switch strings.ToUpper(s) {
	case "N.C.", "N.C", "NC", "N/C":
		return &fault{0, fmt.Sprintf("%q is no chord", s), "a bed always holds one: leave this out and fade the bed there"}
	}
	return nil
}

const bassHint = "after the slash write the name of the bass, as in C/E"

// parseBassName reads the note name that must be the rest of s.
func parseBassName(s string, at int) (pitch.Name, *fault) {
	bass, rest, err := pitch.ParseName(s[at:])
	if err != nil {
		return pitch.Name{}, &fault{at, "no bass after the slash", bassHint}
	}
	if rest != "" {
		return pitch.Name{}, notUnderstood(s, len(s)-len(rest))
	}
	return bass, nil
}

const suffixHint = "accepted: m, maj7, dim, aug, 5, 6, 7, 9, 11, 13, sus2, sus4, b5, #11, add9, no3, /bass and their like"

func notUnderstood(s string, at int) *fault {
	return &fault{at, fmt.Sprintf("%q after %q is not understood", clip(s[at:]), clip(s[:at])), suffixHint}
}
