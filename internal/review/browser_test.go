package review

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"bedd/internal/journal/journaltest"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// The tests in a browser run where make test-page says which; elsewhere they skip.
var (
	chromium = flag.String("chromium", "", "the Chromium to test the page in")
	axe      = flag.String("axe", "", "the file axe.min.js of axe-core")
	pictures = flag.String("pictures", "", "leave pictures of the page in this folder")
)

// patience is how long a browser on a busy machine may take.
const patience = 60 * time.Second

// browser is a tab.
type browser struct {
	t   *testing.T
	ctx context.Context
}

func newBrowser(t *testing.T) browser {
	t.Helper()
	if *chromium == "" {
		t.Skip("no browser: run make test-page")
	}
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(*chromium))
	if os.Getuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	ctx, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	ctx, stopTab := chromedp.NewContext(ctx)
	t.Cleanup(stopTab)
	if err := chromedp.Do(ctx, chromedp.Navigate("about:blank")); err != nil {
		t.Fatal(err)
	}
	return browser{t, ctx}
}

// open shows a page from a file, as a user does.
func (b browser) open(text string) {
	b.t.Helper()
	path := filepath.Join(b.t.TempDir(), "review.html")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		b.t.Fatal(err)
	}
	ask(b, chromedp.Navigate("file://"+path))
}

// ask does something in the tab, within some time.
func ask[T any](b browser, a chromedp.Action[T]) T {
	b.t.Helper()
	ctx, stop := context.WithTimeout(b.ctx, patience)
	defer stop()
	v, err := chromedp.Run(ctx, a)
	if err != nil {
		b.t.Fatal(err)
	}
	return v
}

// medium has the page laid out for a screen or for paper.
func (b browser) medium(name string) {
	b.t.Helper()
	if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: name}); err != nil {
		b.t.Fatal(err)
	}
}

// picture leaves a picture, where pictures are wanted.
func (b browser) picture(name string) {
	b.t.Helper()
	if *pictures == "" {
		return
	}
	if err := os.WriteFile(filepath.Join(*pictures, name+".png"), ask(b, chromedp.CaptureScreenshot()), 0o644); err != nil {
		b.t.Fatal(err)
	}
}

// A sheet of A4, 210 by 297 mm (ISO 216), less the page's margins, in CSS pixels of
// 1/96 inch.
const (
	sheetWide = 703  // 210 − 2·12 mm
	sheetHigh = 1016 // 297 − 2·14 mm
)

// cutOff finds what sticks out of the window or of its own drawing, and what is
// wider than its box. On a small screen drawings may be scrolled sideways, on paper
// not.
const cutOff = `(() => {
	const found = [], wide = document.documentElement.clientWidth;
	if (document.documentElement.scrollWidth > wide) found.push("the page is " + document.documentElement.scrollWidth + " wide");
	for (const e of document.body.querySelectorAll("*")) {
		const r = e.getBoundingClientRect(), svg = e.closest("svg");
		if (r.width === 0 && r.height === 0) continue;
		const name = e.tagName + " " + e.textContent.trim().slice(0, 40);
		const scrolls = !matchMedia("print").matches && wide < 700 && e.closest(".drawn") !== null;
		if (!scrolls && (r.left < -0.5 || r.right > wide + 0.5)) found.push(name + " sticks out: " + r.left + "…" + r.right);
		if (svg && e !== svg) {
			const s = svg.getBoundingClientRect();
			if (r.left < s.left - 1 || r.right > s.right + 1 || r.top < s.top - 1 || r.bottom > s.bottom + 1)
				found.push(name + " is cut off: " + [r.left - s.left, r.right - s.right, r.top - s.top, r.bottom - s.bottom]);
		} else if (!svg && !scrolls && e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== "inline") found.push(name + " overflows");
	}
	return found.slice(0, 12);
})()`

// pages are the pages that are looked at.
func pages(t *testing.T) map[string]string {
	s, n := reviewed(t, evening), readText(t, nasty())
	return map[string]string{
		"review":       pageOf(t, s, nil),
		"review-two":   pageOf(t, s, n),
		"review-nasty": pageOf(t, n, s),
		"review-hour":  pageOf(t, reviewed(t, journaltest.Hours(t, t.TempDir(), time.Hour)), nil),
	}
}

