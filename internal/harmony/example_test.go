package harmony_test

import (
	"fmt"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

func ExampleParseProgression() {
	k, _ := pitch.ParseKey("Eb")
	chords, _ := harmony.ParseProgression("1 | 5/7 | 6m7 | b7 Absus2", k, harmony.FromTonic)
	for _, c := range chords {
		fmt.Println(c.Symbol(), c.Degree(k))
	}
	// Output:
	// Eb 1
	// Bb/D 5/7
	// Cm7 6m7
	// Db b7
	// Absus2 4sus2
}

func ExampleLand() {
	bed, _ := harmony.ParseChord("C")
	first, _ := harmony.ParseChord("Eb")
	from, _ := pitch.ParseKey("C")
	to, _ := pitch.ParseKey("Eb")
	route := harmony.Land(bed, from, to, first, harmony.DominantEnding)
	fmt.Println(route.Chords[:route.N])
	// Output: [F Bb Eb]
}
