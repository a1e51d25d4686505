package chart

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"bedd/internal/gathering"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// The tests in a browser run where make test-page says which; elsewhere they skip.
var (
	chromium = flag.String("chromium", "", "the Chromium to print charts with")
	pictures = flag.String("pictures", "", "leave the printed charts in this folder, as PDF")
	_        = flag.String("axe", "", "not used here")
)

// Sheets of paper, ISO 216 and ANSI/ASME Y14.1, in mm; margins as in page.css.
var papers = []struct {
	name       string
	size       chromedp.PaperSize
	wide, high float64
}{
	{"A4", chromedp.PaperA4, 210, 297},
	{"Letter", chromedp.PaperLetter, 215.9, 279.4},
}

const (
	marginX, marginY = 12, 8       // mm
	pixels           = 96.0 / 25.4 // CSS pixels a mm
)

func tab(t *testing.T) context.Context {
	t.Helper()
	if *chromium == "" {
		t.Skip("no browser: run make test-page")
	}
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(*chromium))
	if os.Getuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	allocated, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	limited, done := context.WithTimeout(allocated, 2*time.Minute)
	t.Cleanup(done)
	ctx, closeTab := chromedp.NewContext(limited)
	t.Cleanup(closeTab)
	return ctx
}

// full is a moment with as much as one page holds: long words, four chords a row
// with long names, many sections and a long figure.
const full = `
title: A very long title of an evening in the net loft at Saltmere, with lanterns
order:
  - song: One
    key: Gb
  - for: the last words of a long talk by Maud Terrick about lanterns, nets, and why they are lit every winter
    mood: calm, warm, nobody should notice that it begins, and nobody that it ends
    cue: "… and that is why, every winter, we light them, all of them, one after the other, down to the last."
    cue-by: Maud Terrick
    home: 1maj7 2m7b5 b7maj7 4m6/b6
    away: 6m7 2m7 3m7b5 5sus4
    minutes: 4
    longest: 9
  - song: The Lighthouse Keeper's Daughter Counts the Boats as They Come Home
    key: D#m
    tempo: 72
    starts: the figure on the piano, twice, then everybody at once, on the count
    sections:
      verse one: 1 4 6 7
      verse two: 1 4 6 5M
      chorus: 3 7 4 6
      bridge: 4m7 5m7 6maj7 7
      ending: 1 1/7 6 5M
    figure: D#5 C# B A# G# A# B C# D# A# B G#
`

var fewChords = strings.NewReplacer("1maj7 2m7b5 b7maj7 4m6/b6", "1 4", "6m7 2m7 3m7b5 5sus4", "5", "D#m", "Db", "G#\n", "Ab\n")

// measured is what the browser says of one sheet, in CSS pixels.
type measured struct {
	Chart        bool
	Wide, High   float64
	Outside      []string // what reaches over the sheet's right or left edge
	Cut          []string // what does not show all of its text
	Names        float64  // the least height of a chord's name as set, in px
	Small        float64  // the smallest type
	TallestCard  float64
	CardsOverlap bool
}

const measure = `JSON.stringify([...document.querySelectorAll(".sheet")].map((sheet) => {
	const box = sheet.getBoundingClientRect();
	const said = (e) => e.tagName + "." + e.getAttribute("class") + " " + e.textContent.trim().slice(0, 40);
	const all = [...sheet.querySelectorAll("*")];
	const boxes = all.map((e) => [e, e.getBoundingClientRect()]);
	const size = (e) => parseFloat(getComputedStyle(e).fontSize);
	const range = document.createRange();
	const cut = all.filter((e) => {
		if (e.closest("svg")) return false;
		if (e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== "inline") return true;
		if (e.querySelector("svg")) return false; // which is measured below
		range.selectNodeContents(e);
		return range.getBoundingClientRect().right > box.right + 0.5;
	});
	const cards = [...sheet.querySelectorAll(".card")].map((c) => c.getBoundingClientRect());
	return {
		Chart: sheet.classList.contains("chart"), Wide: box.width, High: box.height,
		Outside: boxes.filter(([, b]) => b.right > box.right + 0.5 || b.left < box.left - 0.5).map(([e]) => said(e)),
		Cut: [...cut, ...[...sheet.querySelectorAll(".name text")].filter((e) => e.getBoundingClientRect().right > e.ownerSVGElement.getBoundingClientRect().right + 0.5)].map(said),
		Names: Math.min(...[...sheet.querySelectorAll(".root, .more")].filter((e) => e.textContent).map((e) => size(e) * e.ownerSVGElement.getScreenCTM().d)),
		Small: Math.min(...all.filter((e) => !e.closest("svg") && e.childElementCount === 0 && e.textContent.trim()).map(size)),
		TallestCard: Math.max(0, ...cards.map((c) => c.height)),
		CardsOverlap: cards.some((a, i) => cards.some((b, j) => j > i && a.left < b.right - 0.5 && b.left < a.right - 0.5 && a.top < b.bottom - 0.5 && b.top < a.bottom - 0.5)),
	};
}))`

