package voicing

import (
	"errors"
	"math"
	"runtime"
	"testing"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Seven voices over six octaves with three colours have more voicings than can
// be listed. Every search ends inside its budget, with voicings that keep the
// rules, and says that they are not proved.
func TestBudgetsEndEverySearch(t *testing.T) {
	for name, weights := range map[string]Weights{"no weights": {}, "default": DefaultWeights(), "movement": MovementOnly()} {
		e := engine(t, func(s *Settings) {
			s.Voices, s.Full, s.Low, s.High, s.Colours, s.Weights = 7, 7, 24, 96, 3, weights
		})
		list := chords(t, cMajor, "1maj7 6m7 2m7 57 3m7 6m7 4maj7 5sus4")
		p, err := e.Path(list, cMajor, true, nil)
		if err != nil {
			t.Fatal(err)
		}
		if p.Proved {
			t.Errorf("%s: the path is said to be proved over a list that was cut short", name)
		}
		listed := 0
		for i := range list {
			listed += len(e.stages[i].candidates)
		}
		if listed > maxListed {
			t.Errorf("%s: %d candidates are listed, at most %d are allowed", name, listed, maxListed)
		}
		// What one group and one chord of a scout may overdraw.
		if over := -e.search.room; over > 4*maxPairs {
			t.Errorf("%s: the budget is overdrawn by %d", name, over)
		}
		for i, s := range p.Steps {
			tones := tonalityOf(list[i], cMajor, false)
			if !tones.keeps(&s.Voicing, 3, 0) {
				t.Errorf("%s: %+v breaks a rule", name, s.Voicing)
			}
		}
		home, away, err := e.Pair(list[:4], list[4:], cMajor, nil, 0, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		if e.Proved() {
			t.Errorf("%s: ladders are said to be proved over lattices that were cut short", name)
		}
		for i, l := range append(home, away...) {
			tones := tonalityOf(list[i], cMajor, false)
			for r := int(l.Low); r <= int(l.High); r++ {
				if v := l.Rung(r); !tones.keeps(&v, 3, 0) {
					t.Errorf("%s: rung %d, %+v, breaks a rule", name, r, v)
				}
			}
		}
		for _, l := range e.shelf.lattices {
			if l.size() > maxLattice {
				t.Errorf("%s: a lattice holds %d voicings, at most %d are allowed", name, l.size(), maxLattice)
			}
		}
	}
}

func FuzzSettings(f *testing.F) {
	f.Add(uint8(53), uint8(76), uint8(36), uint8(50), false, 4, 3, 6, 0.6, 1, 64.0, false, 1.0, 1.0, "C Am", true)
	f.Add(uint8(0), uint8(127), uint8(0), uint8(127), true, 7, 1, 7, 1.0, 7, 0.0, true, 0.0, 1000.0, "Cmaj7 F#dim", false)
	f.Add(uint8(60), uint8(61), uint8(1), uint8(12), false, 2, 2, 2, 0.0, 0, 127.0, false, math.Inf(1), math.NaN(), "G7b9", true)
	f.Fuzz(func(t *testing.T, low, high, bassLow, bassHigh uint8, noBass bool, voices, thin, full int, stillness float64, colours int, centre float64, plain bool, weight, rung float64, progression string, loop bool) {
		s := DefaultSettings()
		s.Low, s.High, s.BassLow, s.BassHigh, s.NoBass = low, high, bassLow, bassHigh, noBass
		s.Voices, s.Thin, s.Full, s.Stillness, s.Colours, s.Centre, s.Plain = voices, thin, full, stillness, colours, centre, plain
		s.Weights.Movement, s.Weights.Roughness, s.Weights.Leap = weight, weight, weight
		s.RungWeight[min(max(thin, 0), MaxUpper)] = rung
		e, err := New(s)
		if err != nil {
			return
		}
		e.search.budget = 1 << 18
		list, err := harmony.ParseProgression(progression, pitch.Key{}, harmony.FromTonic)
		if err != nil || len(list) > 4 {
			return
		}
		p, err := e.Path(list, pitch.Key{}, loop, nil)
		var tooSmall *RangeError
		if err != nil && !errors.As(err, &tooSmall) && !errors.Is(err, errNoChord) {
			t.Fatal(err)
		}
		if err == nil && (len(p.Steps) != len(list) || !(p.Cost.Total >= 0)) {
			t.Fatalf("%d steps for %d chords at %v", len(p.Steps), len(list), p.Cost.Total)
		}
		for i := range list {
			l, err := e.Next(list[i], pitch.Key{}, nil)
			if err != nil && !errors.As(err, &tooSmall) {
				t.Fatal(err)
			}
			if err == nil && (l.Low < 1 || l.High < l.Low || int(l.High) > full) {
				t.Fatalf("a ladder from %d to %d", l.Low, l.High)
			}
		}
	})
}

// An eight-chord loop of six voices over three octaves: proved, in a new engine,
// inside 16 MiB.
func TestLoopOfEightChordsNeedsLittleMemory(t *testing.T) {
	list := chords(t, cMajor, eightChords)
	for _, stillness := range []float64{0, 0.6, 0.9} {
		p, used := fresh(t, list, func(s *Settings) { threeOctaves(s); s.Stillness = stillness })
		if !p.Proved || used > 16 {
			t.Errorf("stillness %v: proved %v, %.1f MiB allocated, at most 16 wanted", stillness, p.Proved, used)
		}
	}
}

// fresh voices a loop with a new engine and gives what all of that has allocated,
// in MiB, whether or not it was freed meanwhile.
func fresh(t testing.TB, list []harmony.Chord, change func(*Settings)) (p Path, used float64) {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	p, err := engine(t, change).Path(list, cMajor, true, nil)
	if err != nil {
		t.Fatal(err)
	}
	runtime.ReadMemStats(&after)
	return p, float64(after.TotalAlloc-before.TotalAlloc) / (1 << 20)
}
