package voicing

import (
	"errors"
	"math"
	"strings"
	"testing"

	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"pgregory.net/rapid"
)

// instance is a small random search problem.
type instance struct {
	settings Settings
	key      pitch.Key
	chords   []harmony.Chord
	loop     bool
	from     *Voicing
}

var symbols = []string{"C", "F", "G", "Am", "Dm", "Em", "Bdim", "E7", "Fmaj7", "Gsus4", "C/E", "Bbadd9", "Ab", "G7b9"}

func drawInstance(t *rapid.T) instance {
	s := DefaultSettings()
	s.Low = rapid.Uint8Range(50, 60).Draw(t, "low")
	s.High = s.Low + rapid.Uint8Range(9, 14).Draw(t, "span")
	s.BassHigh = s.BassLow + rapid.Uint8Range(11, 16).Draw(t, "bass span")
	s.NoBass = rapid.Bool().Draw(t, "no bass")
	s.Voices = rapid.IntRange(1, 7).Draw(t, "voices")
	s.Thin, s.Full = min(s.Voices, 2), max(s.Voices, 4)
	s.Stillness = rapid.SampledFrom([]float64{0, 0.4, 0.6, 0.9}).Draw(t, "stillness")
	s.Colours = rapid.IntRange(0, 2).Draw(t, "colours")
	s.Plain = rapid.Bool().Draw(t, "plain")
	s.Centre = float64(s.Low) + rapid.Float64Range(0, 14).Draw(t, "centre")
	s.Weights = drawWeights(t)
	in := instance{settings: s, loop: rapid.Bool().Draw(t, "loop")}
	for range rapid.IntRange(1, 3).Draw(t, "length") {
		c, err := harmony.ParseChord(rapid.SampledFrom(symbols).Draw(t, "chord"))
		if err != nil {
			t.Fatal(err)
		}
		in.chords = append(in.chords, c)
	}
	if rapid.Bool().Draw(t, "from") {
		v := Of(40, 55, 60, 64)
		in.from = &v
	}
	return in
}

// drawWeights draws none, some, the default or movement only.
func drawWeights(t *rapid.T) Weights {
	weight := rapid.SampledFrom([]float64{0, 0, 0.5, 1, 2.7, 12})
	switch rapid.IntRange(0, 3).Draw(t, "weights") {
	case 0:
		return DefaultWeights()
	case 1:
		return MovementOnly()
	case 2:
		return Weights{}
	}
	return Weights{
		Movement: weight.Draw(t, "movement"), Strike: weight.Draw(t, "strike"), FewHeld: weight.Draw(t, "few held"),
		Leap: weight.Draw(t, "leap"), Parallel: weight.Draw(t, "parallel"), BassMove: weight.Draw(t, "bass move"),
		Missing: weight.Draw(t, "missing"), Bare: weight.Draw(t, "bare"), Double: weight.Draw(t, "double"),
		Colour: weight.Draw(t, "colour"), Roughness: weight.Draw(t, "roughness"), Centre: weight.Draw(t, "centre weight"),
	}
}

