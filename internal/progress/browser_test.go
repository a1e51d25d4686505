package progress

import (
	"context"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// The tests in a browser run where make test-page says which; elsewhere they skip.
var (
	chromium = flag.String("chromium", "", "the Chromium to test the page in")
	axe      = flag.String("axe", "", "the file axe.min.js of axe-core")
	pictures = flag.String("pictures", "", "leave a picture of the page in this folder")
)

// openPage shows the page of the invented learner in a tab.
func openPage(t *testing.T) context.Context {
	t.Helper()
	if *chromium == "" {
		t.Skip("no browser: run make test-page")
	}
	var b strings.Builder
	if err := Sum(invented(), Want{Exercises: exercises, Weeks: 12}, now).Page(&b, now); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "practice.html")
	if err := os.WriteFile(path, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(*chromium))
	if os.Getuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	ctx, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	ctx, stopTime := context.WithTimeout(ctx, time.Minute)
	t.Cleanup(stopTime)
	ctx, stopTab := chromedp.NewContext(ctx)
	t.Cleanup(stopTab)
	if err := chromedp.Do(ctx, chromedp.Navigate("file://"+path)); err != nil {
		t.Fatal(err)
	}
	return ctx
}

// What sticks out of the window or of its own drawing.
const cutOff = `(() => {
	const found = [], wide = document.documentElement.clientWidth;
	if (document.documentElement.scrollWidth > wide) found.push("the page is " + document.documentElement.scrollWidth + " wide");
	for (const e of document.querySelectorAll("svg *")) {
		const r = e.getBoundingClientRect(), s = e.closest("svg").getBoundingClientRect();
		if (r.width > 0 && (r.left < s.left - 1 || r.right > s.right + 1 || r.top < s.top - 1 || r.bottom > s.bottom + 1)) found.push(e.tagName + " " + e.textContent);
	}
	return found;
})()`

func TestBrowserPracticeFits(t *testing.T) {
	ctx := openPage(t)
	for _, size := range [][2]int64{{360, 640}, {768, 1024}, {1280, 800}, {680, 1008}} {
		if err := chromedp.Do(ctx, chromedp.EmulateViewport(size[0], size[1])); err != nil {
			t.Fatal(err)
		}
		found, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](cutOff))
		if err != nil || len(found) > 0 {
			t.Errorf("%v: %q, %v", size, found, err)
		}
	}
}

func TestBrowserPracticeIsAccessible(t *testing.T) {
	ctx := openPage(t)
	source, err := os.ReadFile(*axe)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Run(ctx, chromedp.Evaluate[chromedp.Void](string(source))); err != nil {
		t.Fatal(err)
	}
	for _, scheme := range []string{"dark", "light"} {
		colours(t, ctx, scheme)
		text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`axe.run().then((r) => JSON.stringify(r.violations.map((v) => v.id + ": " + v.help + " " + v.nodes.length)))`, chromedp.EvalAwaitPromise))
		if err != nil {
			t.Fatal(err)
		}
		if text != "[]" {
			t.Errorf("%s: %s", scheme, text)
		}
	}
}

// The device's choice of dark or light is followed.
func TestBrowserPracticeFollowsTheDevice(t *testing.T) {
	ctx := openPage(t)
	for scheme, want := range map[string]string{"dark": "rgb(12, 11, 9)", "light": "rgb(255, 255, 255)"} {
		colours(t, ctx, scheme)
		if got, err := chromedp.Run(ctx, chromedp.Evaluate[string](`getComputedStyle(document.documentElement).backgroundColor`)); err != nil || got != want {
			t.Errorf("%s: the ground is %s: %v", scheme, got, err)
		}
	}
}

// colours has the device ask for dark or light.
func colours(t *testing.T, ctx context.Context, scheme string) {
	t.Helper()
	_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
	if err != nil {
		t.Fatal(err)
	}
}

// The README's picture, made by scripts/screenshots.
func TestBrowserPictures(t *testing.T) {
	ctx := openPage(t)
	if *pictures == "" {
		t.Skip("no folder for pictures")
	}
	colours(t, ctx, "dark")
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(960, 1080)); err != nil {
		t.Fatal(err)
	}
	png, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	if err == nil {
		err = os.WriteFile(filepath.Join(*pictures, "practice.png"), png, 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
}
