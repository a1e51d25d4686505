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

// Whatever is asked, of any settings: a voicing inside them or a reason, never a
// panic, never a search without end.
func FuzzSettings(f *testing.F) {
	f.Add(uint8(53), uint8(76), uint8(36), uint8(50), false, 4, 3, 6, 0.6, 1, 64.0, false, 1.0, 1.0, "C Am", true, "any", "none", []byte{36, 60, 64, 67})
	f.Add(uint8(0), uint8(127), uint8(0), uint8(127), true, 7, 1, 7, 1.0, 7, 0.0, true, 0.0, 1000.0, "Cmaj7 F#dim", false, "9 sus", "tonic", []byte{})
	f.Add(uint8(60), uint8(61), uint8(1), uint8(12), false, 2, 2, 2, 0.0, 0, 127.0, false, math.Inf(1), math.NaN(), "G7b9", true, "open", "dominant", []byte{60, 50})
	f.Add(uint8(50), uint8(70), uint8(36), uint8(50), false, 3, 1, 5, 1.0, 3, 60.0, false, 2.0, 1.0, "4m 5M C/D Bdim", false, "sus open 7", "dominant", []byte{0, 60, 70, 80, 90})
	f.Add(uint8(55), uint8(72), uint8(36), uint8(50), true, 3, 3, 4, 1.0, 0, 60.0, false, 2.0, 1.0, "4m7 C69", true, "blue", "tonic", []byte{1, 2, 3, 4, 5, 6, 7, 8, 9, 10})
	f.Fuzz(func(t *testing.T, low, high, bassLow, bassHigh uint8, noBass bool, voices, thin, full int, stillness float64, colours int, centre float64, plain bool, weight, rung float64, progression string, loop bool, palette, pedal string, before []byte) {
		s := DefaultSettings()
		s.Low, s.High, s.BassLow, s.BassHigh, s.NoBass = low, high, bassLow, bassHigh, noBass
		s.Voices, s.Thin, s.Full, s.Stillness, s.Colours, s.Centre, s.Plain = voices, thin, full, stillness, colours, centre, plain
		s.Weights.Movement, s.Weights.Roughness, s.Weights.Leap = weight, weight, weight
		s.RungWeight[min(max(thin, 0), MaxUpper)] = rung
		var err error
		if s.Palette, err = ParsePalette(palette); err == nil {
			if again, err := ParsePalette(s.Palette.String()); err != nil || again != s.Palette {
				t.Fatalf("%q is written %q, which reads as %v, %v", palette, s.Palette, again, err)
			}
		}
		if s.PedalPoint, err = ParsePedalPoint(pedal); err == nil && s.PedalPoint.String() != pedal {
			t.Fatalf("pedal point %q is written %q", pedal, s.PedalPoint)
		}
		e, err := New(s)
		if err != nil {
			return
		}
		e.search.budget, e.joint.budget = 1<<18, 1<<14
		list, err := harmony.ParseProgression(progression, pitch.Key{}, harmony.FromTonic)
		if err != nil || len(list) > 4 {
			return
		}
		asked := func(what string, err error) bool {
			var tooSmall *RangeError
			if err != nil && (err.Error() == "" || !errors.As(err, &tooSmall) && !errors.Is(err, errNoVoicing)) {
				t.Fatalf("%s: %v", what, err)
			}
			return err == nil
		}
		var from *Voicing
		if len(before) > 0 {
			from = &Voicing{Bass: before[0], N: uint8(len(before) - 1)}
			copy(from.Upper[:], before[1:])
		}
		fits := func(what string, l *Ladder) {
			if l.Low < 1 || l.High < l.Low || int(l.High) > full || len(l.Lost(thin, full)) != full-thin-int(l.High-l.Low) {
				t.Fatalf("%s: a ladder from %d to %d", what, l.Low, l.High)
			}
			for _, n := range l.Entry[:l.High] {
				if n < low || n > high {
					t.Fatalf("%s: note %d in %d…%d", what, n, low, high)
				}
			}
		}
		p, err := e.Path(list, pitch.Key{}, loop, from)
		if asked("Path", err) && (len(p.Steps) != len(list) || !(p.Cost.Total >= 0)) {
			t.Fatalf("%d steps for %d chords at %v", len(p.Steps), len(list), p.Cost.Total)
		}
		var now *Ladder
		for i := range list {
			l, err := e.Next(list[i], pitch.Key{}, now)
			if asked("Next", err) {
				fits("Next", &l)
				now = &l
			}
		}
		n, err := e.Nest(list, pitch.Key{}, loop, from)
		if asked("Nest", err) {
			for i := range n.Ladders {
				fits("Nest", &n.Ladders[i])
			}
		}
		half := len(list) / 2
		home, away, err := e.Pair(list[half:], list[:half], pitch.Key{}, now, 0, nil, nil)
		if asked("Pair", err) {
			for _, l := range append(home, away...) {
				fits("Pair", &l)
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