// bruteVoicings lists every voicing of a chord that keeps the rules as the
// package documentation words them, by trying every set of notes.
func bruteVoicings(s Settings, c harmony.Chord, key pitch.Key) (all []Voicing) {
	tones := c.Classes()
	var basses []uint8
	if s.NoBass {
		basses = []uint8{NoBass}
	} else {
		for n := s.BassLow; n <= s.BassHigh; n++ {
			if class(n) == c.BassClass() {
				basses = append(basses, n)
			}
		}
	}
	scale := pitch.Set(0)
	for _, n := range key.Scale() {
		scale = scale.Add(n.Class())
	}
	identity := c.Identity().Without(c.BassClass())
	span := int(s.High-s.Low) + 1
	for bits := range 1 << span {
		var v Voicing
		for i := range span {
			if bits>>i&1 != 0 {
				if v.N == MaxUpper {
					v.N = 99
					break
				}
				v.Upper[v.N] = s.Low + uint8(i)
				v.N++
			}
		}
		if int(v.N) != s.Voices {
			continue
		}
		classes := v.Classes()
		colours := classes.Minus(tones)
		good := colours.Len() <= s.Colours && (!s.Plain || colours == 0) && colours.Minus(scale) == 0
		for k := pitch.Class(0); k < 12; k++ {
			if colours.Has(k) && (tones.Has((k+11)%12) || k == (c.BassClass()+6)%12 || k == (c.Root.Class()+6)%12) {
				good = false
			}
			if colours.Has(k) && rival(c, k) {
				good = false
			}
		}
		if s.Plain && int(v.N) == tones.Len() && classes != tones {
			good = false
		}
		if s.Stillness <= IdentityRule && (classes&identity).Len() < min(int(v.N), identity.Len()) {
			good = false
		}
		for i := 1; i < int(v.N); i++ {
			if v.Upper[i]-v.Upper[i-1] > 12 || i > 1 && v.Upper[i-2] < 60 && v.Upper[i]-v.Upper[i-2] <= 4 {
				good = false
			}
		}
		if !good {
			continue
		}
		// C E G and the like: with the bass's class a triad whose root is another's.
		shape := classes.Add(c.BassClass())
		for k := pitch.Class(0); k < 12; k++ {
			for _, triad := range []pitch.Set{pitch.SetOf(0, 4, 7), pitch.SetOf(0, 3, 7)} {
				if shape == triad.Transpose(int(k)) && k != c.Root.Class() {
					good = false
				}
			}
		}
		if !good {
			continue
		}
		for _, b := range basses {
			w := v
			w.Bass = b
			notes := append([]uint8{}, w.Notes()...)
			if b != NoBass {
				notes = append([]uint8{b}, notes...)
			}
			good := true
			for i, n := range notes {
				if i > 0 && (n <= notes[i-1] || notes[i-1] < LowestNote(int(n-notes[i-1]))) {
					good = false
				}
				for _, m := range notes[:i] {
					ninth := n-m == 13 && !(c.Altered().Has((c.Root.Class()+1)%12) && class(m) == c.Root.Class())
					if n-m == 1 || ninth {
						good = false
					}
				}
			}
			if good {
				all = append(all, w)
			}
		}
	}
	return all
}

// rival reports, from the chord's symbol, whether class k would make another
// chord of it.
func rival(c harmony.Chord, k pitch.Class) bool {
	above := int(k-c.Root.Class()+12) % 12
	symbol := c.Symbol()
	third := !strings.Contains(symbol, "no3") && !strings.HasSuffix(symbol, "5")
	seventh := strings.Contains(symbol, "7")
	dark := strings.HasSuffix(symbol, "m") || strings.Contains(symbol, "dim") || strings.Contains(symbol, "sus4")
	altered := strings.Contains(symbol, "dim") || strings.Contains(symbol, "aug")
	return third && (above == 3 || above == 4) || seventh && (above == 10 || above == 11) || dark && above == 11 || strings.Contains(symbol, "sus4") && above == 9 || altered && above == 7
}

func TestNoColourMakesAnotherChord(t *testing.T) {
	for chord, never := range map[string][]pitch.Class{
		"E": {7}, "C#": {4}, "A7": {0, 8}, "Gsus4": {4, 10, 11}, "Am7": {1, 8}, "Cmaj7": {10, 3}, "Caug": {7, 3}, "Bdim": {6, 3},
	} {
		c, err := harmony.ParseChord(chord)
		if err != nil {
			t.Fatal(err)
		}
		for tonic := range 12 {
			for _, minor := range []bool{false, true} {
				key := pitch.Key{}.Transpose(tonic)
				key.Minor = minor
				tones := tonalityOf(c, key, false)
				for _, k := range never {
					if tones.colours.Has(k) {
						t.Errorf("%s in %v may be coloured with class %d", chord, key, k)
					}
				}
			}
		}
	}
}

