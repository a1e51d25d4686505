package voicing

import (
	"math"
	"testing"

	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"pgregory.net/rapid"
)

// pricing prices voicings by the formulas of the package documentation, worked
// out anew from notes, chord and key: nothing of the engine's own pricing is used.
type pricing struct {
	s     Settings
	key   pitch.Key
	rough map[[2]uint8]float64
}

func newPricing(s Settings, key pitch.Key) *pricing {
	return &pricing{s, key, map[[2]uint8]float64{}}
}

// roughness as documented: six harmonics each way, the fit of Sethares' program,
// the measured levels of the pad in dB between the Cs.
func (p *pricing) roughness(low, high uint8) float64 {
	if r, ok := p.rough[[2]uint8{low, high}]; ok {
		return r
	}
	levels := [][6]float64{
		{1, -7, -12, -20, -21, -28}, {3, -11, -15, -25, -28, -34}, {0, -14, -21, -31, -35, -41},
		{-2, -19, -28, -38, -42, -49}, {-6, -26, -35, -45, -50, -57},
	}
	amplitude := func(note uint8, harmonic int) float64 {
		octaves := math.Max(0, math.Min(4, (float64(note)-36)/12))
		below := math.Floor(octaves)
		above := math.Min(4, below+1)
		dB := levels[int(below)][harmonic] + (octaves-below)*(levels[int(above)][harmonic]-levels[int(below)][harmonic])
		return math.Pow(10, dB/20)
	}
	sum := 0.0
	for i := range 6 {
		for j := range 6 {
			f := 440 * math.Pow(2, (float64(low)-69)/12) * float64(i+1)
			g := 440 * math.Pow(2, (float64(high)-69)/12) * float64(j+1)
			x := 0.24 * math.Abs(f-g) / (0.0207*math.Min(f, g) + 18.96)
			sum += 5 * math.Min(amplitude(low, i), amplitude(high, j)) * (math.Exp(-3.51*x) - math.Exp(-5.75*x))
		}
	}
	p.rough[[2]uint8{low, high}] = sum
	return sum
}

// own is what v costs by itself over chord c.
func (p *pricing) own(c harmony.Chord, v Voicing) float64 {
	root, bass := int(c.Root.Class()), int(c.BassClass())
	count := map[int]int{}
	for _, n := range v.Notes() {
		count[int(n)%12]++
	}
	var missing, bare, double, colour, rough, sum float64
	for k := range 12 {
		switch here := pitch.Class(k); {
		case k == bass || count[k] > 0:
		case c.Identity().Has(here):
			missing++
		case c.Classes().Has(here):
			bare++
		}
	}
	if root == int(p.key.Tonic.Class()) {
		missing *= 2
	}
	has := func(semitones int) bool { return c.Classes().Has(pitch.Class((root + semitones) % 12)) }
	diminished := has(3) && has(6) && !has(7)
	for k, n := range count {
		if !c.Classes().Has(pitch.Class(k)) {
			colour += float64(n)
		}
		repeats := n - 1
		if k == bass && bass != root {
			repeats = n
		}
		each := 2
		switch above := (k - root + 12) % 12; {
		case !diminished && (above == 0 || above == 7 && c.Classes().Has(pitch.Class(k)) && k != foreign(c)):
			each = 1
		case diminished && above == 3:
			each = 1
		}
		double += float64(each * repeats)
	}
	notes := append([]uint8{}, v.Notes()...)
	if v.Bass != NoBass {
		notes = append([]uint8{v.Bass}, notes...)
	}
	for i, n := range notes {
		for _, m := range notes[:i] {
			if p.s.Weights.Roughness > 0 {
				rough += p.roughness(m, n)
			}
		}
	}
	for _, n := range v.Notes() {
		sum += float64(n)
	}
	w := p.s.Weights
	return w.Missing*missing + w.Bare*bare + w.Double*double + w.Colour*colour + w.Roughness*rough +
		w.Centre*math.Abs(sum/float64(v.N)-p.s.Centre)
}

