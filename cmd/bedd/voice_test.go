package main

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"
)

type printedStep struct {
	Chord string
	Bass  int
	Upper []int
	Cost  map[string]float64
}

type printedPath struct {
	By struct {
		Stillness, K, Centre float64
		Weights              map[string]float64
	}
	Loop, Proved bool
	Steps        []printedStep
	Cost         map[string]float64
}

// spelled out by hand: identity tones and others, without the bass, as classes.
var chordTones = map[string]struct{ identity, others []int }{
	"C": {[]int{4}, []int{7}}, "Am": {[]int{0}, []int{4}}, "F": {[]int{9}, []int{0}},
	"Dm7": {[]int{5, 0}, []int{9}}, "G7": {[]int{11, 5}, []int{2}}, "Fmaj7": {[]int{9, 4}, []int{0}},
	"C/E": {[]int{}, []int{0, 7}}, "Gsus4": {[]int{0}, []int{2}},
}

// recompute gives every term of a step from the printed notes alone, by the
// formulas of package voicing's documentation.
func recompute(p *printedPath, before *printedStep, s printedStep) map[string]float64 {
	w, k := p.By.Weights, 1/(1-min(p.By.Stillness, 0.99))
	classes := func(notes []int) (all []int) {
		for _, n := range notes {
			if !slices.Contains(all, n%12) {
				all = append(all, n%12)
			}
		}
		return all
	}
	terms := map[string]float64{}
	for _, term := range []string{"movement", "strike", "few_held", "leap", "parallel", "bass_move", "missing", "bare", "double", "colour", "roughness", "centre"} {
		terms[term] = 0
	}
	if before != nil {
		terms["movement"] = k * w["movement"] * float64(leastMoves(before.Upper, s.Upper))
		var held []int
		for _, n := range s.Upper {
			if slices.Contains(before.Upper, n) {
				held = append(held, n)
			}
		}
		terms["strike"] = k * w["strike"] * float64(len(s.Upper)-len(held))
		if len(before.Upper) >= 3 && len(s.Upper) >= 3 {
			terms["few_held"] = k * w["few_held"] * float64(max(0, 2-len(classes(held))))
		}
		top, next := before.Upper[len(before.Upper)-1], s.Upper[len(s.Upper)-1]
		terms["leap"] = k * w["leap"] * math.Max(0, math.Abs(float64(next-top))-5)
		if (next-top)*(s.Bass-before.Bass) > 0 && (top-before.Bass)%12 == 0 && (next-s.Bass)%12 == 0 {
			terms["parallel"] = k * w["parallel"]
		}
		terms["bass_move"] = w["bass_move"] * math.Abs(float64(s.Bass-before.Bass))
	}
	tones := chordTones[s.Chord]
	has := classes(s.Upper)
	for _, c := range tones.identity {
		if !slices.Contains(has, c) {
			terms["missing"] += w["missing"]
		}
	}
	for _, c := range tones.others {
		if !slices.Contains(has, c) {
			terms["bare"] += w["bare"]
		}
	}
	doubled, sum := 0, 0
	for i, n := range s.Upper {
		if !slices.Contains(append(append([]int{s.Bass % 12}, tones.identity...), tones.others...), n%12) && !root(s.Chord, n) {
			terms["colour"] += w["colour"]
		}
		if slices.Contains(classes(s.Upper[:i]), n%12) || (n-s.Bass)%12 == 0 && !root(s.Chord, n) {
			doubled++
			if !root(s.Chord, n) && !root(s.Chord, n-7) { // neither root nor fifth
				doubled++
			}
		}
		sum += n
		for _, m := range append([]int{s.Bass}, s.Upper[:i]...) {
			terms["roughness"] += w["roughness"] * roughness(m, n)
		}
	}
	if root(s.Chord, 0) { // the tonic of C, where these commands are
		terms["missing"] *= 2
	}
	terms["double"] = w["double"] * float64(doubled)
	terms["centre"] = w["centre"] * math.Abs(float64(sum)/float64(len(s.Upper))-p.By.Centre)
	return terms
}