func TestFewVoicesDoNotSoundAsAnotherTriad(t *testing.T) {
	e := engine(t, nil)
	for tonic := range 12 {
		key := cMajor.Transpose(tonic)
		home, away, err := e.Pair(chords(t, key, "1 4"), chords(t, key, "6m 2m"), key, nil, 0, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		all := append(chords(t, key, "1 4"), chords(t, key, "6m 2m")...)
		for i, l := range append(home, away...) {
			tones := tonalityOf(all[i], key, false)
			for r := int(l.Low); r <= int(l.High); r++ {
				if v := l.Rung(r); tones.otherTriad(&v) {
					t.Errorf("%v: %s at %d voices is %v over %d", key, all[i].Symbol(), r, v.Notes(), v.Bass)
				}
			}
		}
	}
}

// 2,000 instances: 100 checks of 20.
func TestSearchEqualsBruteForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		for range 20 {
			checkSearch(t, drawInstance(t))
		}
	})
}

func checkSearch(t *rapid.T, in instance) {
	e, err := New(in.settings)
	if err != nil {
		t.Fatal(err)
	}
	prices := newPricing(in.settings, in.key)
	lists := make([][]Voicing, len(in.chords))
	own := make([][]float64, len(in.chords))
	for i, c := range in.chords {
		lists[i] = bruteVoicings(in.settings, c, in.key)
		for _, v := range lists[i] {
			own[i] = append(own[i], prices.own(c, v))
		}
	}
	best := math.Inf(1)
	var walk func(i int, first, before *Voicing, cost float64)
	walk = func(i int, first, before *Voicing, cost float64) {
		if i == len(lists) {
			if in.loop {
				cost += prices.step(*before, *first)
			}
			best = min(best, cost)
			return
		}
		for j := range lists[i] {
			here, add := &lists[i][j], own[i][j]
			if cost+add < best && before != nil {
				add += prices.step(*before, *here)
			}
			if cost+add < best {
				f := first
				if f == nil {
					f = here
				}
				walk(i+1, f, here, cost+add)
			}
		}
	}
	if in.loop {
		walk(0, nil, nil, 0)
	} else {
		walk(0, nil, in.from, 0)
	}
	for _, small := range []int{smallWork, -1} { // as a small problem is solved, and as a large one
		e.search.small = small
		p, err := e.Path(in.chords, in.key, in.loop, in.from)
		var tooSmall *RangeError
		if errors.As(err, &tooSmall) {
			if !math.IsInf(best, 1) {
				t.Fatalf("%v, but brute force finds a path of %v", err, best)
			}
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		if !p.Proved {
			t.Fatalf("a small instance is not proved")
		}
		if !alike(p.Cost.Total, best) {
			t.Fatalf("path costs %v, brute force %v: %+v", p.Cost.Total, best, p.Steps)
		}
	}
}

// Where Pair stops, neither progression has cheaper cores while the other keeps
// its own, with every swap in the price: by trying all.
func TestCoresCannotBeImprovedAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := DefaultSettings()
		s.Low = rapid.Uint8Range(53, 60).Draw(t, "low")
		s.High = s.Low + rapid.Uint8Range(10, 13).Draw(t, "span")
		s.NoBass, s.Voices, s.Thin, s.Full = true, 3, 3, 3
		e, err := New(s)
		if err != nil {
			t.Fatal(err)
		}
		var all []harmony.Chord
		for range 4 {
			c, err := harmony.ParseChord(rapid.SampledFrom(symbols).Draw(t, "chord"))
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, c)
		}
		home, away, err := e.Pair(all[:2], all[2:], cMajor, nil, 0, nil, nil)
		var tooSmall *RangeError
		if errors.As(err, &tooSmall) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		var cores [4]Voicing
		for i, l := range append(home, away...) {
			cores[i] = l.Rung(3)
		}
		prices := newPricing(s, cMajor)
		// The two loops, and the swaps from each chord to the other's first; a chord's
		// own price counts once for each of the two ways to reach it.
		edges := [][2]int{{0, 1}, {1, 0}, {2, 3}, {3, 2}, {0, 2}, {1, 2}, {2, 0}, {3, 0}}
		price := func(c [4]Voicing) float64 {
			sum := 0.0
			for i := range c {
				sum += 2 * prices.own(all[i], c[i])
			}
			for _, edge := range edges {
				sum += prices.step(c[edge[0]], c[edge[1]])
			}
			return sum
		}
		found := price(cores)
		for group := range 2 {
			for _, v := range bruteVoicings(s, all[2*group], cMajor) {
				for _, w := range bruteVoicings(s, all[2*group+1], cMajor) {
					other := cores
					other[2*group], other[2*group+1] = v, w
					if p := price(other); p < found && !alike(p, found) {
						t.Fatalf("group %d: %v and %v cost %v, the cores found %v", group, v.Notes(), w.Notes(), p, found)
					}
				}
			}
		}
	})
}

