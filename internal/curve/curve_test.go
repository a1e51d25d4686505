package curve

import (
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"bedd/internal/dynamics"
	"bedd/internal/gathering"
	"bedd/internal/midiio"
	"bedd/internal/midiio/readback"
	"bedd/internal/session"

	"pgregory.net/rapid"
)

func rigOf(t testing.TB, name string) gathering.Rig {
	t.Helper()
	rig, err := gathering.OpenRig(name)
	if err != nil {
		t.Fatal(err)
	}
	return rig
}

func winterLights(t testing.TB) *gathering.Gathering {
	t.Helper()
	library, noLibrary := gathering.OpenLibrary("")
	g, err := gathering.OpenGathering("winter-lights", library)
	if err := errors.Join(noLibrary, err); err != nil {
		t.Fatal(err)
	}
	return &g
}

// draw performs and draws.
func draw(t testing.TB, rig gathering.Rig, g *gathering.Gathering, f *midiio.File) (svg string, take *session.Take) {
	t.Helper()
	c := New(rig)
	take, refused, end, err := session.Perform(rig, g.BedMoments(), f, c.See)
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	if err := c.Write(&out, Run{Title: g.Title, Source: "a file", Take: take, Cues: take.Report(session.Cues(f), end, refused).Cues, End: end,
		Moments: func(i int) string { return g.Moments[i].For }}); err != nil {
		t.Fatal(err)
	}
	return out.String(), take
}

