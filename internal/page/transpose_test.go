package page

import (
	"net/url"
	"reflect"
	"strings"
	"testing"

	"bedd/internal/glance"
	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"pgregory.net/rapid"
)

// TestTransposingIsThatOfTheInstruments: what is written for a capo and for
// transposing instruments, as any table of them has it.
func TestTransposingIsThatOfTheInstruments(t *testing.T) {
	for _, c := range []struct {
		what             string
		by               transposing
		key, chord, next string
		inKey, as, then  string
	}{
		{"no capo", 0, "Bb", "Gm7", "Ebmaj7/G", "", "Gm7", "Ebmaj7/G"},
		{"capo 1 plays A for Bb", -1, "Bb", "Bb", "F/A", "A", "A", "E/G#"},
		{"capo 3 plays G for Bb", -3, "Bb", "Gm7", "Ebmaj7/G", "G", "Em7", "Cmaj7/E"},
		{"capo 1 plays D for Eb", -1, "Eb", "Ab", "Bb7", "D", "G", "A7"},
		{"capo 4 plays Am for C#m", -4, "C#m", "C#m", "G#7", "Am", "Am", "E7"},
		{"a Bb clarinet reads D for C", 2, "C", "C", "F#m7b5", "D", "D", "G#m7b5"},
		{"an Eb saxophone reads A for C", 9, "C", "Dm7", "G13", "A", "Bm7", "E13"},
		{"a horn in F reads G for C", 7, "C", "C", "F", "G", "G", "C"},
	} {
		m := sample()
		m.Key, m.Chord, m.Next = c.key, c.chord, c.next
		got := c.by.model(m)
		if got.Key != c.key || got.Fingers != c.inKey || got.Chord != c.as || got.Next != c.then {
			t.Errorf("%s: %s then %s in %q, sounding in %s; want %s then %s in %q", c.what, got.Chord, got.Next, got.Fingers, got.Key, c.as, c.then, c.inKey)
		}
	}
}

// TestATransposedChordSoundsThatFarAway on whatever the bed may name.
func TestATransposedChordSoundsThatFarAway(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		key := pitch.Key{Minor: rapid.Bool().Draw(t, "minor")}.Transpose(rapid.IntRange(0, 11).Draw(t, "key"))
		set := pitch.Set(rapid.IntRange(1, 1<<12-1).Draw(t, "set"))
		bass := pitch.Class(rapid.IntRange(0, 11).Draw(t, "bass"))
		chord, ok := harmony.Identify(set, bass, key)
		if !ok {
			t.Fatal("no name")
		}
		by := rapid.IntRange(-11, 11).Draw(t, "by")
		way := []string{chord.Symbol()}
		got := transposing(by).model(glance.Model{Key: key.String(), Chord: chord.Symbol(), Next: chord.Symbol(), Landing: way})
		if got.Chord != got.Next || got.Landing[0] != got.Next {
			t.Fatalf("%s, %s and the way %s", got.Chord, got.Next, got.Landing)
		}
		if way[0] != chord.Symbol() {
			t.Fatal("other readers' way was moved")
		}
		read, err := harmony.ParseChord(got.Chord)
		if err != nil {
			t.Fatalf("%s by %d is %q: %v", chord, by, got.Chord, err)
		}
		if read.Classes() != chord.Classes().Transpose(by) || read.BassClass() != chord.BassClass().Up(by) {
			t.Fatalf("%s by %d is %s", chord, by, read)
		}
	})
}

// TestWhatCannotBeReadIsNotShownInTheWrongKey, and what only the player needs is
// left out.
func TestWhatCannotBeReadIsNotShownInTheWrongKey(t *testing.T) {
	m := crowded()
	m.Landing = []string{"Bb"}
	m.Chord = "no chord"
	if got := transposing(-3).model(m); got.Chord != "?" || got.Notes != nil || got.News != nil || got.Foot != "" || got.Missing != nil {
		t.Errorf("%+v", got)
	}
	m.Key = "?"
	if got := transposing(-3).model(m); got.Chord != "?" || got.Next != "?" || got.Fingers != "?" || got.Landing != nil {
		t.Errorf("%+v", got)
	}
	if got := transposing(0).model(m); !reflect.DeepEqual(got, m) {
		t.Errorf("%+v", got)
	}
}

func FuzzTransposing(f *testing.F) {
	for _, s := range []string{"", "0", "-3", "11", "-11", "12", "+2", "1e1", "٣", "--3", "9999999999999999999"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		as, err := parseTransposing(url.Values{"transpose": {text}})
		if err == nil && (as < -11 || as > 11) {
			t.Errorf("%q is %d", text, as)
		}
		if err != nil && (as != 0 || !strings.Contains(err.Error(), "-11…11")) {
			t.Errorf("%q is %d, %v", text, as, err)
		}
	})
}
