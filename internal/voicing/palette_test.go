package voicing

import (
	"errors"
	"testing"

	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"pgregory.net/rapid"
)

func TestParsePalette(t *testing.T) {
	for s, want := range map[string]Palette{
		"any": AnyColour, "plain": 0, "9": AddNinth, "add 2": 0xFF, "add2": AddNinth, "9 6": AddNinth | AddSixth,
		"2,11": AddNinth | AddEleventh, "sus 7": Suspend | AddSeventh, "open": OpenFifths, "any open": AnyColour | OpenFifths,
		"13, 4": AddSixth | AddEleventh, "9 11 6 7": AnyColour,
	} {
		if got, err := ParsePalette(s); (err != nil) != (want == 0xFF) || err == nil && got != want {
			t.Errorf("ParsePalette(%q) = %v, %v, want %v", s, got, err, want)
		}
	}
	for s, want := range map[string]string{
		"":         "no colour is named: use any, plain, or some of 9, 11, 6, 7, sus, open",
		"b9":       `colour "b9" is not known: use any, plain, or some of 9, 11, 6, 7, sus, open`,
		"plain 9":  `plain stands alone, not beside other colours: "plain 9"`,
		"9 purple": `colour "purple" is not known: use any, plain, or some of 9, 11, 6, 7, sus, open`,
	} {
		if _, err := ParsePalette(s); err == nil || err.Error() != want {
			t.Errorf("ParsePalette(%q) says %v, want %q", s, err, want)
		}
	}
	for p := range Palette(1 << 6) {
		if got, err := ParsePalette(p.String()); err != nil || got != p {
			t.Errorf("%q is read back as %v, %v", p.String(), got, err)
		}
	}
}

func TestParsePedalPoint(t *testing.T) {
	for p := range PedalPoint(3) {
		if got, err := ParsePedalPoint(p.String()); err != nil || got != p {
			t.Errorf("%q is read back as %v, %v", p.String(), got, err)
		}
	}
	want := `pedal point "fifth" is not known: use none, tonic or dominant`
	if _, err := ParsePedalPoint("fifth"); err == nil || err.Error() != want {
		t.Errorf("ParsePedalPoint says %v, want %q", err, want)
	}
}

func FuzzParsePalette(f *testing.F) {
	for _, s := range []string{"any", "plain", "9 6", "2,,4", "sus open", "", " ", "é"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, err := ParsePalette(s)
		if err != nil {
			return
		}
		if again, err := ParsePalette(p.String()); err != nil || again != p {
			t.Errorf("%q is %v, which is read back as %v, %v", s, p, again, err)
		}
	})
}

// drawSettings gives settings with any palette, pedal point and stillness.
func drawSettings(t *rapid.T) Settings {
	s := DefaultSettings()
	s.Stillness = rapid.SampledFrom([]float64{0, 0.5, 0.6, 1}).Draw(t, "stillness")
	s.Palette = rapid.Map(rapid.IntRange(0, 63), func(i int) Palette { return Palette(i) }).Draw(t, "palette")
	s.PedalPoint = rapid.SampledFrom([]PedalPoint{NoPedalPoint, TonicPedal, DominantPedal}).Draw(t, "pedal point")
	s.NoBass = rapid.Bool().Draw(t, "no bass")
	s.Low = rapid.Uint8Range(36, 57).Draw(t, "low")
	s.High = s.Low + rapid.Uint8Range(14, 30).Draw(t, "span")
	s.Centre = float64(s.Low) + 12
	return s
}

// sounded is a voicing that an engine gave to a chord.
type sounded struct {
	chord   harmony.Chord
	voicing Voicing
}

// everyRung gives what Path, Pair and Next give to some chords, at every density.
func everyRung(t *rapid.T, s Settings, key pitch.Key) (all []sounded) {
	e, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	draw := func(label string) (list []harmony.Chord) {
		for range rapid.IntRange(1, 3).Draw(t, label) {
			c, err := harmony.ParseChord(rapid.SampledFrom(symbols).Draw(t, "chord"))
			if err != nil {
				t.Fatal(err)
			}
			list = append(list, c.Transpose(pitch.Key{}, key))
		}
		return list
	}
	home, away := draw("home"), draw("away")
	var tooSmall *RangeError
	p, err := e.Path(home, key, false, nil)
	if err != nil && !errors.As(err, &tooSmall) {
		t.Fatal(err)
	}
	for _, step := range p.Steps {
		all = append(all, sounded{step.Chord, step.Voicing})
	}
	h, a, err := e.Pair(home, away, key, nil, 0, nil, nil)
	if err != nil {
		if !errors.As(err, &tooSmall) {
			t.Fatal(err)
		}
		return all
	}
	next, err := e.Next(away[0], key, &h[0])
	if err != nil {
		t.Fatal(err)
	}
	chords := append(append(home, away...), away[0])
	for i, l := range append(append(h, a...), next) {
		for r := int(l.Low); r <= int(l.High); r++ {
			all = append(all, sounded{chords[i], l.Rung(r)})
		}
	}
	return all
}

