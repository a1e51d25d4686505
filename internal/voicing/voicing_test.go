package voicing

import (
	"math"
	"testing"

	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"pgregory.net/rapid"
)

var cMajor = pitch.Key{}

func chords(t testing.TB, key pitch.Key, s string) []harmony.Chord {
	t.Helper()
	c, err := harmony.ParseProgression(s, key, harmony.FromTonic)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// tonalityOf gives what the rules need of a chord with any colour, or none.
func tonalityOf(c harmony.Chord, key pitch.Key, plain bool) tonality {
	if plain {
		return tonalityWith(c, key, 0)
	}
	return tonalityWith(c, key, AnyColour)
}

func engine(t testing.TB, change func(*Settings)) *Engine {
	t.Helper()
	s := DefaultSettings()
	if change != nil {
		change(&s)
	}
	e, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// Least total movement between triads, three voices, no doubling, best pairing
// in any octave: brute force over pitch-class pairings, in the setting of
// Douthett & Steinbach 1998 and Tymoczko 2006. Rows by the target root's
// distance above the first root.
var leastMovement = map[string][12]int{
	"major to major": {0, 3, 6, 3, 2, 3, 6, 3, 2, 3, 6, 3},
	"major to minor": {1, 2, 5, 4, 1, 2, 5, 4, 3, 2, 5, 4},
	"minor to major": {1, 4, 5, 2, 3, 4, 5, 2, 1, 4, 5, 2},
	"minor to minor": {0, 3, 6, 3, 2, 3, 6, 3, 2, 3, 6, 3},
}

func TestPlainPathsMoveLeastBetweenAllTriads(t *testing.T) {
	e := engine(t, func(s *Settings) {
		s.Low, s.High, s.Voices, s.Thin, s.Full = 48, 84, 3, 3, 3
		s.Plain, s.Stillness, s.Weights = true, 0, MovementOnly()
	})
	names := [12]string{"C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"}
	suffix := map[string]string{"major": "", "minor": "m"}
	for from, a := range suffix {
		for to, b := range suffix {
			want := leastMovement[from+" to "+to]
			for i, low := range names {
				for j, high := range names {
					p, err := e.Path(chords(t, cMajor, low+a+" "+high+b), cMajor, false, nil)
					if err != nil {
						t.Fatal(err)
					}
					if w := want[(j-i+12)%12]; p.Movement != w {
						t.Errorf("%s%s to %s%s moves %d semitones, want %d", low, a, high, b, p.Movement, w)
					}
				}
			}
		}
	}
}

// P, L and R keep two tones and move the third by 1, 1 and 2 semitones; each is
// its own inverse (Cohn 1997).
func TestRelationsKeepTwoTones(t *testing.T) {
	e := engine(t, func(s *Settings) {
		s.Low, s.High, s.Voices, s.Thin, s.Full = 48, 84, 3, 3, 3
		s.Plain, s.Stillness, s.Weights = true, 0, MovementOnly()
	})
	for tonic := range 12 {
		key := cMajor.Transpose(tonic)
		for relation, want := range map[string]int{"1M 1m": 1, "1M 3m": 1, "1M 6m": 2} {
			list := chords(t, key, relation)
			for range 2 {
				p, err := e.Path(list, key, false, nil)
				if err != nil {
					t.Fatal(err)
				}
				if s := p.Steps[1]; s.Movement != want || s.Held.Len() != 2 || !p.Proved {
					t.Errorf("%s to %s moves %d and holds %v, want %d and two notes", list[0].Symbol(), list[1].Symbol(), s.Movement, s.Held.Append(nil), want)
				}
				list[0], list[1] = list[1], list[0]
			}
		}
	}
}

func TestStillestBedKeepsItsUpperNotes(t *testing.T) {
	// C E G A over C F A D: that only the bass moves under shared notes is common
	// practice, no source. 2m has no third.
	e := engine(t, func(s *Settings) { s.Stillness = 1 })
	for semitones := range 12 {
		key := cMajor.Transpose(semitones)
		home, away, err := e.Pair(chords(t, key, "1 4"), chords(t, key, "6m 2m"), key, nil, 0, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		want := pitch.SetOf(0, 4, 7, 9).Transpose(semitones)
		all := append(home, away...)
		for i, l := range all {
			v := l.Rung(4)
			if v.Classes() != want {
				t.Errorf("%v chord %d: upper classes %v, want %v", key, i, v.Classes(), want)
			}
			if l.Entry != all[0].Entry {
				t.Errorf("%v chord %d: upper notes %v differ from the first chord's %v", key, i, l.Entry, all[0].Entry)
			}
		}
		dm := harmony.Diatonic(key, 2)
		if v := all[3].Rung(4); !dm.Identity().Minus(v.Classes()).Has(key.Scale()[3].Class()) {
			t.Errorf("%v: 2m is said to have its third", key)
		}
	}
}

func TestDefaultHoldsTwoClassesAtEveryChange(t *testing.T) {
	// Emphasise shared notes, only the bass moves: common practice, no source.
	e := engine(t, nil)
	for semitones := range 12 {
		key := cMajor.Transpose(semitones)
		home, away, err := e.Pair(chords(t, key, "1 4"), chords(t, key, "6m 2m"), key, nil, 0, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		edges := [][2]Ladder{{home[0], home[1]}, {home[1], home[0]}, {away[0], away[1]}, {away[1], away[0]}}
		for i := range 2 { // every swap
			edges = append(edges, [2]Ladder{home[i], away[0]}, [2]Ladder{away[i], home[0]})
		}
		for i, edge := range edges {
			for r := 3; r <= 6; r++ {
				a, b := edge[0].Rung(r), edge[1].Rung(r)
				if a.Classes().Len() < 3 || b.Classes().Len() < 3 {
					t.Errorf("%v edge %d rung %d: %v to %v has fewer than three classes", key, i, r, a.Notes(), b.Notes())
				}
				held := Voicing{}
				var room [16]uint8
				for _, n := range a.Pitches().And(b.Pitches()).Append(room[:0]) {
					held = held.with(n)
				}
				if held.Classes().Len() < 2 {
					t.Errorf("%v edge %d rung %d: %v to %v holds only %v", key, i, r, a.Notes(), b.Notes(), held.Notes())
				}
			}
		}
	}
}

func TestMovementPairsLeast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		notes := rapid.SliceOfNDistinct(rapid.Uint8Range(0, 127), 1, 5, rapid.ID[uint8])
		a, b := sorted(notes.Draw(t, "a")), sorted(notes.Draw(t, "b"))
		if got, want := Movement(a, b), bruteMovement(a, b); got != want {
			t.Fatalf("Movement(%v, %v) = %d, brute force %d", a, b, got, want)
		}
	})
}

func sorted(notes []uint8) []uint8 {
	var p Pitches
	for _, n := range notes {
		p.Add(n)
	}
	return p.Append(nil)
}

func bruteMovement(a, b []uint8) int {
	if len(a) > len(b) {
		a, b = b, a
	}
	if len(a) == 0 {
		return 0
	}
	best := math.MaxInt
	for i, n := range b {
		rest := append(append([]uint8{}, b[:i]...), b[i+1:]...)
		best = min(best, distance(a[0], n)+bruteMovement(a[1:], rest))
	}
	return best
}
