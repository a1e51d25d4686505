package harmony

import (
	"strings"
	"testing"

	"bedd/internal/pitch"
)

var goodProgressions = []struct{ text, want string }{
	{"C F Am G", "C F Am G"},
	{"1 4 6m 5", "C F Am G"},
	{"C7 sus4 F add9 A m7 G (b9) 5 sus4 | D SUS2 (add6)", "C7sus4 Fadd9 Am7 G(b9) Gsus4 D6sus2"}, {"C  maj7\tno3 F", "Cmaj7no3 F"},
	{"1 4 6 5", "C F Am G"},
	{"I IV vi V", "C F Am G"},
	{"C 4 vi G/B", "C F Am G/B"},
	{"| C | F | Am, G |", "C F Am G"},
	{"C,F,Am,G", "C F Am G"},
	{"C\tF\nAm\r\nG", "C F Am G"},
	{"||C||", "C"},
	// dashes
	{"C - F - Am - G", "C F Am G"},
	{"C-F-Am-G", "C F Am G"},
	{"Dm7-G7-Cmaj7", "Dm7 G7 Cmaj7"},
	{"I-V-vi-IV", "C G Am F"},
	{"I-bVII-IV", "C Bb F"},
	{"1-5-6-4", "C G Am F"},
	{"2-7-5", "Dm Bdim G"},
	{"6m-4-1-5", "Am F C G"},
	{"1-4", "C F"},
	{"1-b7", "C Bb"},
	{"1–4", "C F"},
	{"6m–2m", "Am Dm"},
	{"1—6—2—5", "C Am Dm G"},
	{"2–7", "Dm Bdim"},
	{"1 -4", "C F"},
	{"- 1 4 -", "C F"},
	// minor signs
	{"C-", "Cm"},
	{"C-7 F-7", "Cm7 Fm7"},
	{"C-7-F-7", "Cm7 Fm7"},
	{"6- 4", "Am F"},
	{"C--F", "Cm F"},
	// flats and sharps as older charts have them
	{"C7-9-F", "C7b9 F"},
	{"G7-5 C+5", "G7b5 Caug"},
	{"57-5", "G7 G"},
	{"1-2", "C Dm"},
	// parentheses keep their commas and blanks
	{"C7(b9, #11) F", "C7b9#11 F"},
	{"G7(b9,b13)|C", "G7b9b13 C"},
}

var badProgressions = []struct{ text, want string }{
	{"", `no chords: write names or degrees with blanks between them, as in C F Am G or 1 4 6m 5`},
	{" | - , ", `no chords: write names or degrees with blanks between them, as in C F Am G or 1 4 6m 5`},
	{"C Fzz G", `chord 2 of the progression, "Fzz": "zz" after "F" is not understood at character 4 ` + accepted},
	{"C♯ – F♯zz", `chord 2 of the progression, "F♯zz": "zz" after "F♯" is not understood at character 8 ` + accepted},
	{"E♭\ufe0e", "chord 1 of the progression, \"E♭\ufe0e\": \"\ufe0e\" after \"E♭\" is not understood at character 3 " + accepted},
	{"C\u0301 zz", "chord 1 of the progression, \"C\u0301\": \"\u0301\" after \"C\" is not understood at character 2 " + accepted},
	{"1 4 8", `chord 3 of the progression, "8": "8" does not start a chord at character 5 ` + acceptedStep},
	{"C / G", `chord 2 of the progression, "/": "/" does not start a chord at character 3 ` + acceptedStep},
	{"C | N.C. | F", `chord 2 of the progression, "N.C.": "N.C." is no chord at character 5 (a bed always holds one: leave this out and fade the bed there)`},
	{"C 4M7", `chord 2 of the progression, "4M7": M7 after "4" may be a major seventh chord or a seventh on the major triad at character 4 (write 4maj7, or 4dom7)`},
	{"F C7 suss", `chord 2 of the progression, "C7 suss": "s" after "C7 sus" is not understood at character 9 ` + accepted},
	{"C,sus4", `chord 2 of the progression, "sus4": "sus4" does not start a chord at character 3 ` + acceptedStep},
	{"C x2", `chord 2 of the progression, "x2": "x2" does not start a chord at character 3 ` + acceptedStep},
	{"1 2-7", `chord 2 of the progression, "2-7": the hyphen may be a minor sign or a dash at character 4 (write 2m7, or 2 7)`},
	{"1-b5", `chord 1 of the progression, "1-b5": the hyphen may be a minor sign or a dash at character 2 (write 1mb5, or 1 b5)`},
	{"1-5-9", `chord 1 of the progression, "1-5-9": "5-9" after "1-" is not understood at character 3 ` + accepted},
	{"F C7(b9 G", `chord 2 of the progression, "C7(b9 G": "(" is not closed at character 5 (alterations and additions may stand in parentheses, as in C7(b9,#11))`},
	{strings.Repeat("C ", 64) + "F", `a progression has at most 64 chords: there are more at character 129`},
}

