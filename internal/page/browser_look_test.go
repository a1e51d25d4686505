package page

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"bedd/internal/glance"

	"github.com/chromedp/chromedp"
)

var sizes = []struct{ width, height int64 }{{360, 640}, {768, 1024}, {1280, 800}}

// TestBrowserReflows: on a screen of 320, or one four times as large that is magnified
// as much, nothing needs scrolling sideways or is cut off (WCAG 2.2, 1.4.10).
func TestBrowserReflows(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, true)
	b.size(320, 640)
	b.do(chromedp.Navigate(s.url()))
	s.show <- crowded()
	b.reads("title", crowded().Title)
	b.run(`for (const e of document.querySelectorAll("details")) e.open = true`)
	b.drawn()
	got := slices.DeleteFunc(eval[[]string](b, overflow), func(s string) bool { return strings.HasPrefix(s, "scroll height") })
	if len(got) > 0 {
		t.Error(strings.Join(got, "; "))
	}
	b.picture("reflow")
}

// TestBrowserFitsTheScreen measures: nothing needs scrolling, sticks out of the
// window, or is wider than its own box, and no button is smaller than 44 by 44
// (WCAG 2.2, 2.5.8 asks for 24, 2.5.5 for 44).
func TestBrowserFitsTheScreen(t *testing.T) {
	b := newBrowser(t)
	for _, control := range []bool{false, true} {
		s := open(t, thisMachine, control)
		b.do(chromedp.Navigate(s.url()))
		for name, m := range map[string]glance.Model{"sample": sample(), "hearing": listens(), "choosing": choosing(), "crowded": crowded()} {
			s.show <- m
			for _, view := range []string{"stage", "reading"} {
				b.choose("show", view)
				for _, size := range sizes {
					b.size(size.width, size.height)
					b.live()
					b.reads("title", m.Title)
					b.until(fmt.Sprintf(`document.getElementById("choice").hidden === %v`, m.Choice == nil))
					b.drawn()
					got := eval[[]string](b, overflow)
					if name == "crowded" && control && view == "stage" { // may scroll down, but not sideways
						got = slices.DeleteFunc(got, func(s string) bool { return strings.HasPrefix(s, "scroll height") })
					}
					if len(got) > 0 {
						t.Errorf("%s, control %v, %s at %d × %d: %s", name, control, view, size.width, size.height, strings.Join(got, "; "))
					}
					high := eval[float64](b, `parseFloat(getComputedStyle(document.getElementById("chord")).fontSize)`)
					t.Logf("%s, control %v, %s at %d × %d: the chord is %.0f px high", name, control, view, size.width, size.height, high)
					if high < 36 {
						t.Errorf("%s, control %v, %s at %d × %d: the chord is %.0f px high, want 36", name, control, view, size.width, size.height, high)
					}
					b.picture(fmt.Sprintf("%s-%s-%v-%dx%d", name, view, control, size.width, size.height))
				}
			}
		}
	}
}

// TestBrowserShowsWhatIsHeard in letters that are read from two metres: 5 minutes of arc
// for a capital (ISO 8596, from memory) are 2.9 mm, 17 of the page's pixels at 150 an
// inch. Where nobody is listened to it takes no room.
func TestBrowserShowsWhatIsHeard(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, false)
	b.do(chromedp.Navigate(s.url()))
	b.live()
	b.until(`!document.getElementById("hears").checkVisibility()`)
	s.show <- listens()
	b.reads("hears", listens().Hears)
	for _, size := range sizes {
		b.size(size.width, size.height)
		b.drawn()
		capital := eval[float64](b, `(() => {
			const pen = document.createElement("canvas").getContext("2d"), style = getComputedStyle(document.getElementById("hears"));
			pen.font = style.fontSize + " " + style.fontFamily;
			return pen.measureText("H").actualBoundingBoxAscent;
		})()`)
		t.Logf("at %d × %d a capital is %.1f px high", size.width, size.height, capital)
		if capital < 17 {
			t.Errorf("at %d × %d a capital is %.1f px high, want 17", size.width, size.height, capital)
		}
		b.picture(fmt.Sprintf("hears-%dx%d", size.width, size.height))
	}
}