func root(chord string, note int) bool {
	return note%12 == map[byte]int{'C': 0, 'D': 2, 'E': 4, 'F': 5, 'G': 7, 'A': 9, 'B': 11}[chord[0]]
}

// leastMoves tries every pairing.
func leastMoves(a, b []int) int {
	if len(a) == 0 {
		return 0
	}
	least := math.MaxInt
	for i, n := range b {
		rest := slices.Delete(slices.Clone(b), i, i+1)
		least = min(least, max(a[0]-n, n-a[0])+leastMoves(a[1:], rest))
	}
	return least
}

// The warm pad's six harmonics in dB re the fundamental of C4, a row for each C
// from C2 to C6: as documented at PadPartials.
var padHarmonics = [5][6]float64{
	{1, -7, -12, -20, -21, -28},
	{3, -11, -15, -25, -28, -34},
	{0, -14, -21, -31, -35, -41},
	{-2, -19, -28, -38, -42, -49},
	{-6, -26, -35, -45, -50, -57},
}

func harmonic(note, i int) float64 {
	at := math.Max(0, math.Min(4, float64(note-36)/12))
	row := int(math.Min(3, math.Floor(at)))
	dB := padHarmonics[row][i]*(float64(row)+1-at) + padHarmonics[row+1][i]*(at-float64(row))
	return math.Pow(10, dB/20)
}

// roughness is what two notes of the pad rub against each other, harmonic by
// harmonic (Sethares 1993; constants as in package voicing).
func roughness(low, high int) float64 {
	hertz := func(n int) float64 { return 440 * math.Pow(2, float64(n-69)/12) }
	sum := 0.0
	for i := range 6 {
		for j := range 6 {
			f, g := hertz(low)*float64(i+1), hertz(high)*float64(j+1)
			x := 0.24 / (0.0207*min(f, g) + 18.96) * math.Abs(f-g)
			sum += 5 * min(harmonic(low, i), harmonic(high, j)) * (math.Exp(-3.51*x) - math.Exp(-5.75*x))
		}
	}
	return sum
}

func TestEveryPrintedTermCanBeRecomputed(t *testing.T) {
	for _, args := range [][]string{
		{"C Dm7 G7 Am Fmaj7 C/E Gsus4", "--loop"},
		{"C Dm7 G7 Am Fmaj7 C/E Gsus4", "--voices", "6", "--stillness", "0.9", "--range", "C3-C6"},
		{"F Am C", "--voices", "3", "--from", "36 50 57 79", "--stillness", "0"},
		{"C F G7 C", "--voices", "5", "--loop", "--colours", "2"},
		{"C F Am Gsus4", "--loop", "--stillness", "1"},
	} {
		r := bedd(t, append([]string{"voice", "--json"}, args...)...)
		var p printedPath
		if err := json.Unmarshal([]byte(r.stdout), &p); err != nil {
			t.Fatal(err, r.stderr)
		}
		if !p.Proved || len(p.By.Weights) != 12 {
			t.Fatalf("proved %v, weights %v", p.Proved, p.By.Weights)
		}
		var before *printedStep
		if p.Loop {
			before = &p.Steps[len(p.Steps)-1]
		} else if at := slices.Index(args, "--from"); at >= 0 {
			before = &printedStep{Bass: 36, Upper: []int{50, 57, 79}}
		}
		totals := map[string]float64{}
		for i, s := range p.Steps {
			sum := 0.0
			for term, want := range recompute(&p, before, s) {
				if got := s.Cost[term]; math.Abs(got-want) > 1e-4 { // roughness is kept in single precision
					t.Errorf("%v, step %d, %s: %s is printed as %v, recomputed %v", args, i, s.Chord, term, got, want)
				}
				sum += s.Cost[term]
				totals[term] += s.Cost[term]
			}
			if math.Abs(sum-s.Cost["total"]) > 1e-9 {
				t.Errorf("%v, step %d: the terms sum to %v, the total is %v", args, i, sum, s.Cost["total"])
			}
			totals["total"] += s.Cost["total"]
			before = &p.Steps[i]
		}
		for term, want := range totals {
			if math.Abs(p.Cost[term]-want) > 1e-9 {
				t.Errorf("%v: %s sums to %v, printed %v", args, term, want, p.Cost[term])
			}
		}
	}
}