func demo(t testing.TB) *midiio.File {
	t.Helper()
	f, err := midiio.ReadFile("../../testdata/winter-lights.mid")
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// is reports whether one of some heights is the wanted one, to the tenth of a
// unit that coordinates are written in.
func is(ys []float64, want float64) bool {
	return slices.ContainsFunc(ys, func(y float64) bool { return math.Abs(y-want) < 0.11 })
}

// Every level in the MIDI file, as python3-mido reads it, stands in the drawing
// at its time, by the law of the General MIDI 1 Developer Guidelines, and goes on
// until the next.
func TestLevelsAreThoseOfTheFile(t *testing.T) {
	f := demo(t)
	svg, take := draw(t, rigOf(t, "saltmere"), winterLights(t), f)
	p := parsed(t, svg)
	path := filepath.Join(t.TempDir(), "out.mid")
	if err := midiio.WriteFile(path, take.File(session.ClockOf(f), winterLights(t).BedMoments()[0].Key)); err != nil {
		t.Fatal(err)
	}
	yOff, y0 := p.scale(t, "level, dB", "off", "0")
	x, tempo, compared := p.xOf(t), f.Tempo(), 0
	for _, track := range readback.Read(t, path).Tracks {
		class, ok := strings.CutPrefix(track.Name, "bed ")
		if !ok {
			continue
		}
		lines, before := p.lines(class), -1.0
		for _, e := range track.Events {
			if len(e.Data) != 3 || e.Data[0]&0xF0 != 0xB0 || e.Data[1] != 11 {
				continue
			}
			db := math.Max(-40, 40*math.Log10(float64(e.Data[2])/127))
			want, at := yOff+(y0-yOff)*(db+40)/40, x(tempo.Time(e.Tick))
			if ys := heights(lines, at); !is(ys, want) || before >= 0 && !is(ys, before) {
				t.Errorf("%s at %v: controller 11 goes to %d, which is %.1f, from %.1f; drawn are %.1f", class, tempo.Time(e.Tick), e.Data[2], want, before, ys)
			}
			before = want
			compared++
		}
	}
	if compared < 300 {
		t.Errorf("only %d levels were compared", compared)
	}
}

// At each chord the drawn intensity, its source and the number of voices are what
// the bed's view was then; the pedal is the file's controller 11, and the ticks
// are the player's strikes.
func TestDrawingShowsWhatTheBedWasLike(t *testing.T) {
	rig, f := rigOf(t, "saltmere"), demo(t)
	svg, take := draw(t, rig, winterLights(t), f)
	p := parsed(t, svg)
	x := p.xOf(t)
	yLow, yHigh := p.scale(t, "intensity", "0.00", "1.00")
	yThin, yFull := p.scale(t, "voices", "3", "6")
	for _, e := range take.Entered {
		if want := yLow + (yHigh-yLow)*e.View.Intensity; !is(heights(p.lines("from-"+e.View.Source.String()), x(e.At)), want) {
			t.Errorf("at %v intensity %.2f from %v is not drawn", e.At, e.View.Intensity, e.View.Source)
		}
		if want := yThin + (yFull-yThin)*float64(e.View.Density-3)/3; !is(heights(p.lines("voices"), x(e.At)), want) {
			t.Errorf("at %v %d voices are not drawn", e.At, e.View.Density)
		}
		if !slices.Contains(p.texts, e.View.Chord.Symbol()) {
			t.Errorf("there is no %v", e.View.Chord)
		}
	}
	if stay := p.lines("from-stay"); len(stay) != 1 || math.Abs(stay[0][0][0]-x(26*time.Second)) > 0.5 || math.Abs(stay[0][len(stay[0])-1][0]-x(28500*time.Millisecond)) > 0.5 {
		t.Errorf("stay is drawn as %v, want it from 0:26 to 0:28.5", stay)
	}
	ticks := p.lines("strikes")[0]
	yNone, strikes, moved := ticks[0][1], 0, 0
	for _, c := range session.Cues(f) {
		switch d := c.Data; {
		case len(d) == 3 && d[0] == 0x90 && d[2] > 0:
			strikes++
			tallest := slices.MinFunc(heights([][][2]float64{ticks}, x(c.At)), func(a, b float64) int { return int(1000 * (a - b)) })
			if tallest > yNone-26*float64(d[2])/127+0.11 {
				t.Errorf("a strike of %d at %v is drawn %.1f high", d[2], c.At, yNone-tallest)
			}
		case len(d) == 3 && d[0] == 0xB0 && d[1] == 11:
			moved++
			position := min(max((float64(d[2])/127-0.03)/0.94, 0), 1) // a dead zone of 3 % at each end
			if !is(heights(p.lines("pedal"), x(c.At)), yLow+(yHigh-yLow)*position) {
				t.Errorf("the pedal at %.2f, %v, is not drawn", position, c.At)
			}
		}
	}
	if strikes < 40 || moved < 40 {
		t.Errorf("%d strikes and %d positions compared", strikes, moved)
	}
	for _, want := range []string{"bring-in", "swap", "stay on", "(stay is on)", "out-now", "the collection for the lifeboat shed", "“… nobody sat at home.”"} {
		if !slices.Contains(p.texts, want) {
			t.Errorf("%q is not written", want)
		}
	}
}

// Who cannot see the drawing is told what it shows.
func TestDrawingIsDescribed(t *testing.T) {
	svg, _ := draw(t, rigOf(t, "saltmere"), winterLights(t), demo(t))
	p := parsed(t, svg)
	if root := p.elements[0]; root.attr["role"] != "img" || root.attr["aria-labelledby"] != "title desc" {
		t.Errorf("the svg element has %v", root.attr)
	}
	if p.titles["title"] != "Winter Lights in the net loft" {
		t.Errorf("its title is %q", p.titles["title"])
	}
	for _, want := range []string{"a file, 0:54.5 (minutes:seconds): intensity 0.1", "to 6 voices, warm up to −", "The intensity comes from: 0:04 foot; 0:26 stay; 0:28.5 foot",
		"Chords: 0:04 Eb at intensity 0.14 with 3 voices; 0:11 Ab"} {
		if !strings.Contains(p.titles["desc"], want) {
			t.Errorf("it is described as %q, without %q", p.titles["desc"], want)
		}
	}
}

// performance makes a file of one tick a millisecond.
func performance(end int64, events []midiio.Event) *midiio.File {
	tempo := midiio.Event{Data: []byte{0xFF, 0x51, 0x07, 0xA1, 0x20}} // 120 a minute
	last := midiio.Event{Tick: end, Data: []byte{0xB0, 1, 0}}
	return &midiio.File{Format: 1, Division: 500, Tracks: make([]midiio.Track, 1), Events: slices.Concat([]midiio.Event{tempo}, events, []midiio.Event{last})}
}

func TestNothingHappened(t *testing.T) {
	for _, end := range []int64{0, 90_000} {
		svg, _ := draw(t, rigOf(t, "default"), winterLights(t), performance(end, nil))
		p := parsed(t, svg)
		if want := "a file: the bed was never brought in"; !slices.Contains(p.texts, want) {
			t.Errorf("%q does not say %q", p.texts, want)
		}
		if n := len(p.lines("voices")); n > 0 {
			t.Errorf("%d lines of voices", n)
		}
	}
}

// Piano and bed on one sound: what the player sends as controller 11 is not a
// level of the bed's.
func TestOneSoundHasNoLevels(t *testing.T) {
	svg, _ := draw(t, rigOf(t, "one-sound"), winterLights(t), demo(t))
	p := parsed(t, svg)
	if slices.Contains(p.texts, "level, dB") || !strings.Contains(svg, "share a sound, so no levels are sent") {
		t.Errorf("levels are drawn, or it is not said why not: %q", p.texts)
	}
}

// Controller 74 is drawn where it is sent, and only there.
func TestBrightnessIsDrawn(t *testing.T) {
	c, take := New(rigOf(t, "default")), &session.Take{}
	take.Send(0, session.Warm, []byte{0xB1, 74, 0})
	take.Send(time.Second, session.Warm, []byte{0xB1, 74, 127})
	take.Send(2*time.Second, session.Thru, []byte{0xB1, 74, 0})
	var out strings.Builder
	if err := c.Write(&out, Run{Take: take, End: 4 * time.Second, Moments: func(int) string { return "" }}); err != nil {
		t.Fatal(err)
	}
	p := parsed(t, out.String())
	yLow, yHigh := p.scale(t, "brightness", "0", "127")
	lines, x := p.lines("warm"), p.xOf(t)
	if moved, later := heights(lines, x(time.Second)), heights(lines, x(3*time.Second)); !is(moved, yLow) || !is(moved, yHigh) || !is(later, yHigh) || is(later, yLow) {
		t.Errorf("brightness is drawn at %v", lines)
	}
	off := rigOf(t, "default")
	off.Bed.Brightness.Off = true
	if svg, _ := draw(t, off, winterLights(t), demo(t)); strings.Contains(svg, "brightness") {
		t.Error("brightness is drawn that nothing sends")
	}
}

// Whatever is played and said, the drawing is well-formed and inside its box, and
// its lines are in order of time.
func TestAnyRunIsDrawnInsideItsBox(t *testing.T) {
	rig, g := rigOf(t, "saltmere"), winterLights(t)
	rig.Bed.Voicing.Thin, rig.Bed.Voicing.Full = 3, 4 // soon voiced
	rapid.Check(t, func(rt *rapid.T) {
		var events []midiio.Event
		tick := int64(0)
		for range rapid.IntRange(0, 120).Draw(rt, "events") {
			tick += rapid.SampledFrom([]int64{0, 1, 20, 300, 900, 4000}).Draw(rt, "gap")
			value := rapid.ByteRange(0, 127).Draw(rt, "value")
			var data []byte
			switch rapid.IntRange(0, 3).Draw(rt, "what") {
			case 0:
				data = []byte{0x90, rapid.ByteRange(36, 84).Draw(rt, "note"), value}
			case 1:
				data = []byte{0xB0, 11, value}
			case 2:
				data = []byte{0xB0, rapid.ByteRange(80, 85).Draw(rt, "foot"), value}
			case 3:
				text := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"</text><script>", "\x00\x1b[2J", "&amp;\"'", strings.Repeat("long ", 300)})).Draw(rt, "text")
				data = append([]byte{0xFF, 1}, text...)
			}
			events = append(events, midiio.Event{Tick: tick, Data: data})
		}
		svg, _ := draw(t, rig, g, performance(tick+rapid.Int64Range(0, 9000).Draw(rt, "rest"), events))
		p, err := read(svg)
		if err != nil {
			rt.Fatalf("%v", err)
		}
		for _, class := range []string{"warm", "air", "voices", "pedal"} {
			for _, line := range p.lines(class) {
				for i := 1; i < len(line); i++ {
					if line[i][0] < line[i-1][0] {
						rt.Fatalf("a line of %s goes back: %v", class, line)
					}
				}
			}
		}
	})
}

