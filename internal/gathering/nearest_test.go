package gathering

import (
	"testing"

	"pgregory.net/rapid"
)

func TestAdviceNamesTheNearestWord(t *testing.T) {
	accepted := []string{"home", "away", "intensity", "key"}
	for said, want := range map[string]string{
		"hoem":      `did you mean "home"?`, // swapped
		"hme":       `did you mean "home"?`, // left out
		"homme":     `did you mean "home"?`, // doubled
		"awry":      `did you mean "away"?`, // changed
		"intensoty": `did you mean "intensity"?`,
		"Key":       `did you mean "key"?`,
		"kyes":      `did you mean "key"?`,
		"tempo":     "use one of home, away, intensity, key",
		"qqq":       "use one of home, away, intensity, key", // as far as the word is long
		"":          "use one of home, away, intensity, key",
	} {
		if got := advice(said, accepted); got != want {
			t.Errorf("advice(%q) = %q, want %q", said, got, want)
		}
	}
	if got := advice("x", []string{"pairs"}); got != "use pairs" {
		t.Errorf("advice with one word = %q", got)
	}
	if got := advice("x", nil); got != "there are none" {
		t.Errorf("advice without words = %q", got)
	}
}

// One slip of each kind makes a distance of one; the order of the two words
// does not matter.
func TestSlipsCountsOneForEachSlip(t *testing.T) {
	word := rapid.StringMatching(`[a-z]{3,9}`)
	rapid.Check(t, func(t *rapid.T) {
		a := word.Draw(t, "word")
		i := rapid.IntRange(0, len(a)-2).Draw(t, "place")
		slipped := map[string]string{
			"left out": a[:i] + a[i+1:],
			"added":    a[:i] + "#" + a[i:],
			"changed":  a[:i] + "#" + a[i+1:],
		}
		if a[i] != a[i+1] {
			slipped["swapped"] = a[:i] + a[i+1:i+2] + a[i:i+1] + a[i+2:]
		}
		for how, b := range slipped {
			if d := slips(a, b); d != 1 {
				t.Fatalf("%s: slips(%q, %q) = %d, want 1", how, a, b, d)
			}
			if d := slips(b, a); d != 1 {
				t.Fatalf("%s: slips(%q, %q) = %d, want 1", how, b, a, d)
			}
		}
		if d := slips(a, a); d != 0 {
			t.Fatalf("slips(%q, %q) = %d, want 0", a, a, d)
		}
	})
}
