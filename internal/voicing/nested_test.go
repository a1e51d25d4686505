package voicing

import (
	"errors"
	"math"
	"testing"

	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"pgregory.net/rapid"
)

// drawNested draws settings so small that every choice of ladders can be tried.
func drawNested(t *rapid.T) Settings {
	s := DefaultSettings()
	s.Low = rapid.Uint8Range(52, 60).Draw(t, "low")
	s.High = s.Low + rapid.Uint8Range(7, 11).Draw(t, "span")
	s.NoBass = rapid.Bool().Draw(t, "no bass")
	s.BassHigh = s.BassLow + 11
	s.Thin = rapid.IntRange(1, 3).Draw(t, "thin")
	s.Full = rapid.IntRange(s.Thin, 4).Draw(t, "full")
	s.Voices = s.Full
	s.Stillness = rapid.SampledFrom([]float64{0, 0.4, 0.6, 0.9}).Draw(t, "stillness")
	s.Colours = rapid.IntRange(0, 1).Draw(t, "colours")
	s.Plain = rapid.Bool().Draw(t, "plain")
	s.Weights = drawWeights(t)
	for r := s.Thin; r <= s.Full; r++ {
		s.RungWeight[r] = rapid.SampledFrom([]float64{0.5, 1, 3}).Draw(t, "rung weight")
	}
	return s
}

func drawChord(t *rapid.T) harmony.Chord {
	c, err := harmony.ParseChord(rapid.SampledFrom(symbols).Draw(t, "chord"))
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// bruteLadders lists every ladder of a chord that reaches as far up from the
// core, and then as far down, as any does: by trying all nested choices of
// [bruteVoicings].
func bruteLadders(s Settings, core int, c harmony.Chord, key pitch.Key) (all []Ladder) {
	rungs := map[int][]Voicing{}
	for r := s.Thin; r <= s.Full; r++ {
		at := s
		at.Voices = r
		rungs[r] = bruteVoicings(at, c, key)
	}
	for high := s.Full; high >= core; high-- {
		for low := s.Thin; low <= core; low++ {
			for _, v := range rungs[low] {
				l := Ladder{Bass: v.Bass, Low: uint8(low), High: uint8(low)}
				copy(l.Entry[:], v.Notes())
				all = append(all, climbAll(rungs, l, high)...)
			}
			if len(all) > 0 {
				for i := range all {
					all[i].Dropped = low > s.Thin || high < s.Full
				}
				return all
			}
		}
	}
	return nil
}

func climbAll(rungs map[int][]Voicing, l Ladder, high int) (all []Ladder) {
	if int(l.High) == high {
		return []Ladder{l}
	}
	thin := l.Rung(int(l.High))
	for _, v := range rungs[int(l.High)+1] {
		if v.Bass == l.Bass && thin.Pitches().Without(v.Pitches()) == (Pitches{}) {
			next := l
			next.Entry[l.High] = v.Pitches().Without(thin.Pitches()).lowest()
			next.High++
			all = append(all, climbAll(rungs, next, high)...)
		}
	}
	return all
}

// bruteJoint gives the least price of one ladder each from some lists: the
// weighted sum over rungs of own costs, counted times over, and of the steps of
// the edges and from what sounds before the first.
func bruteJoint(e *Engine, all []harmony.Chord, key pitch.Key, lists [][]Ladder, edges [][2]int, times float64, from *Ladder) float64 {
	s := e.Settings()
	single, pair := make([][]float64, len(lists)), map[[2]int][][]float64{}
	prices := newPricing(s, key)
	for i, list := range lists {
		for _, l := range list {
			sum := 0.0
			for r := s.Thin; r <= s.Full; r++ {
				v := l.Rung(r)
				cost := times * prices.own(all[i], v)
				if from != nil && i == 0 {
					cost += prices.step(from.Rung(r), v)
				}
				sum += s.RungWeight[r] * cost
			}
			single[i] = append(single[i], sum)
		}
	}
	for _, edge := range edges {
		table := make([][]float64, len(lists[edge[0]]))
		for x, p := range lists[edge[0]] {
			for _, v := range lists[edge[1]] {
				sum := 0.0
				for r := s.Thin; r <= s.Full; r++ {
					sum += s.RungWeight[r] * prices.step(p.Rung(r), v.Rung(r))
				}
				table[x] = append(table[x], sum)
			}
		}
		pair[edge] = table
	}
	best, chosen := math.Inf(1), make([]int, len(lists))
	var choose func(i int, sum float64)
	choose = func(i int, sum float64) {
		if sum >= best {
			return
		}
		if i == len(lists) {
			best = sum
			return
		}
		for x := range lists[i] {
			chosen[i] = x
			cost := sum + single[i][x]
			for _, edge := range edges {
				if max(edge[0], edge[1]) == i {
					cost += pair[edge][chosen[edge[0]]][chosen[edge[1]]]
				}
			}
			choose(i+1, cost)
		}
	}
	choose(0, 0)
	return best
}

func TestLaddersEqualBruteForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e, err := New(drawNested(t))
		if err != nil {
			t.Fatal(err)
		}
		s := e.Settings()
		n := rapid.IntRange(1, 3).Draw(t, "length")
		var all []harmony.Chord
		var lists [][]Ladder
		product := 1
		for range n {
			c := drawChord(t)
			list := bruteLadders(s, e.core(), c, cMajor)
			all, lists = append(all, c), append(lists, list)
			product *= max(1, len(list))
		}
		if product > 1<<20 {
			return // too many to try
		}
		var from *Ladder
		if rapid.Bool().Draw(t, "from") {
			from = &Ladder{Bass: 43, Low: 2, High: 4, Entry: [MaxUpper]uint8{57, 64, 60, 67}}
		}
		var tooSmall *RangeError
		possible := true
		for i := range lists {
			possible = possible && len(lists[i]) > 0
		}
		check := func(what string, got, want float64) {
			if !alike(got, want) {
				t.Fatalf("%s costs %v, brute force %v", what, got, want)
			}
		}

		next, err := e.Next(all[0], cMajor, from)
		if errors.As(err, &tooSmall) != (len(lists[0]) == 0) {
			t.Fatalf("Next says %v, brute force finds %d ladders", err, len(lists[0]))
		}
		if err == nil {
			found := bruteJoint(e, all[:1], cMajor, [][]Ladder{{next}}, nil, 1, from)
			check("Next", found, bruteJoint(e, all[:1], cMajor, lists[:1], nil, 1, from))
		}

		loop := rapid.Bool().Draw(t, "loop")
		var edges [][2]int
		for i := range all {
			if j := (i + 1) % n; j > i || loop && j < i {
				edges = append(edges, [2]int{i, j})
			}
		}
		nested, err := e.Nest(all, cMajor, loop, nil)
		if errors.As(err, &tooSmall) == possible {
			t.Fatalf("Nest says %v, brute force: %v", err, possible)
		}
		if err == nil {
			if !nested.Proved {
				t.Fatal("a small instance is not proved")
			}
			check("Nest", nested.Price, bruteJoint(e, all, cMajor, lists, edges, 1, nil))
			for _, r := range nested.Rungs {
				if r.AloneProved && r.Alone > r.Path.Cost.Total+1e-6 {
					t.Fatalf("%d voices: alone costs %v, nested only %v", r.Voices, r.Alone, r.Path.Cost.Total)
				}
			}
		}

		split := rapid.IntRange(1, n).Draw(t, "split")
		home, away, err := e.Pair(all[:split], all[split:], cMajor, from, 0, nil, nil)
		if errors.As(err, &tooSmall) == possible {
			t.Fatalf("Pair says %v, brute force: %v", err, possible)
		}
		if err != nil {
			return
		}
		edges = edges[:0]
		step := func(p, v int) {
			if p != v {
				edges = append(edges, [2]int{p, v})
			}
		}
		for i := range split {
			step(i, (i+1)%split)
		}
		for i := split; i < n; i++ {
			step(i, split+(i-split+1)%(n-split))
		}
		times := 1.0
		if split < n {
			times = 2
			for i := range split {
				step(i, split)
			}
			for i := split; i < n; i++ {
				step(i, 0)
			}
		}
		var found [][]Ladder
		for _, l := range append(home, away...) {
			found = append(found, []Ladder{l})
		}
		got, want := bruteJoint(e, all, cMajor, found, edges, times, from), bruteJoint(e, all, cMajor, lists, edges, times, from)
		if !e.Proved() {
			t.Fatal("a small instance is not proved")
		}
		check("Pair", got, want)
	})
}

