package main

import (
	"errors"
	"io"
	"strings"
	"testing"
)

// Whatever the flags of bedd voice hold, it answers or says in one line what is
// wrong with them.
func FuzzVoiceFlags(f *testing.F) {
	f.Add("C F Am Dm", "C", "36 60 64 67", "C3-C5", "any", "none", "movement=2", "C4-C6", "3-4", false)
	f.Add("1 4m", "Eb", "C2 G3", "F3-F3", "9 sus", "tonic", "leap=NaN", "C6-C4", "", true)
	f.Add("5M7", "H", "60 50", "127-0", "blue", "dominant", "x=1", "C4", "6-3", false)
	f.Add("C7 sus4", "F#m", "1 2 3 4 5 6 7 8 9", "C-1-G9", "open,7", "", "movement", "-", "1-9", true)
	f.Fuzz(func(t *testing.T, chords, key, from, span, colour, pedal, weight, hand, ladder string, loop bool) {
		if len(chords) > 12 || len(ladder) > 3 {
			return // longer ones take longer, and are for the engine's own fuzz test
		}
		flags := voiceFlags{key: key, voices: 3, stillness: 0.6, loop: loop, by: "cost", weight: weight, span: span,
			from: from, colours: 1, ladder: ladder, colour: colour, pedal: pedal, hand: hand}
		var out strings.Builder
		err := flags.run(&out, chords)
		switch bad := (badInput{}); {
		case err == nil && out.Len() == 0:
			t.Fatal("neither an answer nor an error")
		case err != nil && (!errors.As(err, &bad) || err.Error() == "" || strings.ContainsAny(err.Error(), "\n\r")):
			t.Fatalf("%T: %q", err, err)
		}
		if flags.json = true; err == nil {
			if err := flags.run(io.Discard, chords); err != nil {
				t.Fatal(err)
			}
		}
	})
}