func TestLaddersAreNestedAndKeepTheRules(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := DefaultSettings()
		s.Stillness = rapid.SampledFrom([]float64{0, 0.5, 0.6, 0.9, 1}).Draw(t, "stillness")
		s.Low = rapid.Uint8Range(48, 58).Draw(t, "low")
		s.High = s.Low + rapid.Uint8Range(14, 30).Draw(t, "span")
		s.NoBass = rapid.Bool().Draw(t, "no bass")
		s.Thin, s.Full = rapid.IntRange(1, 4).Draw(t, "thin"), rapid.IntRange(4, 7).Draw(t, "full")
		e, err := New(s)
		if err != nil {
			t.Fatal(err)
		}
		key := pitch.Key{}.Transpose(rapid.IntRange(0, 11).Draw(t, "key"))
		draw := func(label string) (out []harmony.Chord) {
			for range rapid.IntRange(1, 4).Draw(t, label) {
				c, err := harmony.ParseChord(rapid.SampledFrom(symbols).Draw(t, "chord"))
				if err != nil {
					t.Fatal(err)
				}
				out = append(out, c.Transpose(pitch.Key{}, key))
			}
			return out
		}
		home, away := draw("home"), draw("away")
		h, a, err := e.Pair(home, away, key, nil, 0, nil, nil)
		var tooSmall *RangeError
		if errors.As(err, &tooSmall) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		next, err := e.Next(away[0], key, &h[0])
		if err != nil {
			t.Fatal(err)
		}
		h, home = append(h, next), append(home, away[0])
		ladders, all := append(h, a...), append(home, away...)
		for i, l := range ladders {
			tones := tonalityOf(all[i], key, false)
			if !s.NoBass && class(l.Bass) != all[i].BassClass() {
				t.Fatalf("%s stands over bass note %d", all[i].Symbol(), l.Bass)
			}
			if int(l.Low) > s.Thin != l.Dropped && int(l.High) < s.Full != l.Dropped {
				t.Fatalf("%s: rungs %d…%d of %d…%d, dropped %v", all[i].Symbol(), l.Low, l.High, s.Thin, s.Full, l.Dropped)
			}
			for r := int(l.Low); r <= int(l.High); r++ {
				v := l.Rung(r)
				if int(v.N) != r || v.Pitches().Len() != r {
					t.Fatalf("%s rung %d has notes %v", all[i].Symbol(), r, v.Notes())
				}
				if v.Upper[0] < s.Low || v.Upper[v.N-1] > s.High {
					t.Fatalf("%s rung %d leaves the range: %v", all[i].Symbol(), r, v.Notes())
				}
				colours, need := s.Colours, e.need(&tones, r)
				if s.Stillness == 1 { // one set for all chords: any colours
					colours, need = MaxUpper, 0
				}
				if !tones.keeps(&v, colours, need) {
					t.Fatalf("%s rung %d breaks a rule: %+v", all[i].Symbol(), r, v)
				}
				if r > int(l.Low) {
					if thin := l.Rung(r - 1); v.Pitches().And(thin.Pitches()) != thin.Pitches() {
						t.Fatalf("%s rung %d does not contain rung %d (I6)", all[i].Symbol(), r, r-1)
					}
				}
			}
		}
	})
}