// TestBrowserReviewFits measures: on every screen and on a sheet of A4 nothing is cut
// off, and no drawing is higher than a sheet.
func TestBrowserReviewFits(t *testing.T) {
	b := newBrowser(t)
	for name, text := range pages(t) {
		b.open(text)
		for _, size := range []struct {
			medium     string
			wide, high int64
		}{{"screen", 360, 640}, {"screen", 768, 1024}, {"screen", 1280, 800}, {"print", sheetWide, sheetHigh}} {
			b.medium(size.medium)
			ask(b, chromedp.EmulateViewport(size.wide, size.high))
			if found := ask(b, chromedp.Evaluate[[]string](cutOff)); len(found) > 0 {
				t.Errorf("%s on %s, %d wide: %s", name, size.medium, size.wide, strings.Join(found, "; "))
			}
			if high := ask(b, chromedp.Evaluate[float64](`Math.max(...[...document.querySelectorAll("svg, header, tr")].map((e) => e.getBoundingClientRect().height))`)); size.medium == "print" && high > sheetHigh {
				t.Errorf("%s: something that is not to be broken is %.0f high, a sheet %d", name, high, sheetHigh)
			}
			b.picture(fmt.Sprintf("%s-%s-%d", name, size.medium, size.wide))
		}
		b.medium("")
		paper := ask(b, chromedp.PrintToPDF(func(p *page.PrintToPDFParams) { p.PreferCSSPageSize = new(true) }))
		sheets := strings.Count(string(paper), "/Type /Page\n")
		t.Logf("%s: %d sheets", name, sheets)
		if sheets < 1 || sheets > 30 {
			t.Errorf("%s is printed on %d sheets", name, sheets)
		}
		if *pictures != "" {
			if err := os.WriteFile(filepath.Join(*pictures, name+".pdf"), paper, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// The page asks for nothing, and no word of it became more than a word.
func TestBrowserReviewIsAlone(t *testing.T) {
	b := newBrowser(t)
	for name, text := range pages(t) {
		b.open(text)
		const asked = `performance.getEntriesByType("resource").length + document.scripts.length + document.images.length + document.links.length`
		if n := ask(b, chromedp.Evaluate[int](asked)); n != 0 {
			t.Errorf("%s has %d scripts, pictures, links or requests", name, n)
		}
	}
}

// axe-core finds nothing against WCAG 2.2 AA.
func TestBrowserReviewIsAccessible(t *testing.T) {
	b := newBrowser(t)
	if *axe == "" {
		t.Skip("no axe-core: run make test-page")
	}
	script, err := os.ReadFile(*axe)
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range pages(t) {
		b.open(text)
		ask(b, chromedp.Evaluate[chromedp.Void](string(script)))
		const run = `axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]})
			.then((r) => JSON.stringify({found: r.violations.map((v) => v.id + ": " + v.help + ": " + v.nodes.slice(0, 2).map((n) => n.html + n.failureSummary)), passes: r.passes.length}))`
		var told struct {
			Found  []string
			Passes int
		}
		if err := json.Unmarshal([]byte(ask(b, chromedp.Evaluate[string](run, chromedp.EvalAwaitPromise))), &told); err != nil {
			t.Fatal(err)
		}
		if len(told.Found) > 0 || told.Passes < 10 {
			t.Errorf("%s: %d rules pass, against: %s", name, told.Passes, strings.Join(told.Found, "\n"))
		}
	}
}

// TestBrowserPictures makes the README's picture, where it is wanted.
func TestBrowserPictures(t *testing.T) {
	if *pictures == "" {
		t.Skip("no folder for pictures: run scripts/screenshots")
	}
	b := newBrowser(t)
	b.open(pageOf(t, reviewed(t, evening), nil))
	ask(b, chromedp.EmulateViewport(1000, 945))
	b.picture("review")
}