func TestLadderIsPrintedWithItsPriceOfNesting(t *testing.T) {
	r := bedd(t, "voice", "1 4 6m 2m", "--loop", "--ladder", "3-6", "--json")
	var n struct {
		Proved  bool
		Price   float64
		Ladders []struct {
			Chord string
			Bass  int
			Enter []int
			Thin  int
		}
		Rungs []struct {
			Voices         int
			Steps          []printedStep
			Cost           map[string]float64
			Alone, Nesting float64
			AloneProved    bool `json:"alone_proved"`
		}
	}
	if err := json.Unmarshal([]byte(r.stdout), &n); err != nil {
		t.Fatal(err, r.stderr)
	}
	if !n.Proved || len(n.Rungs) != 4 || len(n.Ladders) != 4 {
		t.Fatalf("%+v", n)
	}
	sum := 0.0
	for i, rung := range n.Rungs {
		if rung.Voices != 3+i || !rung.AloneProved || rung.Nesting < -1e-9 || math.Abs(rung.Cost["total"]-rung.Alone-rung.Nesting) > 1e-9 {
			t.Errorf("%+v", rung)
		}
		alone := bedd(t, "voice", "1 4 6m 2m", "--loop", "--json", "--voices", string(rune('3'+i)))
		var p printedPath
		if err := json.Unmarshal([]byte(alone.stdout), &p); err != nil {
			t.Fatal(err)
		}
		if math.Abs(p.Cost["total"]-rung.Alone) > 1e-9 {
			t.Errorf("%d voices alone cost %v by themselves, %v beside the ladder", rung.Voices, p.Cost["total"], rung.Alone)
		}
		for j, s := range rung.Steps {
			upper := slices.Clone(n.Ladders[j].Enter[:rung.Voices])
			slices.Sort(upper)
			if !slices.Equal(s.Upper, upper) || s.Bass != n.Ladders[j].Bass || s.Chord != n.Ladders[j].Chord {
				t.Errorf("%d voices of %s are %v over %d, the ladder says %v", rung.Voices, s.Chord, s.Upper, s.Bass, n.Ladders[j])
			}
		}
		sum += rung.Cost["total"]
	}
	if math.Abs(sum-n.Price) > 1e-9 {
		t.Errorf("the rungs cost %v, the price is %v", sum, n.Price)
	}
	text := bedd(t, "voice", "1 4 6m 2m", "--loop", "--ladder", "3-6").stdout
	if !strings.Contains(text, "voices  moves  cost") || !strings.Contains(text, "nesting") || strings.Contains(text, "not proved") {
		t.Error(text)
	}
	for flag, want := range map[string]string{
		"3":   "--ladder: \"3\" is not two numbers of voices with a - between them, such as 3-6",
		"6-3": "--ladder: 6-3 does not go up inside 1…7",
		"1-9": "--ladder: 1-9 does not go up inside 1…7",
	} {
		if r := bedd(t, "voice", "C", "--ladder", flag); r.code != 2 || !strings.Contains(r.stderr, want) {
			t.Errorf("--ladder %s: %d, %q", flag, r.code, r.stderr)
		}
	}
	if r := bedd(t, "voice", "C", "--ladder", "3-6", "--voices", "4"); r.code != 2 || !strings.Contains(r.stderr, "--voices and --ladder exclude each other") {
		t.Errorf("%d, %q", r.code, r.stderr)
	}
}

