package voicing

import (
	"errors"
	"testing"

	"pgregory.net/rapid"
)

// What the error advises helps, each by itself, and what would help is advised.
func TestRangeErrorAdvisesWhatHelps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawInstance(t)
		in.settings.High = in.settings.Low + rapid.Uint8Range(0, 8).Draw(t, "narrow")
		voiced := func(change func(*Settings)) error {
			s := in.settings
			change(&s)
			s.Thin, s.Full = s.Voices, s.Voices
			e, err := New(s)
			if err != nil {
				t.Fatal(err)
			}
			_, err = e.Path(in.chords[:1], in.key, false, nil)
			return err
		}
		var narrow *RangeError
		if !errors.As(voiced(func(*Settings) {}), &narrow) {
			return
		}
		fewer := false
		for n := 1; n < in.settings.Voices; n++ {
			fewer = fewer || voiced(func(s *Settings) { s.Voices = n }) == nil
		}
		for what, helps := range map[string][2]bool{
			"a wider range": {narrow.Wider, voiced(func(s *Settings) { s.Low, s.High = s.Low-12, s.High+12 }) == nil},
			"fewer voices":  {narrow.Fewer, fewer},
			"a colour":      {narrow.Colour, voiced(func(s *Settings) { s.Plain, s.Colours = false, s.Colours+1 }) == nil},
		} {
			if helps[0] != helps[1] {
				t.Fatalf("%v: %s is advised: %v, helps: %v", narrow, what, helps[0], helps[1])
			}
		}
	})
}

func TestRangeErrorSaysWhatHelps(t *testing.T) {
	for _, c := range []struct {
		err  RangeError
		want string
	}{
		{RangeError{Wider: true, Fewer: true, Colour: true}, "no 4-voice voicing of C fits between C4 and D4: widen the range or ask for fewer voices or allow a colour"},
		{RangeError{Colour: true}, "no 4-voice voicing of C fits between C4 and D4: allow a colour"},
		{RangeError{}, "no 4-voice voicing of C fits between C4 and D4"},
	} {
		c.err.Chord, c.err.Voices, c.err.Low, c.err.High = chord(t, "C"), 4, 60, 62
		if got := c.err.Error(); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
