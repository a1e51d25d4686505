package chart

import (
	"bytes"
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

var update = flag.Bool("update", false, "write testdata anew")

func plan(t testing.TB, name string) *gathering.Gathering {
	t.Helper()
	library, err := gathering.OpenLibrary("")
	if err != nil {
		t.Fatal(err)
	}
	g, err := gathering.OpenGathering(name, library)
	if err != nil {
		t.Fatal(err)
	}
	return &g
}

func maker(t testing.TB) *Maker {
	t.Helper()
	m, err := NewMaker(gathering.DefaultRig())
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func mustChart(t testing.TB, m *Maker, g *gathering.Gathering, i int, key *pitch.Key) Chart {
	t.Helper()
	c, err := m.Chart(g, i, key)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func allCharts(t testing.TB, g *gathering.Gathering) (charts []Chart) {
	t.Helper()
	m := maker(t)
	for i := range g.Moments {
		charts = append(charts, mustChart(t, m, g, i, nil))
	}
	return charts
}

// A person reads what changes here.
func TestTextOfTheDemo(t *testing.T) {
	g := plan(t, "winter-lights")
	var b bytes.Buffer
	if err := WriteOrder(&b, g); err != nil {
		t.Fatal(err)
	}
	b.WriteByte('\n')
	if err := WriteText(&b, allCharts(t, g)); err != nil {
		t.Fatal(err)
	}
	const golden = "testdata/winter-lights.txt"
	if *update {
		if err := os.WriteFile(golden, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("the charts have changed: look at them, then run with -update\n%s", b.String())
	}
}

// What a chart says, recomputed from the notes and by the landing search, in every
// key.
func TestChartsInEveryKey(t *testing.T) {
	g, m := plan(t, "winter-lights"), maker(t)
	for i, moment := range g.Moments {
		for _, k := range AllKeys(moment.Bed.Key.Minor) {
			c := mustChart(t, m, g, i, &k)
			by := int(k.Tonic.Class()-moment.Bed.Key.Tonic.Class()+12) % 12
			if (c.Moved+12)%12 != by || c.Moved < -5 || c.Moved > 6 {
				t.Errorf("%s in %v: moved by %d, want %d", moment.For, k, c.Moved, by)
			}
			for _, part := range []struct {
				steps []Step
				plan  []harmony.Chord
			}{{c.Home, moment.Bed.Home}, {c.Away, moment.Bed.Away}} {
				if len(part.steps) != len(part.plan) {
					t.Fatalf("%s in %v: %d chords, want %d", moment.For, k, len(part.steps), len(part.plan))
				}
				for j, s := range part.steps {
					if s.Chord.Degree(c.Key) != part.plan[j].Degree(moment.Bed.Key) || s.Chord.Classes() != part.plan[j].Classes().Transpose(by) {
						t.Errorf("%s in %v: %v where the plan has %v", moment.For, k, s.Chord, part.plan[j])
					}
					before := part.steps[(j+len(part.steps)-1)%len(part.steps)].Voicing
					checkStep(t, &s, before.Notes())
				}
			}
			if next, ok := g.Next(i); ok {
				checkLanding(t, &c, next, by)
			} else if c.Next != nil || len(c.Land) > 0 {
				t.Errorf("%s leads to %v", moment.For, c.Next)
			}
		}
	}
}

// checkStep wants only sounding notes to be held, and all that both voicings have.
func checkStep(t *testing.T, s *Step, before []uint8) {
	t.Helper()
	for n := range uint8(128) {
		both := slices.Contains(before, n) && slices.Contains(s.Voicing.Notes(), n)
		if s.Held.Has(n) != both {
			t.Errorf("%v: note %d held %v, want %v", s.Chord, n, s.Held.Has(n), both)
		}
	}
	if bass := s.Chord.BassClass(); pitch.ClassOf(int(s.Voicing.Bass)) != bass {
		t.Errorf("%v over %d", s.Chord, s.Voicing.Bass)
	}
}

func checkLanding(t *testing.T, c *Chart, next gathering.Song, by int) {
	t.Helper()
	if c.Next.Key.Tonic.Class() != next.Key.Tonic.Class().Up(by) || c.Next.First.Classes() != next.First.Classes().Transpose(by) {
		t.Errorf("%v leads to %v on %v", c.Key, c.Next.Key, c.Next.First)
	}
	want := harmony.Land(c.From, c.Key, c.Next.Key, c.Next.First, c.Moment.Ending)
	var got []harmony.Chord
	last := c.Home[0].Voicing
	for _, s := range c.Land {
		got = append(got, s.Chord)
		checkStep(t, &s, last.Notes())
		last = s.Voicing
	}
	if !slices.Equal(got, want.Chords[:want.N]) {
		t.Errorf("from %v the chart lands by %v, want %v", c.From, got, want.Chords)
	}
	ways := map[harmony.Chord]bool{}
	for _, w := range c.Ways {
		ways[w.From] = true
		r := harmony.Land(w.From, c.Key, c.Next.Key, c.Next.First, c.Moment.Ending)
		if !slices.Equal(w.Chords, r.Chords[:r.N]) {
			t.Errorf("from %v: %v, want %v", w.From, w.Chords, r.Chords)
		}
	}
	for _, s := range slices.Concat(c.Home, c.Away) {
		if !ways[s.Chord] {
			t.Errorf("no way from %v", s.Chord)
		}
	}
	for j, n := range c.Next.Figure {
		if n-next.Figure[j] != c.Moved {
			t.Errorf("the figure is %v, moved by %d from %v", c.Next.Figure, c.Moved, next.Figure)
		}
	}
}

func TestAllKeysAreTwelve(t *testing.T) {
	for _, minor := range []bool{false, true} {
		var seen pitch.Set
		for _, k := range AllKeys(minor) {
			if k.Minor != minor {
				t.Errorf("%v is not the mode", k)
			}
			seen = seen.Add(k.Tonic.Class())
		}
		if seen.Len() != 12 {
			t.Errorf("%d keys", seen.Len())
		}
	}
}

// Piano geometry, common practice: 7 white and 5 black keys an octave, none between
// E and F, B and C.
func TestKeyboardPicture(t *testing.T) {
	c := mustChart(t, maker(t), plan(t, "winter-lights"), 0, nil)
	k := spanOf(c.Home, c.Away, c.Land)
	if k.High-k.Low < 23 {
		t.Errorf("the picture goes from %d to %d", k.Low, k.High)
	}
	picture := k.keyboard(&c.Home[0])
	rect := regexp.MustCompile(`<rect class="(white|black)" x="([0-9.]+)"`)
	xs := map[string][]float64{}
	for _, m := range rect.FindAllStringSubmatch(picture, -1) {
		var x float64
		if _, err := fmt.Sscan(m[2], &x); err != nil {
			t.Fatal(err)
		}
		xs[m[1]] = append(xs[m[1]], x)
	}
	whites, blacks := 0, 0
	for n := k.Low; n <= k.High; n++ {
		if strings.ContainsRune("CDEFGAB", rune(pitch.NoteName(n, pitch.Key{})[0])) && len(pitch.NoteName(n, pitch.Key{})) == 2 {
			whites++
		} else {
			blacks++
		}
	}
	if len(xs["white"]) != whites || len(xs["black"]) != blacks {
		t.Errorf("%d white and %d black keys, want %d and %d", len(xs["white"]), len(xs["black"]), whites, blacks)
	}
	for i, x := range xs["white"] {
		if x != float64(i)*whiteWide {
			t.Errorf("white key %d at %v", i, x)
		}
	}
	notes := c.Home[0].Voicing.N
	marks := strings.Count(picture, `class="held`) + strings.Count(picture, `class="new`)
	if marks != int(notes) {
		t.Errorf("%d marks for %d notes", marks, notes)
	}
	if strings.Count(picture, `class="held`) != c.Home[0].Held.Len() {
		t.Errorf("held marks: %s", picture)
	}
}

func TestAccidentals(t *testing.T) {
	for text, want := range map[string]string{
		"Bb": "B♭", "Bbm7b5/Db": "B♭m7♭5/D♭", "F#m": "F♯m", "b7": "♭7", "C7(b9,#11)": "C7(♭9,♯11)", "Abb": "A♭♭", "sub": "sub", "Cb Ab7": "C♭ A♭7", "m7b5": "m7♭5", "add9": "add9",
	} {
		if got := accidentals(text); got != want {
			t.Errorf("%q becomes %q, want %q", text, got, want)
		}
	}
}

// hostile has titles and words that would break out of the page.
const hostile = `
title: "<script>alert(1)</script> & \"more\""
order:
  - for: "</style><img src=x onerror=alert(1)>"
    cue: "<b>now</b>"
    key: C
    home: 1 4
  - {song: "</section><h1>", key: Eb, sections: {"<i>verse": 1 4}, starts: "Ebb & Ab initio"}
`

func hostilePlan(t testing.TB) *gathering.Gathering {
	t.Helper()
	library, err := gathering.OpenLibrary("")
	if err != nil {
		t.Fatal(err)
	}
	g, err := gathering.ReadGathering("x.yaml", []byte(hostile), library)
	if err != nil {
		t.Fatal(err)
	}
	return &g
}

func TestPagesAreWholeAndLoadNothing(t *testing.T) {
	for name, g := range map[string]*gathering.Gathering{"demo": plan(t, "winter-lights"), "hostile": hostilePlan(t)} {
		var b bytes.Buffer
		if err := WriteHTML(&b, g.Title, g, allCharts(t, g)); err != nil {
			t.Fatal(err)
		}
		text := b.String()
		for _, bad := range []string{"<script", "http:", "https:", "<img", "<b>now", "<i>verse", "@import", "url("} {
			if strings.Contains(text, bad) {
				t.Errorf("%s: the page has %q", name, bad)
			}
		}
		if got := strings.Count(text, `<section class="sheet`); got != 1+len(g.Moments) {
			t.Errorf("%s: %d sheets", name, got)
		}
		// Every element is closed, and in order.
		d := xml.NewDecoder(strings.NewReader(strings.TrimPrefix(text, "<!DOCTYPE html>")))
		d.Entity, d.Strict = xml.HTMLEntity, true
		d.AutoClose = []string{"meta"}
		for {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
		}
		if name == "hostile" && !strings.Contains(text, "Ebb &amp; Ab initio") {
			t.Error("words are taken for chords")
		}
	}
}

func TestRangeWithoutRoomIsTold(t *testing.T) {
	rig := gathering.DefaultRig()
	v := &rig.Bed.Voicing
	v.Low, v.High, v.Centre, v.Thin, v.Voices, v.Full = 60, 62, 61, 3, 3, 3
	m, err := NewMaker(rig)
	if err != nil {
		t.Fatal(err)
	}
	_, err = m.Chart(plan(t, "winter-lights"), 0, nil)
	var narrow *voicing.RangeError
	if !errors.As(err, &narrow) || !strings.HasPrefix(err.Error(), "the last words of Maud Terrick's talk: ") {
		t.Errorf("got %v", err)
	}
}

func BenchmarkChart(b *testing.B) {
	g, m := plan(b, "winter-lights"), maker(b)
	for b.Loop() {
		if _, err := m.Chart(g, 3, nil); err != nil {
			b.Fatal(err)
		}
	}
}