func TestParseProgression(t *testing.T) {
	for _, tt := range goodProgressions {
		chords, err := ParseProgression(tt.text, pitch.Key{}, FromTonic)
		var got []string
		for _, c := range chords {
			got = append(got, c.Symbol())
		}
		if err != nil || strings.Join(got, " ") != tt.want {
			t.Errorf("ParseProgression(%q) = %v, %v, want %s", tt.text, got, err, tt.want)
		}
	}
	for _, tt := range badProgressions {
		if chords, err := ParseProgression(tt.text, pitch.Key{}, FromTonic); err == nil || err.Error() != tt.want {
			t.Errorf("ParseProgression(%q) = %v\n error %v\n want  %s", tt.text, chords, err, tt.want)
		}
	}
	if chords, err := ParseProgression(strings.Repeat("C|", 64), pitch.Key{}, FromTonic); err != nil || len(chords) != 64 {
		t.Errorf("64 chords: got %d, %v", len(chords), err)
	}
}

func TestProgressionCountsAsItsNumbersSay(t *testing.T) {
	k := mustKey(t, "Am")
	for n, want := range map[Numbers]string{FromTonic: "Am F", Relative: "C Am"} {
		chords, err := ParseProgression("1 6", k, n)
		if err != nil || len(chords) != 2 || chords[0].Symbol()+" "+chords[1].Symbol() != want {
			t.Errorf("1 6 in A minor = %v, %v, want %s", chords, err, want)
		}
	}
}

func FuzzParseProgression(f *testing.F) {
	for _, tt := range goodProgressions {
		f.Add(tt.text, false)
	}
	for _, tt := range badProgressions {
		f.Add(tt.text, true)
	}
	f.Fuzz(func(t *testing.T, s string, minor bool) {
		k := pitch.Key{Minor: minor}
		chords, err := ParseProgression(s, k, FromTonic)
		if err != nil {
			if strings.ContainsAny(err.Error(), "\n\r") {
				t.Fatalf("ParseProgression(%q): the error has more than one line: %v", s, err)
			}
			return
		}
		if len(chords) == 0 || len(chords) > maxChords {
			t.Fatalf("ParseProgression(%q) has %d chords", s, len(chords))
		}
		for _, write := range []func(Chord) string{Chord.Symbol, func(c Chord) string { return c.Degree(k) }} {
			var texts []string
			for _, c := range chords {
				texts = append(texts, write(c))
			}
			for _, between := range []string{" ", " | ", ",", "–", " - "} {
				again, err := ParseProgression(strings.Join(texts, between), k, FromTonic)
				if err != nil || len(again) != len(chords) {
					t.Fatalf("%q is written %q, which reads as %v, %v", s, texts, again, err)
				}
				for i := range again {
					if again[i] != chords[i] {
						t.Fatalf("%q is written %q, which reads as %v", s, texts, again)
					}
				}
			}
		}
	})
}
