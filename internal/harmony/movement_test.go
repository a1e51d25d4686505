package harmony

import (
	"testing"

	"pgregory.net/rapid"

	"bedd/internal/pitch"
)

// Sizes of the least voice leading between triads, no doubling: computed for the
// setting of Douthett & Steinbach 1998 and Tymoczko 2006, by an independent
// program over real pitches. Rows give the target's root above C.
func TestLeastMovementOfTriads(t *testing.T) {
	triad := func(q quality, root int) pitch.Set { return q.classes().Transpose(root) }
	for _, row := range []struct {
		from, to quality
		want     [12]int
	}{
		{majorTriad, majorTriad, [12]int{0, 3, 6, 3, 2, 3, 6, 3, 2, 3, 6, 3}},
		{majorTriad, minorTriad, [12]int{1, 2, 5, 4, 1, 2, 5, 4, 3, 2, 5, 4}},
		{minorTriad, majorTriad, [12]int{1, 4, 5, 2, 3, 4, 5, 2, 1, 4, 5, 2}},
		{minorTriad, minorTriad, [12]int{0, 3, 6, 3, 2, 3, 6, 3, 2, 3, 6, 3}},
	} {
		for root, want := range row.want {
			if got := leastMovement(row.from.classes(), triad(row.to, root)); got != want {
				t.Errorf("from %s on C to %s on %d: %d, want %d", row.from.suffix(), row.to.suffix(), root, got, want)
			}
		}
	}
}

// Least movement between sevenths: computed by an independent program.
func TestLeastMovementOfSevenths(t *testing.T) {
	for _, tt := range []struct {
		from, to string
		want     int
	}{
		{"Cmaj7", "Am7", 2}, {"Cmaj7", "Em7", 2}, {"Dm7", "G7", 3}, {"G7", "Cmaj7", 3},
	} {
		if got := leastMovement(mustChord(t, tt.from).Classes(), mustChord(t, tt.to).Classes()); got != tt.want {
			t.Errorf("from %s to %s: %d, want %d", tt.from, tt.to, got, tt.want)
		}
	}
}

func TestLeastMovementEqualsBruteForce(t *testing.T) {
	someClasses := rapid.Custom(func(t *rapid.T) pitch.Set {
		return pitch.SetOf(rapid.SliceOfNDistinct(rapid.Map(rapid.IntRange(0, 11), pitch.ClassOf), 1, 5, rapid.ID).Draw(t, "classes")...)
	})
	rapid.Check(t, func(t *rapid.T) {
		a, b := someClasses.Draw(t, "a"), someClasses.Draw(t, "b")
		var large, small [12]pitch.Class
		if a.Len() < b.Len() {
			a, b = b, a
		}
		n, m := ascending(a, &large), ascending(b, &small)
		least := 1 << 10
		var lead func(i int, reached pitch.Set, sum int)
		lead = func(i int, reached pitch.Set, sum int) {
			if i == n {
				if reached == b {
					least = min(least, sum)
				}
				return
			}
			for _, to := range small[:m] {
				lead(i+1, reached.Add(to), sum+apart(large[i], to))
			}
		}
		lead(0, 0, 0)
		if got := leastMovement(a, b); got != least {
			t.Fatalf("from %v to %v: %d, want %d", a, b, got, least)
		}
		if there, back := leastMovement(a, b), leastMovement(b, a); there != back {
			t.Fatalf("from %v to %v %d, back %d", a, b, there, back)
		}
	})
}
