package harmony

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bedd/internal/pitch"
)

// spelled writes the chord's tones by name.
func (c Chord) spelled() string {
	var words []string
	for _, t := range c.Tones(nil) {
		words = append(words, c.Root.Up(t.Interval).String())
	}
	return strings.Join(words, " ")
}

// Spellings by the letters a chord is built on, common practice; F#m7b5 also
// as an independent library (tonal) spells it.
func TestTonesAreSpelled(t *testing.T) {
	for symbol, want := range map[string]string{
		"C":         "C E G",
		"Ebm":       "Eb Gb Bb",
		"F#m7b5":    "F# A C E",
		"Bdim7":     "B D F Ab",
		"Cdim7":     "C Eb Gb Bbb",
		"Abmaj7":    "Ab C Eb G",
		"Eaug":      "E G# B#",
		"G7sus4":    "G C D F",
		"Dsus2":     "D E A",
		"A6":        "A C# E F#",
		"C9":        "C E G Bb D",
		"C7#9":      "C E G Bb D#",
		"Db7b9":     "Db F Ab Cb Ebb",
		"Dm11":      "D F A C E G",
		"F13":       "F A C Eb G D",
		"Gmaj7#11":  "G B D F# C#",
		"C7b13":     "C E Bb Ab",
		"C/E":       "C E G",
		"Bb5":       "Bb F",
		"C7b5#5":    "C E Gb G# Bb",
		"C69":       "C E G A D",
		"Csus2sus4": "C D F G",
	} {
		if got := mustChord(t, symbol).spelled(); got != want {
			t.Errorf("%s is %s, want %s", symbol, got, want)
		}
	}
}

func TestTriadsUseLettersAThirdApart(t *testing.T) {
	for _, row := range majorTriads {
		for _, symbol := range strings.Fields(row) {
			tones := mustChord(t, symbol).Tones(nil)
			if len(tones) != 3 || tones[0].Role != RootTone || tones[1].Role != Third || tones[2].Role != Fifth {
				t.Fatalf("%s has tones %v", symbol, tones)
			}
			if tones[1].Interval.Steps != 2 || tones[2].Interval.Steps != 4 {
				t.Errorf("%s is spelled %v", symbol, tones)
			}
		}
	}
}

func TestRoles(t *testing.T) {
	for symbol, want := range map[string]string{
		"C":       "root third fifth",
		"Csus4":   "root suspension fifth",
		"C6":      "root third fifth sixth",
		"Cdim7":   "root third fifth seventh",
		"C9sus4":  "root suspension fifth seventh ninth",
		"Cm11":    "root third fifth seventh ninth eleventh",
		"C7b9b13": "root third seventh ninth thirteenth",
	} {
		var got []string
		for _, tone := range mustChord(t, symbol).Tones(nil) {
			got = append(got, tone.Role.String())
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%s has %v, want %s", symbol, got, want)
		}
	}
	if got := Role(200).String(); got != "no role" {
		t.Errorf("Role(200) is %q", got)
	}
}

// Common practice, no source: which tones a player keeps when there are few
// voices.
func TestIdentityAndAltered(t *testing.T) {
	for _, tt := range []struct {
		symbol            string
		identity, altered pitch.Set
	}{
		{"C", pitch.SetOf(4), 0},
		{"Cm", pitch.SetOf(3), 0},
		{"C5", 0, 0},
		{"Csus4", pitch.SetOf(5), 0},
		{"Csus2", pitch.SetOf(2), 0},
		{"Cdim", pitch.SetOf(3, 6), pitch.SetOf(6)},
		{"Caug", pitch.SetOf(4, 8), pitch.SetOf(8)},
		{"C6", pitch.SetOf(4, 9), 0},
		{"C69", pitch.SetOf(2, 4, 9), 0},
		{"C7", pitch.SetOf(4, 10), 0},
		{"Cmaj7", pitch.SetOf(4, 11), 0},
		{"Cm7b5", pitch.SetOf(3, 6, 10), pitch.SetOf(6)},
		{"Cadd9", pitch.SetOf(2, 4), 0},
		{"C9", pitch.SetOf(2, 4, 10), 0},
		{"C11", pitch.SetOf(5, 10), 0},
		{"Cm11", pitch.SetOf(3, 5, 10), 0},
		{"C13", pitch.SetOf(4, 9, 10), 0},
		{"C7b9", pitch.SetOf(1, 4, 10), pitch.SetOf(1)},
		{"C13#11", pitch.SetOf(4, 6, 9, 10), pitch.SetOf(6)},
		{"C/E", pitch.SetOf(4), 0},
		{"C/D", pitch.SetOf(4), 0},
		{"G7", pitch.SetOf(11, 5), 0},
		{"E7b9", pitch.SetOf(8, 2, 5), pitch.SetOf(5)},
	} {
		c := mustChord(t, tt.symbol)
		if got := c.Identity(); got != tt.identity {
			t.Errorf("identity of %s = %v, want %v", tt.symbol, got, tt.identity)
		}
		if got := c.Altered(); got != tt.altered {
			t.Errorf("altered tones of %s = %v, want %v", tt.symbol, got, tt.altered)
		}
	}
}

func TestZeroChordSoundsNothing(t *testing.T) {
	var c Chord
	if !c.IsZero() || c.Symbol() != "" || c.Classes() != 0 || c.Identity() != 0 || len(c.Tones(nil)) != 0 {
		t.Errorf("the zero chord is %q with %v", c.Symbol(), c.Classes())
	}
	if mustChord(t, "Cno3no5").IsZero() {
		t.Error("a bare C counts as the zero chord")
	}
}