// foreign gives the class of a slash bass that is no tone of the chord, or -1.
func foreign(c harmony.Chord) int {
	for _, tone := range c.Tones(nil) {
		if (int(c.Root.Class())+int(tone.Interval.Semitones))%12 == int(c.BassClass()) {
			return -1
		}
	}
	return int(c.BassClass())
}

// step is what going from a to b costs besides b's own cost.
func (p *pricing) step(a, b Voicing) float64 {
	struck, held := 0.0, map[int]bool{}
	for _, n := range b.Notes() {
		sounds := false
		for _, m := range a.Notes() {
			sounds = sounds || m == n
		}
		if sounds {
			held[int(n)%12] = true
		} else {
			struck++
		}
	}
	few := 0.0
	if a.N >= 3 && b.N >= 3 {
		few = math.Max(0, float64(2-len(held)))
	}
	top, next := int(a.Upper[a.N-1]), int(b.Upper[b.N-1])
	leap := math.Max(0, math.Abs(float64(next-top))-5)
	parallel, bassMove := 0.0, 0.0
	if a.Bass != NoBass && b.Bass != NoBass {
		up := int(b.Bass) - int(a.Bass)
		bassMove = math.Abs(float64(up))
		if up*(next-top) > 0 && (top-int(a.Bass))%12 == 0 && (next-int(b.Bass))%12 == 0 {
			parallel = 1
		}
	}
	w, k := p.s.Weights, 1/(1-math.Min(p.s.Stillness, 0.99))
	return k*(w.Movement*leastPairing(a.Notes(), b.Notes())+w.Strike*struck+w.FewHeld*few+w.Leap*leap+w.Parallel*parallel) +
		w.BassMove*bassMove
}

// leastPairing pairs every note of the shorter list with one of the longer, by
// trying all pairings: the least for each set of notes taken.
func leastPairing(a, b []uint8) float64 {
	if len(a) > len(b) {
		a, b = b, a
	}
	var room [1 << MaxUpper]int
	least := room[:1<<len(b)]
	for taken := 1; taken < len(least); taken++ {
		least[taken] = 1 << 20
		i := -1
		for j := range b {
			i += taken >> j & 1
		}
		if i >= len(a) {
			continue
		}
		for j := range b {
			if taken>>j&1 != 0 {
				d := int(a[i]) - int(b[j])
				least[taken] = min(least[taken], least[taken&^(1<<j)]+max(d, -d))
			}
		}
	}
	sum := 1 << 20
	for taken, d := range least {
		n := 0
		for j := range b {
			n += taken >> j & 1
		}
		if n == len(a) {
			sum = min(sum, d)
		}
	}
	return float64(sum)
}

// alike reports whether two prices are equal but for the single precision in
// which the engine keeps roughness.
func alike(a, b float64) bool { return math.Abs(a-b) <= 1e-5*(1+math.Abs(b)) }

// The engine's own pricing, term by term of random weights, against the one above.
func TestPricesAreThoseOfTheFormulas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawInstance(t)
		e, err := New(in.settings)
		if err != nil {
			t.Fatal(err)
		}
		p := newPricing(in.settings, in.key)
		all := bruteVoicings(in.settings, in.chords[0], in.key)
		if len(all) == 0 {
			return
		}
		tones := tonalityOf(in.chords[0], in.key, in.settings.Plain)
		some := rapid.SampledFrom(all)
		for range 10 {
			a, b := candidateOf(some.Draw(t, "a")), candidateOf(some.Draw(t, "b"))
			if got, want := e.own(&a.Voicing, &tones).Total, p.own(in.chords[0], a.Voicing); !alike(got, want) {
				t.Fatalf("%s as %v costs %v, by the formulas %v", in.chords[0], a.Voicing, got, want)
			}
			if got, want := e.step(&a, &b).Total, p.step(a.Voicing, b.Voicing); !alike(got, want) {
				t.Fatalf("%v to %v costs %v, by the formulas %v", a.Voicing, b.Voicing, got, want)
			}
		}
	})
}