// The order in which chords were prepared, and what the shelf has lost, change
// nothing.
func TestPreparedOrNotTheLadderIsTheSame(t *testing.T) {
	long := "C Cm C7 Cmaj7 Cm7 Csus4 D Dm D7 Dmaj7 Dm7 E Em E7 Emaj7 Em7 F Fm F7 Fmaj7 Fm7 G Gm G7 Gmaj7 Gm7 A Am A7 Amaj7 Am7 B Bm B7 Bmaj7 Bm7"
	used, fresh := engine(t, nil), engine(t, nil)
	var from *Ladder
	for semitones := range 4 {
		key := cMajor.Transpose(semitones)
		used.Prepare(chords(t, key, long), key)
		for _, c := range chords(t, key, "1 6m 4 5 2m7") {
			a, err := used.Next(c, key, from)
			if err != nil {
				t.Fatal(err)
			}
			fresh.shelf = shelf{}
			b, err := fresh.Next(c, key, from)
			if err != nil {
				t.Fatal(err)
			}
			if a != b {
				t.Errorf("%s: %v where prepared, %v where not", c.Symbol(), a, b)
			}
			from = &a
		}
	}
	if n := len(used.shelf.lattices); n > shelfChords {
		t.Errorf("the shelf holds %d chords, at most %d are allowed", n, shelfChords)
	}
	total := 0
	for _, l := range used.shelf.lattices {
		total += l.size()
	}
	if total != used.shelf.voicings || total > shelfVoicings+maxLattice {
		t.Errorf("the shelf holds %d voicings and counts %d, at most %d are allowed", total, used.shelf.voicings, shelfVoicings)
	}
}
