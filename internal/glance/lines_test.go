package glance

import (
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

func parse(t *testing.T, chord, key string) (harmony.Chord, pitch.Key) {
	t.Helper()
	k, err := pitch.ParseKey(key)
	if err != nil {
		t.Fatal(err)
	}
	c, err := harmony.ParseStep(chord, k, harmony.FromTonic)
	if err != nil {
		t.Fatal(err)
	}
	return c, k
}

func pitches(notes ...uint8) (p voicing.Pitches) {
	for _, n := range notes {
		p.Add(n)
	}
	return p
}

func TestChordLine(t *testing.T) {
	chord, key := parse(t, "4", "Eb")
	v := bed.View{Key: key, Chord: chord, Voicing: voicing.Of(44, 60, 63, 67), Density: 3, Intensity: 0.42,
		Change: bed.Change{Held: pitches(60, 67), Struck: pitches(44, 63), Released: pitches(39, 58), BeforeKey: key}}
	want := " 1:01.4  Ab      4      +Ab2 | =C4 +Eb4 =G4 -Eb2 -Bb3                intensity 0.42 moment   3 voices"
	if got := Chord(61_350*time.Millisecond, v, 0); got != want {
		t.Errorf("\n%q, want\n%q", got, want)
	}
	v.Voicing.Bass, v.Missing = voicing.NoBass, pitch.SetOf(0)
	v.Change = bed.Change{Struck: pitches(60, 63, 67)}
	want = " 0:00.0  Ab      4           | +C4 +Eb4 +G4                          intensity 0.42 moment   3 voices, no C"
	if got := Chord(0, v, 0); got != want {
		t.Errorf("\n%q, want\n%q", got, want)
	}
	want = " 0:00.0  Ab      4           | +C4 +Eb4 +G4\n         intensity 0.42 moment   3 voices, no C"
	if got := Chord(0, v, 80); got != want {
		t.Errorf("\n%q, want\n%q", got, want)
	}
	for width := 80; width < 130; width++ {
		for _, line := range strings.Split(Chord(0, v, width), "\n") {
			if n := len([]rune(line)); n > width {
				t.Errorf("at %d columns a line has %d", width, n)
			}
		}
	}
	// A key change leaves notes spelled in the key they were in.
	_, db := parse(t, "1", "Db")
	v.Key, v.Change = db, bed.Change{Released: pitches(64, 69), BeforeKey: pitch.Key{}}
	if got := Chord(0, v, 0); !strings.Contains(got, "-E4 -A4") {
		t.Errorf("%q does not spell the old notes as E and A", got)
	}
}

func TestActionLine(t *testing.T) {
	_, eb := parse(t, "1", "Eb")
	for _, c := range []struct {
		a    bed.Action
		want string
	}{
		{bed.Action{Kind: bed.Did, At: 75 * time.Second, Command: bed.Swap}, " 1:15.0  swap"},
		{bed.Action{Kind: bed.Did, Command: bed.Stay, On: true}, " 0:00.0  stay on"},
		{bed.Action{Kind: bed.Did, Command: bed.Follow}, " 0:00.0  follow off"},
		{bed.Action{Kind: bed.Did, Command: bed.KeyUp, Key: eb}, " 0:00.0  key Eb"},
		{bed.Action{Kind: bed.Did, Command: bed.LevelUp, Value: 40}, " 0:00.0  level-up to 40 %"},
		{bed.Action{Kind: bed.Tell, Notice: bed.StayIsOn}, " 0:00.0  (stay is on)"},
		{bed.Action{Kind: bed.StrikeNote}, ""},
	} {
		if got := Action(c.a); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

func TestStatusLine(t *testing.T) {
	chord, key := parse(t, "1", "C")
	other, _ := parse(t, "6m", "C")
	v := bed.View{Phase: bed.Holding, Key: key, Chord: chord, Next: other, NextDoes: bed.Swap, Intensity: 0.46, Stay: true, Follow: true}
	want := " 0:09.0  C      > swap to Am       [#####.....] holding  STAY  FOLLOW"
	if got := Status(9*time.Second, v, "", 100); got != want {
		t.Errorf("\n%q, want\n%q", got, want)
	}
	want += "  holds: singing"
	if got := Status(9*time.Second, v, "holds: singing", 100); got != want {
		t.Errorf("\n%q, want\n%q", got, want)
	}
	for width := range 100 {
		if got := Status(9*time.Second, v, "holds: singing", width); len([]rune(got)) > width {
			t.Errorf("%d columns: %q is too wide", width, got)
		}
	}
	for does, want := range map[bed.Command]string{bed.NoCommand: "holds Am", bed.Next: "Am", bed.BringIn: "bring in Am",
		bed.Land: "land to Am", bed.FadeOut: "fade"} {
		v.NextDoes = does
		if got := Step(v); got != want {
			t.Errorf("step does %v: %q, want %q", does, got, want)
		}
	}
}