// Ten hours, with all that a take has room for, stay small, and still say how far
// the pedal went.
func TestALongRunStaysSmall(t *testing.T) {
	const hours, gap = 10, 450
	var events []midiio.Event
	for i, end := 0, hours*3600*1000/gap; i < end; i++ {
		data := []byte{0x90, byte(40 + i%40), byte(i % 128)}
		switch i % 8 {
		case 0:
			data = []byte{0xB0, 80, 127 * byte(i/8%2)}
		case 1, 5:
			data = []byte{0xB0, 11, 127 * byte(i/8%2)}
		case 2:
			data = []byte{0xB0, byte(82 + i/8%2), 127 * byte(i/16%2)}
		case 3:
			data = fmt.Appendf([]byte{0xFF, 1}, "cue %d <of many>", i)
		}
		events = append(events, midiio.Event{Tick: int64(i) * gap, Data: data})
	}
	svg, take := draw(t, rigOf(t, "default"), winterLights(t), performance(hours*3600*1000, events))
	p := parsed(t, svg)
	t.Logf("%d messages, %d chords: %d bytes of SVG", len(take.Sent()), len(take.Entered), len(svg))
	if len(svg) > 1<<20 {
		t.Errorf("the drawing has %d bytes, more than 1 MiB", len(svg))
	}
	if len(take.Sent()) < 400_000 {
		t.Errorf("only %d messages", len(take.Sent()))
	}
	yLow, yHigh := p.scale(t, "intensity", "0.00", "1.00")
	if all := heights(p.lines("pedal"), 600); !is(all, yLow) || !is(all, yHigh) {
		t.Errorf("in the middle the pedal is drawn from %.1f to %.1f, want all of %.1f…%.1f", slices.Max(all), slices.Min(all), yLow, yHigh)
	}
}

