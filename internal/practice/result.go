package practice

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Result is how a take was.
type Result struct {
	Mark   float64 // 0 … 1 for a perfect one
	Parts  []Part  // what the mark is made of, for who asks; wrong notes take up to half of the rest as well
	Words  string  // one sentence of praise or advice
	Figure string  // the one number that matters, with what it counts: "3 of 4 shared notes held"
}

// Part is one thing that was measured.
type Part struct {
	Name   string // as in "shared notes held"
	Figure string // what was measured, in words: "3 of 4"
	Mark   float64
	Weight float64 // what it counts among the others, together 1
}

// score gathers parts to a result.
type score struct {
	parts  []Part
	advice []string // by part, where it is the weakest
	number []string // by part, as a result's Figure
	spoilt float64  // how far wrong notes spoil the rest, 0…1
}

// add takes a part: what it counts, its figure alone and with what it counts, its mark
// 0…1, and what to say where it is the weakest.
func (s *score) add(weight float64, name, figure, number string, mark float64, advice string) {
	if math.IsNaN(mark) {
		mark = 0
	}
	s.parts = append(s.parts, Part{name, figure, min(max(mark, 0), 1), weight})
	s.advice, s.number = append(s.advice, advice), append(s.number, number)
}

// well is the mark from which nothing is to be said against a part.
const well = 0.9

// spoils is what wrong notes take at the most from all that was well done. By ear.
const spoils = 0.5

// result sums up. The presence 0…1 is how far there was anything to judge: it holds for
// all parts. Praise is said where nothing is left to wish.
func (s *score) result(presence float64, praise string) Result {
	presence = min(max(presence, 0), 1)
	total, mark := 0.0, 0.0
	for i := range s.parts {
		s.parts[i].Mark *= presence
		total += s.parts[i].Weight
	}
	for i := range s.parts {
		s.parts[i].Weight /= total
		mark += s.parts[i].Weight * s.parts[i].Mark
	}
	// To a thousandth: what is done and what can be done are sums in another order.
	mark *= 1 - spoils*s.spoilt
	r := Result{Mark: math.Round(1000*mark) / 1000, Parts: s.parts, Words: praise, Figure: s.number[0]}
	if presence < well {
		r.Words, r.Figure = "Play on all through, however little: silence is what gives a bed away.", fmt.Sprintf("played %.0f %% of the time", 100*presence)
		return r
	}
	lost := func(i int) float64 { return s.parts[i].Weight * (1 - s.parts[i].Mark) }
	worst := slices.MaxFunc(order(len(s.parts)), func(a, b int) int { return cmp.Compare(lost(a), lost(b)) })
	if s.parts[worst].Mark < well {
		r.Words, r.Figure = s.advice[worst], s.number[worst]
	}
	return r
}

// scale takes from the marks of the parts from a number on.
func (s *score) scale(from int, by float64) {
	for i := range s.parts[from:] {
		s.parts[from+i].Mark *= by
	}
}

func order(n int) (list []int) {
	for i := range n {
		list = append(list, i)
	}
	return list
}

// falls gives 1 up to good, 0 from bad on, and a straight line in between.
func falls(x, good, bad float64) float64 { return min(max((bad-x)/(bad-good), 0), 1) }

// share is a part of a whole, 1 where there is no whole.
func share(part, whole float64) float64 {
	if whole == 0 {
		return 1
	}
	return part / whole
}

// mean of a list, 0 of none.
func mean(list []float64) float64 {
	sum := 0.0
	for _, x := range list {
		sum += x
	}
	return sum / float64(max(len(list), 1))
}