func TestSoundsLike(t *testing.T) {
	for _, tt := range []struct {
		a, b string
		want bool
	}{
		{"C#", "Db", true}, {"C6", "Am7", false}, {"C6/A", "Am7", true}, {"C", "C/E", false}, {"C/G", "C", false}, {"C11", "C9sus4", true}, {"C", "Cm", false},
	} {
		if got := mustChord(t, tt.a).SoundsLike(mustChord(t, tt.b)); got != tt.want {
			t.Errorf("%s sounds like %s: %v, want %v", tt.a, tt.b, got, tt.want)
		}
	}
}

func TestTranspose(t *testing.T) {
	for _, tt := range []struct{ symbol, from, to, want string }{
		{"Bb", "F", "G", "C"},
		{"F#m7b5", "G", "F", "Em7b5"},
		{"C/E", "C", "Eb", "Eb/G"},
		{"D/F#", "G", "Ab", "Eb/G"},
		{"Dm7", "C", "Gb", "Abm7"},
		{"Dm7", "C", "F#", "G#m7"},
		{"Am", "C", "C", "Am"},
		{"Am", "Am", "C#m", "C#m"},
		{"G#dim", "Am", "Ebm", "Ddim"},
		{"B#", "C", "C#", "B##"},
		{"B##", "C", "C#", "C##"}, // not B###
		{"B##/D##", "C", "C#", "C##/E#"},
		{"Fbb/Abb", "C", "Cb", "Ebb/Gb"}, // not Fbbb/Abbb
	} {
		got := mustChord(t, tt.symbol).Transpose(mustKey(t, tt.from), mustKey(t, tt.to)).Symbol()
		if got != tt.want {
			t.Errorf("%s from %s to %s = %s, want %s", tt.symbol, tt.from, tt.to, got, tt.want)
		}
	}
}

func TestTransposeMovesEveryClassAlike(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := chords().Draw(t, "chord")
		from, to := keys().Draw(t, "from"), keys().Draw(t, "to")
		up := int(to.Tonic.Class() - from.Tonic.Class())
		got := c.Transpose(from, to)
		if got.Classes() != c.Classes().Transpose(up) || got.Identity() != c.Identity().Transpose(up) || got.BassClass() != c.BassClass().Up(up) {
			t.Fatalf("%v from %v to %v = %v", c, from, to, got)
		}
		if again, err := ParseChord(got.Symbol()); err != nil || again != got {
			t.Fatalf("%v reads as %v, %v", got, again, err)
		}
		if c.BassClass() != c.Root.Class() && !got.Slash() {
			t.Fatalf("%v from %v to %v = %v", c, from, to, got)
		}
	})
}

// Parallel, leading-tone exchange and relative: Cohn 1997, Journal of Music
// Theory 41. Each keeps two tones.
func TestNeighbouringTriadsShareTwoTones(t *testing.T) {
	for _, pair := range []string{"C Cm", "C Em", "C Am", "Am A", "Am F", "Am C"} {
		a, b, _ := strings.Cut(pair, " ")
		if got := mustChord(t, a).Classes().Intersect(mustChord(t, b).Classes()).Len(); got != 2 {
			t.Errorf("%s and %s share %d tones, want 2", a, b, got)
		}
	}
	// Cycles of Cohn's operations, each step sharing two tones.
	for _, cycle := range []string{"C Cm Ab Abm E Em C", "C Cm Eb Ebm F# F#m A Am C"} {
		row := strings.Fields(cycle)
		for i := range row[1:] {
			if got := mustChord(t, row[i]).Classes().Intersect(mustChord(t, row[i+1]).Classes()).Len(); got != 2 {
				t.Errorf("%s and %s share %d tones, want 2", row[i], row[i+1], got)
			}
		}
	}
}

// Common tones between the triads of a major key: roots a third apart keep
// two, a fourth or fifth one, a step none.
func TestDiatonicTriadsShareTones(t *testing.T) {
	for _, row := range majorTriads {
		k := mustKey(t, strings.Fields(row)[0])
		for a := 1; a <= 7; a++ {
			for b := 1; b <= 7; b++ {
				want := [7]int{3, 0, 2, 1, 1, 2, 0}[(b-a+7)%7]
				if got := Diatonic(k, a).Classes().Intersect(Diatonic(k, b).Classes()).Len(); got != want {
					t.Errorf("degrees %d and %d of %v share %d tones, want %d", a, b, k, got, want)
				}
			}
		}
	}
}

func TestChordArithmeticDoesNotAllocate(t *testing.T) {
	c, first := mustChord(t, "F#m7b5/A"), mustChord(t, "Eb")
	from, to := mustKey(t, "E"), mustKey(t, "Eb")
	tones := make([]Tone, 0, 12)
	var sum int
	n := testing.AllocsPerRun(1000, func() {
		tones = c.Tones(tones[:0])
		sum += len(tones) + c.Classes().Union(c.Identity()).Union(c.Altered()).Len()
		moved := c.Transpose(from, to)
		sum += Land(moved, from, to, first, DominantEnding).N
		sum += int(Diatonic(to, 4).BassClass())
	})
	if n != 0 {
		t.Errorf("chord arithmetic allocates %v times, want 0", n)
	}
}
