package gathering

import (
	"testing"

	"bedd/internal/bed"
	"bedd/internal/harmony"
)

func TestPlainMoment(t *testing.T) {
	for _, c := range []struct {
		key, home, away string
		numbers         harmony.Numbers
		want            string
	}{
		{"C", "1 4", "6m 2m", harmony.FromTonic, "C: C F / Am Dm"},
		{"Eb", "1 Ab", "", harmony.FromTonic, "Eb: Eb Ab / "},
		{"Am", "1 4", "6 7", harmony.FromTonic, "Am: Am Dm / F G"},
		{"Am", "6 2", "4 5", harmony.Relative, "Am: Am Dm / F G"},
	} {
		m, err := Plain(key(t, c.key), c.home, c.away, c.numbers)
		if err != nil || route(Moment{Bed: m}) != c.want {
			t.Errorf("Plain(%q, %q, %q) = %s, %v, want %s", c.key, c.home, c.away, route(Moment{Bed: m}), err, c.want)
		}
		config := bed.DefaultConfig()
		config.Moments = []bed.Moment{m}
		if _, err := bed.New(config); err != nil {
			t.Errorf("the bed refuses %s: %v", c.want, err)
		}
	}
}

func TestPlainSaysWhichProgressionIsWrong(t *testing.T) {
	for _, c := range []struct{ home, away, want string }{
		{"", "4", "home: no chords: write names or degrees with blanks between them, as in C F Am G or 1 4 6m 5"},
		{"1 4", "x", `away: chord 1 of the progression, "x": "x" does not start a chord at character 1 (a chord starts with a letter A to G, a number 1 to 7 or a roman numeral I to VII, after b or # where needed)`},
	} {
		if _, err := Plain(key(t, "C"), c.home, c.away, harmony.FromTonic); err == nil || err.Error() != c.want {
			t.Errorf("got %v\nwant %s", err, c.want)
		}
	}
}
