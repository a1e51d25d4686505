package gathering

import (
	"testing"

	"bedd/internal/bed"
	"bedd/internal/pitch"
)

func TestEveryCommandIsReadByItsName(t *testing.T) {
	for c := bed.NoCommand + 1; c < bed.NumCommands; c++ {
		text := c.String()
		if c == bed.KeyTo {
			text += " Eb"
		}
		o, err := ParseOrder(text)
		if err != nil || o.Command != c {
			t.Errorf("ParseOrder(%q) = %v, %v", text, o, err)
		}
		if o.String() != text {
			t.Errorf("%q is written %q", text, o)
		}
	}
}

func TestKeyToTakesEveryTonic(t *testing.T) {
	for text, want := range map[string]pitch.Class{
		"key-to C": 0, "key-to C#": 1, "key-to Db": 1, "key-to Eb": 3, "key-to F#": 6, "key-to Gb": 6, "key-to B": 11, " key-to  Cb ": 11,
	} {
		o, err := ParseOrder(text)
		if err != nil || o != (Order{bed.KeyTo, want}) {
			t.Errorf("ParseOrder(%q) = %v, %v, want tonic %d", text, o, err, want)
		}
	}
	for c := range pitch.Class(12) {
		o := Order{bed.KeyTo, c}
		if back, err := ParseOrder(o.String()); err != nil || back != o {
			t.Errorf("%v is read back as %v, %v", o, back, err)
		}
	}
}

func TestOrderIsWhatTheBedIsAsked(t *testing.T) {
	got := Order{bed.KeyTo, 3}.Event()
	if want := (bed.Event{Kind: bed.Asked, Command: bed.KeyTo, Tonic: 3}); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

var badOrders = map[string]string{
	"":            "no command: use one of step, arm, bring-in, next, previous, swap, land, land-through, first-chord, capture, follow, stay, fade, out-now, all-notes-off, key-up, key-down, key-to, level-up, level-down, swell, settle, next-moment, previous-moment, choose-song, choose-key, take",
	"stpe":        `unknown command "stpe": did you mean "step"?`,
	"Step":        `unknown command "Step": did you mean "step"?`,
	"nothing":     `unknown command "nothing": use one of step, arm, bring-in, next, previous, swap, land, land-through, first-chord, capture, follow, stay, fade, out-now, all-notes-off, key-up, key-down, key-to, level-up, level-down, swell, settle, next-moment, previous-moment, choose-song, choose-key, take`,
	"step twice":  `"step twice": nothing is expected after "step"`,
	"key-to":      `"key-to" needs one tonic after key-to, as in key-to Eb`,
	"key-to E b":  `"key-to E b" needs one tonic after key-to, as in key-to Eb`,
	"key-to H":    `"key-to H": 'H' does not start a note name: write a capital letter A to G, then b or # where needed`,
	"key-to Am":   `"key-to Am": only the tonic is named, as in key-to Eb; major or minor stays as it is`,
	"key-to Cbbb": `"key-to Cbbb": "Cbbb" has more than two accidentals: write at most bb or ##`,
}

func TestBadOrdersAreExplained(t *testing.T) {
	for text, want := range badOrders {
		o, err := ParseOrder(text)
		if err == nil || err.Error() != want {
			t.Errorf("ParseOrder(%q) = %v, %v\nwant %s", text, o, err, want)
		}
	}
}

func FuzzParseOrder(f *testing.F) {
	for _, c := range commands() {
		f.Add(c)
		f.Add(c + " Eb")
	}
	for text := range badOrders {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		o, err := ParseOrder(text)
		if err != nil {
			return
		}
		if back, err := ParseOrder(o.String()); err != nil || back != o {
			t.Errorf("%q is %v, read back as %v, %v", text, o, back, err)
		}
	})
}