const overflow = `(() => {
	const found = [];
	const root = document.documentElement;
	if (root.scrollWidth > innerWidth) found.push("scroll width " + root.scrollWidth);
	if (root.scrollHeight > innerHeight) found.push("scroll height " + root.scrollHeight);
	for (const e of document.body.querySelectorAll("*")) {
		const r = e.getBoundingClientRect();
		if (r.width === 0 || !e.checkVisibility() || e.closest(".unseen") || e.closest("svg") !== null && e.tagName !== "svg") continue;
		const name = e.id || e.dataset.order || e.tagName;
		if (r.left < -0.5 || r.right > innerWidth + 0.5) found.push(name + " sticks out: " + r.left + "…" + r.right);
		if (e.tagName !== "svg" && e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== "inline") found.push(name + " overflows: " + e.scrollWidth + " > " + e.clientWidth);
		if (["BUTTON", "SELECT", "SUMMARY"].includes(e.tagName) && (r.width < 44 || r.height < 44)) found.push(name + " is small: " + r.width + " × " + r.height);
	}
	return found;
})()`

// picture leaves a picture of the page, where pictures are wanted.
func (b browser) picture(name string) {
	b.t.Helper()
	if *pictures == "" {
		return
	}
	ctx, stop := b.limited()
	defer stop()
	png, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	if err != nil {
		b.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(*pictures, name+".png"), png, 0o644); err != nil {
		b.t.Fatal(err)
	}
}

// finding is what axe-core has found.
type finding struct {
	ID, Impact, Help string
	Nodes            []struct{ HTML, FailureSummary string }
}

// TestBrowserIsAccessible asks axe-core, with its rules for WCAG 2.2 up to AA and
// its best practices, for every state of the page.
func TestBrowserIsAccessible(t *testing.T) {
	b := newBrowser(t)
	if *axe == "" {
		t.Skip("no axe-core: run make test-page")
	}
	script, err := os.ReadFile(*axe)
	if err != nil {
		t.Fatal(err)
	}
	check := func(what string) {
		t.Helper()
		b.run(string(script))
		b.run(`window.found = null;
			axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]})
				.then((r) => { window.found = JSON.stringify({violations: r.violations, passes: r.passes.length}); })`)
		b.until("window.found")
		var found struct {
			Violations []finding
			Passes     int
		}
		if err := json.Unmarshal([]byte(eval[string](b, "window.found")), &found); err != nil {
			t.Fatal(err)
		}
		for _, f := range found.Violations {
			t.Errorf("%s: %s (%s): %s: %v", what, f.ID, f.Impact, f.Help, f.Nodes)
		}
		t.Logf("%s: %d rules pass, %d fail", what, found.Passes, len(found.Violations))
		if found.Passes < 10 {
			t.Errorf("%s: axe-core has looked at %d rules only", what, found.Passes)
		}
	}
	s := open(t, everywhere, true)
	b.do(chromedp.Navigate(s.url()))
	b.until(`location.pathname === "/pair"`)
	check("pairing")
	b.picture("pairing")
	b.do(chromedp.SendKeys("#code", "1\r"))
	b.until(`document.getElementById("trouble").textContent !== ""`)
	check("a wrong code")
	b.do(chromedp.SendKeys("#code", s.Code()+"\r"))
	b.live()
	for _, size := range sizes {
		b.size(size.width, size.height)
		check(fmt.Sprintf("%d × %d", size.width, size.height))
	}
	s.show <- crowded()
	b.reads("chord", "F♯m7♭5/C")
	b.run(`for (const e of document.querySelectorAll("details")) e.open = true`)
	check("crowded, with all orders and choices")
	b.size(768, 1024)
	b.picture("all orders")
	b.choose("show", "reading")
	b.choose("transpose", "-3")
	b.reads("chord", "D♯m7♭5/A")
	check("reading")
	s.Close()
	b.until(`document.body.dataset.link === "lost"`)
	check("lost")
	b.picture("lost")
}