func TestNextAllocatesNothing(t *testing.T) {
	for _, stillness := range []float64{0.6, 1} {
		e := engine(t, func(s *Settings) { s.Stillness = stillness })
		list := chords(t, cMajor, "1 6m 4 5 2m7 E7 Bb C/E")
		l, err := e.Next(list[0], cMajor, nil)
		if err != nil {
			t.Fatal(err)
		}
		i := 0
		step := func() {
			i++
			if l, err = e.Next(list[i%len(list)], cMajor, &l); err != nil {
				t.Fatal(err)
			}
		}
		for range 3 * len(list) {
			step()
		}
		if n := testing.AllocsPerRun(100, step); n != 0 {
			t.Errorf("stillness %v: Next allocates %v times, want 0", stillness, n)
		}
	}
}

func TestErrors(t *testing.T) {
	for _, c := range []struct {
		change func(*Settings)
		want   string
	}{
		{func(s *Settings) { s.Voices = 9 }, "9 voices are out of range 1…7"},
		{func(s *Settings) { s.Full = 3 }, "a ladder from 3 to 3 voices does not lie around 4 inside 1…7"},
		{func(s *Settings) { s.Colours = -1 }, "-1 colours are out of range 0…7"},
		{func(s *Settings) { s.Stillness = 1.5 }, "stillness 1.5 is out of range 0…1"},
		{func(s *Settings) { s.Stillness = math.NaN() }, "stillness NaN is out of range 0…1"},
		{func(s *Settings) { s.Low, s.High = 70, 60 }, "the upper range Bb4…C4 is empty or beyond G9"},
		{func(s *Settings) { s.Centre = math.NaN() }, "the centre NaN is out of range 0…127"},
		{func(s *Settings) { s.Weights = Weights{Movement: -1} }, "the weight of movement, -1, is out of range 0…1000"},
		{func(s *Settings) { s.Weights = Weights{Centre: math.NaN()} }, "the weight of centre, NaN, is out of range 0…1000"},
		{func(s *Settings) { s.RungWeight[4] = -2 }, "the weight -2 of the rung of 4 voices is out of range 0…1000"},
		{func(s *Settings) { s.RungWeight = [MaxUpper + 1]float64{7: 1} }, "no rung from 3 to 6 voices has a weight"},
		{func(s *Settings) { s.BassHigh = 40 }, "the bass range C2…E2 does not hold every note: it needs twelve semitones"},
	} {
		s := DefaultSettings()
		c.change(&s)
		if _, err := New(s); err == nil || err.Error() != c.want {
			t.Errorf("New gives %v, want %q", err, c.want)
		}
	}
	e := engine(t, func(s *Settings) { s.Low, s.High = 60, 62 })
	_, err := e.Path(chords(t, cMajor, "C"), cMajor, false, nil)
	want := "no 4-voice voicing of C fits between C4 and D4: widen the range or ask for fewer voices"
	if err == nil || err.Error() != want {
		t.Errorf("Path gives %v, want %q", err, want)
	}
	if _, err := e.Path(nil, cMajor, false, nil); err == nil || err.Error() != "there is no chord to voice" {
		t.Errorf("Path of nothing gives %v", err)
	}
	for _, c := range []struct {
		from Voicing
		want string
	}{
		{Of(36), "what sounds before is no voicing: it has 0 upper notes, not 1…7"},
		{Voicing{Bass: 36, N: 8}, "what sounds before is no voicing: it has 8 upper notes, not 1…7"},
		{Of(60, 60), "what sounds before is no voicing: note 60 is beyond 127 or not above note 60"},
		{Of(36, 60, 128), "what sounds before is no voicing: note 128 is beyond 127 or not above note 60"},
	} {
		_, err := e.Path(chords(t, cMajor, "C"), cMajor, false, &c.from)
		_, nested := e.Nest(chords(t, cMajor, "C"), cMajor, false, &c.from)
		if err == nil || err.Error() != c.want || nested == nil || nested.Error() != c.want {
			t.Errorf("from %v: Path gives %v, Nest %v, want %q", c.from, err, nested, c.want)
		}
	}
}