func TestEveryRungKeepsToPaletteAndPedalPoint(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSettings(t)
		key := cMajor.Transpose(rapid.IntRange(0, 11).Draw(t, "key"))
		for _, v := range everyRung(t, s, key) {
			keepsToPalette(t, s, key, v)
		}
	})
}

func keepsToPalette(t *rapid.T, s Settings, key pitch.Key, v sounded) {
	c, root := v.chord, v.chord.Root.Class()
	bass := c.BassClass()
	switch s.PedalPoint {
	case TonicPedal:
		bass = key.Tonic.Class()
	case DominantPedal:
		bass = key.Tonic.Class().Up(7)
	}
	if v.voicing.Bass != NoBass && class(v.voicing.Bass) != bass {
		t.Fatalf("%s over bass note %d", c.Symbol(), v.voicing.Bass)
	}
	flatNine := c.Altered().Has(bass.Up(1)) && root == bass
	third, fifth := root.Up(4), c.Classes().Has(root.Up(7))
	if c.Classes().Has(root.Up(3)) {
		third = root.Up(3)
	}
	hasThird := c.Identity().Has(third) && third != bass && fifth
	for _, n := range v.voicing.Notes() {
		k := class(n)
		if s.PedalPoint != NoPedalPoint && k == bass.Up(1) && !flatNine {
			t.Fatalf("%s over %d: note %d is a minor ninth above the pedal point", c.Symbol(), bass, n)
		}
		if s.Palette&OpenFifths != 0 && hasThird && k == third {
			t.Fatalf("%s: open fifths have the third %d", c.Symbol(), n)
		}
		if c.Classes().Add(bass).Has(k) {
			continue
		}
		above := int(k-root+12) % 12
		word := map[int]Palette{2: AddNinth, 5: AddEleventh, 6: AddEleventh, 8: AddSixth, 9: AddSixth, 10: AddSeventh, 11: AddSeventh}[above]
		suspended := s.Palette&Suspend != 0 && hasThird && (above == 5 || above == 2)
		if s.Palette&word == 0 && !suspended {
			t.Fatalf("%s: note %d is not in the palette %v", c.Symbol(), n, s.Palette)
		}
	}
}

func TestOpenFifthsAreRootAndFifth(t *testing.T) {
	e := engine(t, func(s *Settings) { s.Palette = OpenFifths })
	p, err := e.Path(chords(t, cMajor, "1 4 6m 2m"), cMajor, true, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range p.Steps {
		root := s.Chord.Root.Class()
		if got := s.Voicing.Classes(); got != pitch.SetOf(root, root.Up(7)) || s.Missing != 0 {
			t.Errorf("%s has %v, missing %v", s.Chord.Symbol(), got, s.Missing)
		}
	}
}

// What an identity tone would do a minor ninth above the pedal is left out and
// said to be missing: the flat sixth over the dominant.
func TestPedalPointLeavesOutWhatRubs(t *testing.T) {
	e := engine(t, func(s *Settings) { s.PedalPoint, s.Stillness = DominantPedal, 0 })
	p, err := e.Path(chords(t, cMajor, "4m 1 5"), cMajor, false, nil)
	if err != nil {
		t.Fatal(err)
	}
	want := []pitch.Set{pitch.SetOf(8), 0, 0} // the Ab of Fm
	for i, s := range p.Steps {
		if s.Missing != want[i] || class(s.Voicing.Bass) != 7 {
			t.Errorf("%s over %d: missing %v, want %v", s.Chord.Symbol(), s.Voicing.Bass, s.Missing, want[i])
		}
	}
	for i := 1; i < len(p.Steps); i++ {
		if p.Steps[i].Voicing.Bass != p.Steps[0].Voicing.Bass {
			t.Errorf("the pedal point moves from %d to %d", p.Steps[0].Voicing.Bass, p.Steps[i].Voicing.Bass)
		}
	}
}
