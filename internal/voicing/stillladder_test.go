package voicing

import (
	"math"
	"testing"

	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"pgregory.net/rapid"
)

// compareRates compares sums that were added up in different orders.
func compareRates(a, b rungRate) int {
	if math.Abs(a.cost-b.cost) < 1e-9 {
		a.cost = b.cost
	}
	return a.compare(b)
}

type rater func(Voicing) (rungRate, bool)

// everyChain tries every way from v to a number of notes, a note at a time: the
// longest, and of those the best sum of rates. Greedy takes the best rated next
// voicing alone.
func everyChain(s *Settings, v Voicing, to int, enter pitch.Set, rate rater, greedy bool) (length int, sum rungRate) {
	var next []Voicing
	switch {
	case int(v.N) > to:
		for i := range v.Notes() {
			next = append(next, v.without(i))
		}
	case int(v.N) < to:
		for n := s.Low; n <= s.High; n++ {
			if enter.Has(class(n)) && !v.Pitches().Has(n) {
				next = append(next, v.with(n))
			}
		}
	}
	if greedy {
		next = bestRated(next, rate)
	}
	for _, w := range next {
		r, stands := rate(w)
		if !stands {
			continue
		}
		n, rest := everyChain(s, w, to, enter, rate, greedy)
		if total := r.plus(rest); n+1 > length || n+1 == length && total.compare(sum) < 0 {
			length, sum = n+1, total
		}
	}
	return length, sum
}

func bestRated(all []Voicing, rate rater) (best []Voicing) {
	var least rungRate
	for _, v := range all {
		if r, stands := rate(v); stands && (best == nil || r.compare(least) < 0) {
			best, least = []Voicing{v}, r
		}
	}
	return best
}

// rungsFrom sums the rates of a ladder's rungs on one side of the reference.
func rungsFrom(l *Ladder, reference, end int, rate rater) (length int, sum rungRate) {
	step := 1
	if end < reference {
		step = -1
	}
	for r := reference; r != end; r += step {
		one, _ := rate(l.Rung(r + step))
		sum = sum.plus(one)
		length++
	}
	return length, sum
}

// At stillness 1 the ladders, shared and departing, are the best of all, by trying
// every order of every note; how far behind the best next note each time would have
// been is logged.
func TestStillLaddersEqualBruteForce(t *testing.T) {
	ladders, behind, shorter := 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		s := DefaultSettings()
		s.Stillness, s.Voices = 1, rapid.IntRange(2, 4).Draw(t, "voices")
		s.Low = rapid.Uint8Range(50, 60).Draw(t, "low")
		s.High = s.Low + rapid.Uint8Range(12, 20).Draw(t, "span")
		s.Centre = float64(s.Low+s.High) / 2
		s.Thin = rapid.IntRange(max(1, s.Voices-2), s.Voices).Draw(t, "thin")
		s.Full = s.Voices + rapid.IntRange(0, 3).Draw(t, "fuller")
		e, err := New(s)
		if err != nil {
			t.Fatal(err)
		}
		var list []harmony.Chord
		for range rapid.IntRange(1, 3).Draw(t, "length") {
			list = append(list, parsed(t, rapid.SampledFrom(symbols).Draw(t, "chord")))
		}
		if !e.fillStatic(list, cMajor) {
			return
		}
		all, proved := e.staticLadders(nil, len(list))
		if !proved {
			t.Fatalf("%v: a small ladder is not proved", list)
		}
		check := func(l *Ladder, from Voicing, enter pitch.Set, rate rater) {
			for _, end := range [2][2]int{{s.Thin, int(l.Low)}, {s.Full, int(l.High)}} {
				length, sum := everyChain(&s, from, end[0], enter, rate, false)
				got, gotSum := rungsFrom(l, s.Voices, end[1], rate)
				if got != length || compareRates(gotSum, sum) != 0 {
					t.Fatalf("%v to %d voices: %d rungs at %+v, brute force %d at %+v", from.Notes(), end[0], got, gotSum, length, sum)
				}
				n, greedy := everyChain(&s, from, end[0], enter, rate, true)
				ladders++
				if n < length {
					shorter++
				} else if compareRates(greedy, sum) > 0 {
					behind++
				}
			}
		}
		shared, _ := e.sharedLadder()
		enter := e.still.upper.Classes()
		shares := func(v Voicing) (rungRate, bool) { return e.rateShared(v, underBest) }
		if length, _ := everyChain(&s, e.still.upper, s.Full, enter, shares, false); length < s.Full-s.Voices {
			enter = pitch.SetOf(0, 2, 4, 7, 9)
		}
		check(&shared, e.still.upper, enter, shares)
		for i := range list {
			c := &e.still.chords[i]
			if c.best.trouble == Clear {
				continue
			}
			// Each was held against the chords before it, so the last is checked.
			if last := len(e.still.stay) - 1; e.still.stay[last] == all[i] {
				e.still.stay = e.still.stay[:last]
				check(&all[i], c.best.voicing, c.tones|c.colours, func(v Voicing) (rungRate, bool) { return e.rateDeparted(v, c, &shared) })
				break
			}
		}
	})
	t.Logf("of %d halves of ladders, the best next note each time would have left %d worse and %d shorter", ladders, behind, shorter)
}

func parsed(t *rapid.T, symbol string) harmony.Chord {
	c, err := harmony.ParseChord(symbol)
	if err != nil {
		t.Fatal(err)
	}
	return c
}
