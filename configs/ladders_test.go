package configs_test

import (
	"fmt"
	"slices"
	"testing"

	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// Every pair of the library in every key, at every change and swap and every
// number of voices, by default and at stillness 1: every ladder is whole, the top note never leaps above a fourth, the outer notes
// never move from octave to octave in one direction (both: common practice, no
// source), and few changes hold fewer than two pitch classes.
func TestLibraryHoldsNotesUnderACalmTopLine(t *testing.T) {
	for _, stillness := range []float64{voicing.DefaultSettings().Stillness, 1} {
		t.Run(fmt.Sprint(stillness), func(t *testing.T) { holdsUnderACalmTopLine(t, stillness) })
	}
}

func holdsUnderACalmTopLine(t *testing.T, stillness float64) {
	settings := voicing.DefaultSettings()
	settings.Stillness = stillness
	e, err := voicing.New(settings)
	if err != nil {
		t.Fatal(err)
	}
	changes, leaps, octaves, few, proved, pairs := 0, 0, 0, 0, 0, 0
	for _, p := range library(t) {
		for semitones := range 12 {
			key := pitch.Key{Minor: p.Minor}.Transpose(semitones)
			m, err := gathering.Plain(key, p.Home, p.Away, harmony.FromTonic)
			if err != nil {
				t.Fatal(err)
			}
			home, away, err := e.Pair(m.Home, m.Away, key, nil, 0, nil, nil)
			if err != nil {
				t.Fatal(err)
			}
			if pairs++; e.Proved() {
				proved++
			}
			for i, l := range slices.Concat(home, away) {
				if l.Dropped {
					t.Errorf("%s in %v: the ladder of chord %d has %d to %d voices", p.Name, key, i, l.Low, l.High)
				}
			}
			for _, both := range [2][2][]voicing.Ladder{{home, away}, {away, home}} {
				for i, from := range both[0] {
					for _, to := range []voicing.Ladder{both[0][(i+1)%len(both[0])], both[1][0]} {
						for r := settings.Thin; r <= settings.Full; r++ {
							a, b := from.Rung(r), to.Rung(r)
							changes++
							top, next := int(a.Upper[a.N-1]), int(b.Upper[b.N-1])
							bass, nextBass := int(a.Bass), int(b.Bass)
							if next-top > 5 || top-next > 5 {
								leaps++
								t.Errorf("%s in %v at %d voices: the top leaps from %d to %d", p.Name, key, r, top, next)
							}
							if (next-top)*(nextBass-bass) > 0 && (top-bass)%12 == 0 && (next-nextBass)%12 == 0 {
								octaves++
								t.Errorf("%s in %v at %d voices: octaves %d–%d to %d–%d", p.Name, key, r, bass, top, nextBass, next)
							}
							held := pitch.Set(0)
							var room [128]uint8
							for _, n := range a.Pitches().And(b.Pitches()).Append(room[:0]) {
								held = held.Add(pitch.ClassOf(int(n)))
							}
							if held.Len() < 2 {
								few++
							}
						}
					}
				}
			}
		}
	}
	t.Logf("%d changes: %d leaps above a fourth, %d outer octaves in a row, %d hold fewer than two classes; %d of %d pairs proved",
		changes, leaps, octaves, few, proved, pairs)
	if changes < 5000 {
		t.Errorf("only %d changes were looked at", changes)
	}
	if few*40 > changes { // ladders grown from their cores one rung at a time: 380 of 6,432
		t.Errorf("%d of %d changes hold fewer than two classes", few, changes)
	}
}