// What a column keeps of a series has its extremes, its last value, and at most
// four points; the value that the next column begins with is never lost.
func TestReducedKeepsExtremes(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		d := &drawing{run: Run{End: time.Hour}}
		var points []point
		at := time.Duration(0)
		for range rapid.IntRange(0, 200).Draw(rt, "points") {
			at += rapid.SampledFrom([]time.Duration{0, time.Millisecond, 200 * time.Millisecond, 10 * time.Second}).Draw(rt, "gap")
			p := point{at, rapid.Float64Range(0, 1).Draw(rt, "value"), rapid.SampledFrom([]string{"a", "a", "b", ""}).Draw(rt, "class")}
			points = append(points, p)
		}
		byColumn := func(points []point) map[int][]point {
			m := map[int][]point{}
			for _, p := range points {
				m[d.column(p.at)] = append(m[d.column(p.at)], p)
			}
			return m
		}
		values := func(points []point) (v []float64) {
			for _, p := range points {
				if p.class != "" {
					v = append(v, p.value)
				}
			}
			return v
		}
		kept := d.reduced(points)
		if !slices.IsSortedFunc(kept, func(a, b point) int { return int(a.at - b.at) }) {
			rt.Fatalf("%v is not in order", kept)
		}
		after := byColumn(kept)
		for column, all := range byColumn(points) {
			few := after[column]
			if len(few) == 0 || len(few) > most || few[len(few)-1] != all[len(all)-1] {
				rt.Fatalf("column %d: %v of %v", column, few, all)
			}
			if v := values(all); len(v) > 0 && (slices.Min(v) != slices.Min(values(few)) || slices.Max(v) != slices.Max(values(few))) {
				rt.Fatalf("column %d: %v of %v", column, few, all)
			}
		}
	})
}