func TestWeightsOfTheCostCanBeSet(t *testing.T) {
	weights := func(args ...string) map[string]float64 {
		var p printedPath
		r := bedd(t, append([]string{"voice", "C F", "--json"}, args...)...)
		if err := json.Unmarshal([]byte(r.stdout), &p); err != nil {
			t.Fatal(err, r.stderr)
		}
		return p.By.Weights
	}
	usual, changed := weights(), weights("--weight", "movement=2,few_held=0")
	usual["movement"], usual["few_held"] = 2, 0
	if !maps.Equal(usual, changed) {
		t.Errorf("%v, want %v", changed, usual)
	}
	if w := weights("--by", "movement", "--weight", "bass_move=3"); w["movement"] != 1 || w["bass_move"] != 3 || w["missing"] != 0 {
		t.Errorf("by movement: %v", w)
	}
	for flag, want := range map[string]string{
		"moves=1":       "--weight: \"moves\" is no term of the cost: use movement, strike, few_held, leap, parallel, bass_move, missing, bare, double, colour, roughness, centre",
		"movement=-0.1": "--weight: the weight of movement, -0.1, is out of range 0…1000",
		"movement=NaN":  "--weight: the weight of movement, NaN, is out of range 0…1000",
	} {
		if r := bedd(t, "voice", "C", "--weight", flag); r.code != 2 || !strings.Contains(r.stderr, want) {
			t.Errorf("--weight %s: %d, %q", flag, r.code, r.stderr)
		}
	}
}

// Rungs that no voicing of a narrow range has are named.
func TestLostRungsAreSaid(t *testing.T) {
	for _, stillness := range []string{"0.6", "1"} {
		args := []string{"voice", "1 4", "--ladder", "1-7", "--range", "C4-A4", "--stillness", stillness}
		var n struct {
			Ladders []struct {
				Enter, Lost []int
				Thin        int
			}
		}
		if err := json.Unmarshal([]byte(bedd(t, append(args, "--json")...).stdout), &n); err != nil {
			t.Fatal(err)
		}
		text := bedd(t, args...).stdout
		for i, l := range n.Ladders {
			if len(l.Lost) == 0 || l.Lost[len(l.Lost)-1] != 7 || len(l.Lost)+len(l.Enter) != 7 || l.Thin != 1 {
				t.Errorf("stillness %s: %+v", stillness, l)
			}
			want := fmt.Sprintf("lost: %s with %s voices, of which none keeps the rules and fits the ladder\n", [2]string{"C", "F"}[i], strings.Trim(fmt.Sprint(l.Lost), "[]"))
			if !strings.Contains(text, want) {
				t.Errorf("%q does not say %q", text, want)
			}
		}
	}
	if text := bedd(t, "voice", "1 4", "--ladder", "3-6").stdout; strings.Contains(text, "lost") {
		t.Error(text)
	}
}

func TestWhatStaysIsSaid(t *testing.T) {
	for args, want := range map[string]string{
		"1 4":             "stays: G3 C4 A4 E5\n",
		"1 5m":            "departs: Gm, over which it lacks the note from outside the key\n",
		"1 3M --loop":     "departs: E, over which it rubs or contradicts\n",
		"1 4 --colours 0": "stays: no one set of notes, for want of colours or of range; every chord keeps what it can, as at stillness 0.99\n",
	} {
		chords, flags, _ := strings.Cut(args, " --")
		line := []string{"voice", chords, "--stillness", "1"}
		if flags != "" {
			line = append(line, strings.Fields("--"+flags)...)
		}
		if text := bedd(t, line...).stdout; !strings.Contains(text, want) {
			t.Errorf("%s: %q does not say %q", args, text, want)
		}
	}
}

// A search that is given up says so, in words and in JSON.
func TestWhatIsNotProvedIsSaid(t *testing.T) {
	args := []string{"voice", "Cmaj7 Am7 Dm7 G7", "--loop", "--voices", "7", "--range", "C1-C7", "--colours", "3"}
	if r := bedd(t, args...); r.code != 0 || !strings.HasSuffix(r.stdout, notProved+"\n") {
		t.Errorf("%d, %q", r.code, r.stdout)
	}
	if r := bedd(t, append(args, "--json")...); !strings.Contains(r.stdout, `"proved":false`) {
		t.Errorf("%d, %q", r.code, r.stdout)
	}
}