func TestBrowserPrintsChartsWithNothingCutOff(t *testing.T) {
	ctx := tab(t)
	library, err := gathering.OpenLibrary("")
	if err != nil {
		t.Fatal(err)
	}
	demo := plan(t, "winter-lights")
	inAllKeys := func(g *gathering.Gathering, i int) (charts []Chart) {
		m := maker(t)
		for _, k := range AllKeys(g.Moments[i].Bed.Key.Minor) {
			charts = append(charts, mustChart(t, m, g, i, &k))
		}
		return charts
	}
	read := func(name, text string) *gathering.Gathering {
		g, err := gathering.ReadGathering(name, []byte(text), library)
		if err != nil {
			t.Fatal(err)
		}
		return &g
	}
	packed, few := read("full.yaml", full), read("few.yaml", fewChords.Replace(full))
	long := read("long.yaml", strings.NewReplacer("1maj7 2m7b5 b7maj7 4m6/b6", "1 5/7 6m 3m 4 1/3 2m7 5", "6m7 2m7 3m7b5 5sus4", "6m 4 2m 3m 4 5 6m 5").Replace(full))
	many := read("many.yaml", "order:\n"+strings.Repeat("- {song: \"A long title of a song that the whole loft sings, all of its verses\", key: Db, tempo: 72}\n- {for: a silence, minutes: 3}\n", 40))
	for _, c := range []struct {
		name   string
		order  *gathering.Gathering
		charts []Chart
		more   int // pages there may be besides one a sheet
	}{
		{"winter-lights", demo, allCharts(t, demo), 0},
		{"the response in all keys", nil, inAllKeys(demo, 3), 0},
		{"full", packed, allCharts(t, packed), 0},
		{"full in all keys", nil, inAllKeys(packed, 0), 0},
		{"long words and few chords", few, allCharts(t, few), 0},
		{"long progressions", nil, allCharts(t, long), 1},
		{"forty songs", many, nil, 5},
	} {
		var b bytes.Buffer
		if err := WriteHTML(&b, "charts", c.order, c.charts); err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "chart.html")
		if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		sheets := len(c.charts)
		if c.order != nil {
			sheets++
		}
		for _, p := range papers {
			wide, high := (p.wide-2*marginX)*pixels, (p.high-2*marginY)*pixels
			name := c.name + " on " + p.name
			for _, s := range measureIn(t, ctx, file, wide, high) {
				if s.Wide > wide+0.5 || len(s.Outside)+len(s.Cut) > 0 || s.CardsOverlap {
					t.Errorf("%s: a sheet %.0f of %.0f px wide, outside it %q, cut %q, cards overlap %v", name, s.Wide, wide, s.Outside, s.Cut, s.CardsOverlap)
				}
				if s.Chart && (c.more == 0 && s.High > high || s.TallestCard == 0 || s.TallestCard > high) {
					t.Errorf("%s: a moment takes %.1f of %.1f mm, its cards %.1f", name, s.High/pixels, high/pixels, s.TallestCard/pixels)
				}
				// To be read at a metre: chords at 10 mm and more, nothing below 3.5 mm
				// (10 points).
				if s.Chart && s.Names < 10*pixels || s.Small < 3.5*pixels-0.01 {
					t.Errorf("%s: chords of %.1f mm, the smallest type %.1f mm", name, s.Names/pixels, s.Small/pixels)
				}
			}
			if got := printedPages(t, ctx, name, p.size); got < sheets || got > sheets+c.more {
				t.Errorf("%s: %d pages, want %d, %d more at most", name, got, sheets, c.more)
			}
		}
	}
}

func measureIn(t *testing.T, ctx context.Context, file string, wide, high float64) (sheets []measured) {
	t.Helper()
	asPrinted := chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		_, err := cdp.Call(ctx, target, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
		return err
	})
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(int64(wide), int64(high)), chromedp.Navigate("file://"+file), asPrinted); err != nil {
		t.Fatal(err)
	}
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](measure))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal([]byte(text), &sheets); err != nil || len(sheets) == 0 {
		t.Fatalf("%d sheets, %v", len(sheets), err)
	}
	return sheets
}

var countOfPages = regexp.MustCompile(`/Count (\d+)`)

// printedPages prints the page that is open and counts what comes out.
func printedPages(t *testing.T, ctx context.Context, name string, size chromedp.PaperSize) (pages int) {
	t.Helper()
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(size), chromedp.PDFPrintBackground(),
		chromedp.PDFMargins(marginY/25.4, marginX/25.4, marginY/25.4, marginX/25.4)))
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range countOfPages.FindAllSubmatch(pdf, -1) {
		n, err := strconv.Atoi(string(m[1]))
		if err != nil {
			t.Fatal(err)
		}
		pages = max(pages, n)
	}
	if *pictures != "" {
		file := filepath.Join(*pictures, "chart "+strings.ReplaceAll(name, "/", "-")+".pdf")
		if err := os.WriteFile(file, pdf, 0o644); err != nil {
			t.Fatal(err)
		}
		fmt.Println("left", file)
	}
	return pages
}

// The README's picture, made by scripts/screenshots.
func TestBrowserPictures(t *testing.T) {
	ctx := tab(t)
	if *pictures == "" {
		t.Skip("no folder for pictures")
	}
	g := plan(t, "winter-lights")
	var b bytes.Buffer
	if err := WriteHTML(&b, g.Title, nil, []Chart{mustChart(t, maker(t), g, 3, nil)}); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "chart.html")
	if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	border := 8 * pixels // as page.css has it on a screen
	if err := chromedp.Do(ctx, chromedp.Navigate("file://"+file)); err != nil {
		t.Fatal(err)
	}
	high, err := chromedp.Run(ctx, chromedp.Evaluate[float64](`document.querySelector(".sheet").getBoundingClientRect().height`))
	if err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(int64(186*pixels+3*border), int64(high+2*border))); err != nil {
		t.Fatal(err)
	}
	png, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	if err == nil {
		err = os.WriteFile(filepath.Join(*pictures, "chart.png"), png, 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
}