// Each source has a colour and dashes of its own, on a light screen and a dark
// one: two that can be told apart by colour alone cannot be told apart on paper.
func TestEachSourceHasItsOwnLine(t *testing.T) {
	light, dark, _ := strings.Cut(style, "@media")
	colours, dashes := map[string]bool{}, map[string]bool{}
	n := 0
	for s := dynamics.Source(0); s.String() != "unknown"; s++ {
		n++
		rule := "path." + sourceClass(s) + "{"
		_, found, ok := strings.Cut(light, rule)
		if !ok || !strings.Contains(dark, rule) || !strings.Contains(light, ".strip."+sourceClass(s)+"{") {
			t.Errorf("%v has no style", s)
			continue
		}
		found, _, _ = strings.Cut(found, "}")
		colour, dash, _ := strings.Cut(found, ";")
		colours[colour], dashes[dash] = true, true
	}
	if n < 4 || len(colours) != n || len(dashes) != n {
		t.Errorf("%d sources have %d colours and %d sorts of dashes", n, len(colours), len(dashes))
	}
}

// Text and lines stand out from the page as the Web Content Accessibility
// Guidelines 2.1 ask for (1.4.3: text 4.5 to 1; 1.4.11: what carries meaning 3 to
// 1), by their formula of relative luminance.
func TestColoursHaveContrast(t *testing.T) {
	luminance := func(hex string) float64 {
		if len(hex) == 3 {
			hex = string([]byte{hex[0], hex[0], hex[1], hex[1], hex[2], hex[2]})
		}
		var rgb [3]uint8
		if _, err := fmt.Sscanf(hex, "%02x%02x%02x", &rgb[0], &rgb[1], &rgb[2]); err != nil {
			t.Fatalf("%q: %v", hex, err)
		}
		sum := 0.0
		for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
			v := float64(rgb[i]) / 255
			if v <= 0.03928 {
				v /= 12.92
			} else {
				v = math.Pow((v+0.055)/1.055, 2.4)
			}
			sum += weight * v
		}
		return sum
	}
	light, dark, _ := strings.Cut(style, "@media")
	colour := regexp.MustCompile(`(stroke|fill):#([0-9a-f]{3,6})\b`)
	compared := 0
	for paper, sheet := range map[string]string{"fff": light, "15181b": dark} {
		if !strings.Contains(sheet, ".paper{fill:#"+paper+"}") {
			t.Fatalf("the paper is not #%s", paper)
		}
		for _, rule := range strings.Split(sheet, "\n") {
			if strings.Contains(rule, "-opacity") || strings.HasPrefix(rule, ".paper") || strings.HasPrefix(rule, ".silence") || strings.HasPrefix(rule, ".grid") {
				continue // the page itself, and what is meant to be faint
			}
			for _, m := range colour.FindAllStringSubmatch(rule, -1) {
				least := map[string]float64{"stroke": 3, "fill": 4.5}[m[1]]
				if strings.HasPrefix(rule, ".strip") { // its name is written on it, and in it
					least = 3
				}
				a, b := luminance(m[2]), luminance(paper)
				if ratio := (max(a, b) + 0.05) / (min(a, b) + 0.05); ratio < least {
					t.Errorf("%s on #%s has a contrast of %.1f, want %.1f", rule, paper, ratio, least)
				}
				compared++
			}
		}
	}
	if compared < 25 {
		t.Errorf("only %d colours were compared", compared)
	}
}

func TestTicksAreRoundAndFew(t *testing.T) {
	for end := time.Second; end < 13*time.Hour; end += end/7 + time.Second {
		if n := int(end/tickEvery(end)) + 1; n > 15 || n < 2 {
			t.Errorf("%v has %d ticks of %v", end, n, tickEvery(end))
		}
	}
}

// A failing writer's error comes back.
func TestWriteFails(t *testing.T) {
	c := New(rigOf(t, "default"))
	if err := c.Write(full{}, Run{Take: &session.Take{}, Moments: func(int) string { return "" }}); err == nil || err.Error() != "no space" {
		t.Errorf("%v, want the writer's error", err)
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, fmt.Errorf("no space") }

func BenchmarkWriteDemo(b *testing.B) {
	f, g, rig := demo(b), winterLights(b), rigOf(b, "saltmere")
	c := New(rig)
	take, _, end, err := session.Perform(rig, g.BedMoments(), f, c.See)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		var out strings.Builder
		if err := c.Write(&out, Run{Take: take, End: end, Moments: func(int) string { return "" }}); err != nil {
			b.Fatal(err)
		}
	}
}

var _ session.Watcher = (*Curve)(nil).See
