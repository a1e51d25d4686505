package page

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/glance"

	"github.com/chromedp/chromedp"
)

// The tests in a browser run where make test-page says which; elsewhere they skip.
var (
	chromium = flag.String("chromium", "", "the Chromium to test the page in")
	axe      = flag.String("axe", "", "the file axe.min.js of axe-core")
	pictures = flag.String("pictures", "", "leave pictures of the page in this folder")
)

// patience is how long a browser on a busy machine may take.
const patience = 30 * time.Second

// browser is a tab that looks at a server.
type browser struct {
	t   *testing.T
	ctx context.Context
}

func newBrowser(t *testing.T) browser {
	t.Helper()
	if *chromium == "" {
		t.Skip("no browser: run make test-page")
	}
	started.Do(func() { started.err = chromedp.Do(started.ctx, chromedp.Navigate("about:blank")) })
	if started.err != nil {
		t.Fatal(started.err)
	}
	ctx, stop := chromedp.NewContext(started.ctx)
	t.Cleanup(stop)
	if err := chromedp.Do(ctx, chromedp.Navigate("about:blank")); err != nil { // the tab lives until the test ends
		t.Fatal(err)
	}
	return browser{t, ctx}
}

// started is the one browser of all tests, once there is one.
var started struct {
	sync.Once
	ctx context.Context
	err error
}

func TestMain(m *testing.M) {
	flag.Parse()
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(*chromium))
	if os.Getuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	ctx, stop := chromedp.NewExecAllocator(context.Background(), options...)
	started.ctx, _ = chromedp.NewContext(ctx)
	code := m.Run()
	stop()
	os.Exit(code)
}

// limited is a context for what should not take long.
func (b browser) limited() (context.Context, context.CancelFunc) {
	return context.WithTimeout(b.ctx, patience)
}

func (b browser) do(actions ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, stop := b.limited()
	defer stop()
	if err := chromedp.Do(ctx, actions...); err != nil {
		b.t.Fatal(err)
	}
}

// run runs a script in the page.
func (b browser) run(script string) {
	b.t.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](script))
}

// until waits until an expression is true in the page, or in the one that comes
// after it.
func (b browser) until(expression string) {
	b.t.Helper()
	ctx, stop := b.limited()
	defer stop()
	wait := fmt.Sprintf(`new Promise((done) => { const look = () => { if (%s) done(true); else setTimeout(look, 5); }; look(); })`, expression)
	var err error
	for ctx.Err() == nil {
		if _, err = chromedp.Run(ctx, chromedp.Evaluate[bool](wait, chromedp.EvalAwaitPromise)); err == nil {
			return
		}
	}
	b.t.Fatalf("%s: %v; the page:\n%s", expression, err, eval[string](b, `location.href + "\n" + document.body.innerText`))
}

// reads waits until an element shows a text.
func (b browser) reads(id, text string) {
	b.t.Helper()
	b.until(fmt.Sprintf("document.getElementById(%q)?.textContent === %q", id, text))
}

func (b browser) live() {
	b.t.Helper()
	b.until(`document.body.dataset.link === "live"`)
}

// eval gives what an expression is in the page.
func eval[T any](b browser, expression string) T {
	b.t.Helper()
	ctx, stop := b.limited()
	defer stop()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		b.t.Fatalf("%s: %v", expression, err)
	}
	return v
}

// drawn waits until what has changed is drawn.
func (b browser) drawn() {
	b.t.Helper()
	b.run(`window.drawn = false; requestAnimationFrame(() => requestAnimationFrame(() => { window.drawn = true; }))`)
	b.until("window.drawn")
}

func (b browser) size(width, height int64) {
	b.t.Helper()
	b.do(chromedp.EmulateViewport(width, height))
}

func (b browser) choose(id, value string) {
	b.t.Helper()
	b.run(fmt.Sprintf(`{
		const e = document.getElementById(%q);
		e.value = %q;
		e.dispatchEvent(new Event("change", {bubbles: true}));
	}`, id, value))
}

// sample is a bed that sounds.
func sample() glance.Model {
	return glance.Model{
		Title: "after the harbour master", Key: "Bb", Chord: "Gm7", Degree: "6m7", Next: "Ebmaj7/G", Step: "swap",
		Phase: "holding", Sounds: true, Intensity: 0.62, Source: "trend", Voices: 5,
		Notes: []glance.Note{{Number: 43, Name: "G2", Mark: glance.Moved}, {Number: 53, Name: "F3", Mark: glance.Held},
			{Number: 58, Name: "Bb3", Mark: glance.Held}, {Number: 62, Name: "D4", Mark: glance.Moved},
			{Number: 65, Name: "F4", Mark: glance.Safe}, {Number: 70, Name: "Bb4", Mark: glance.Safe}, {Number: 74, Name: "D5", Mark: glance.Safe}},
		Elapsed: 92, Lasts: 300,
		Links: []glance.Link{{Name: "Stage", Way: "in", Up: true}, {Name: "Module", Way: "out", Up: true}},
		Foot:  "swap", FootAt: 5,
	}
}

// crowded is one with as much to show as there can be.
func crowded() glance.Model {
	m := sample()
	m.Title, m.Fingers = "the prayer for those who are at sea, then The Lights Along the Quay", "C"
	m.Chord, m.Next, m.Degree = "F#m7b5/C", "C#7(b9,#11)/G#", "#4m7b5/1"
	m.Stay, m.Follow, m.Elapsed, m.Longest, m.Missing = true, true, 4000, 360, []string{"C#", "E"}
	m.Links = append(m.Links, glance.Link{Name: "Foot controller with a long name", Way: "in"})
	m.News = []string{"what your keys send on the bed's channels is left out where the bed plays"}
	return m
}

// open serves a page for a test and shows a model many times a second, as bedd
// does, until the test changes it.
type served struct {
	*Server
	show chan glance.Model
	said chan string
	code chan string
}

func open(t *testing.T, address string, control bool) *served {
	t.Helper()
	o := &served{show: make(chan glance.Model), said: make(chan string, 100), code: make(chan string, 100)}
	var err error
	o.Server, err = Open(Config{Address: address, Control: control,
		Say: func(line string) { o.said <- line }, NewCode: func(code string) { o.code <- code }})
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		m := sample()
		tick := time.NewTicker(100 * time.Millisecond)
		defer tick.Stop()
		for {
			o.Show(m)
			select {
			case <-tick.C:
			case next, more := <-o.show:
				if !more {
					return
				}
				m = next
			}
		}
	}()
	t.Cleanup(func() { close(o.show); <-done; o.Close() })
	return o
}

// local is the page's address on this machine.
func (o *served) local() string { return fmt.Sprintf("http://127.0.0.1:%d/", o.Addr().Port) }

const (
	thisMachine = "127.0.0.1:0"
	everywhere  = "0.0.0.0:0"
)

func TestBrowserShowsTheModel(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, false)
	b.do(chromedp.Navigate(s.local()))
	b.live()
	b.reads("chord", "Gm7")
	b.reads("next", "E♭maj7/G")
	b.reads("degree", "6m7")
	b.reads("step", "left foot: swap ▸")
	b.reads("title", "after the harbour master")
	b.reads("key", "key B♭")
	b.reads("time", "1:32 of 5:00")
	b.reads("phase", "holding, 62 %, trend, 5 voices")
	b.reads("notes", "◆G2●F3●B♭3◆D4")
	b.reads("links", "Stage ▸▸ Module")
	b.reads("foot", "last: swap, 0:05 ago")
	b.reads("said", "Gm7, then E flat maj7 over G")
	if got := eval[string](b, `document.getElementById("keys").getAttribute("aria-label")`); got != "Keyboard. Held: F3 B♭3. Moved: G2 D4. Safe for the right hand: F4 B♭4 D5." {
		t.Errorf("the keyboard is called %q", got)
	}
	if n := eval[int](b, `document.querySelectorAll("#keys circle.held").length * 100 + document.querySelectorAll("#keys path.moved").length * 10 + document.querySelectorAll("#keys circle.safe").length`); n != 223 {
		t.Errorf("held, moved and safe: %d, want 223", n)
	}
	s.show <- crowded()
	b.reads("chord", "F♯m7♭5/C")
	b.reads("key", "sounds in B♭, hands in C")
	b.reads("time", "66:40 of 5:00 over")
	b.reads("links", "Stage ▸▸ Module✕ Foot controller with a long name LOST ▸")
	b.until(`!document.getElementById("stay").hidden && !document.getElementById("follow").hidden`)
}

// TestBrowserShowsAChordChangeAtOnce measures from the moment in which bedd gives
// a model to the first picture that has its chord.
func TestBrowserShowsAChordChangeAtOnce(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, false)
	b.do(chromedp.Navigate(s.local()))
	b.live()
	b.run(`window.seen = {};
		new MutationObserver(() => {
			const chord = document.getElementById("chord").textContent;
			requestAnimationFrame(() => { window.seen[chord] ??= performance.timeOrigin + performance.now(); });
		}).observe(document.getElementById("chord"), {childList: true});`)
	var late []float64 // ms
	for i := range 40 {
		m := sample()
		m.Chord = []string{"C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A"}[i%10] + []string{"", "m", "7", "m7"}[i/10]
		start := float64(time.Now().UnixMicro()) / 1000
		s.show <- m
		seen := fmt.Sprintf("window.seen[%q]", pretty(m.Chord))
		b.until(seen)
		late = append(late, eval[float64](b, seen)-start)
	}
	slices.Sort(late)
	t.Logf("from the event to the picture: median %.1f ms, 95 %% within %.1f ms, at most %.1f ms", late[20], late[37], late[39])
	if late[20] > 100 {
		t.Errorf("half of the chords took longer than %.0f ms, want at most 100", late[20])
	}
}

func pretty(symbol string) string {
	if len(symbol) > 1 && symbol[1] == 'b' {
		return symbol[:1] + "♭" + symbol[2:]
	}
	return strings.ReplaceAll(symbol, "#", "♯")
}

func TestBrowserConnectsAgainAfterARestart(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, false)
	address := s.Addr().String()
	b.do(chromedp.Navigate(s.local()))
	b.live()
	s.Close()
	b.until(`document.body.dataset.link === "lost"`)
	b.reads("trouble", "No word from bedd: what you see is old. Trying again.")
	again := open(t, address, false)
	b.live()
	b.reads("trouble", "")
	m := sample()
	m.Chord = "Dm"
	again.show <- m
	b.reads("chord", "Dm")
}

func TestBrowserPairs(t *testing.T) {
	b := newBrowser(t)
	s := open(t, everywhere, false)
	code := s.Code()
	b.do(chromedp.Navigate(s.local()))
	b.until(`location.pathname === "/pair"`)
	wrong := "000 000"
	if code == wrong {
		wrong = "000 001"
	}
	b.do(chromedp.SendKeys("#code", wrong+"\r"))
	b.reads("trouble", errWrong.Error())
	b.do(chromedp.SendKeys("#code", code+"\r"))
	b.until(`location.pathname === "/"`)
	b.live()
	b.reads("chord", "Gm7")
	if text := eval[string](b, "document.cookie"); text != "" {
		t.Errorf("a script can read the cookie %q", text)
	}
	if next := <-s.code; next == code || next != s.Code() {
		t.Errorf("after %s the code is %s", code, next)
	}
	// Another run of bedd knows nobody: the page asks for the code by itself.
	address := s.Addr().String()
	s.Close()
	again := open(t, address, false)
	b.until(`location.pathname === "/pair"`)
	b.do(chromedp.SendKeys("#code", again.Code()+"\r"))
	b.live()
}

func TestBrowserGivesOrdersWhereItMay(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, true)
	b.do(chromedp.Navigate(s.local()))
	b.live()
	b.until(`!document.getElementById("orders").hidden`)
	names := eval[[]string](b, `[...document.querySelectorAll("[data-order]")].map((e) => e.dataset.order)`)
	if len(names) != 19 {
		t.Errorf("%d buttons", len(names))
	}
	for _, name := range names {
		want, err := gathering.ParseOrder(name)
		if err != nil {
			t.Fatal(err)
		}
		b.run(fmt.Sprintf(`document.querySelector("[data-order=%s]").click()`, name))
		select {
		case got := <-s.Orders():
			if got != want {
				t.Errorf("the button %s orders %v", name, got)
			}
		case <-time.After(patience):
			t.Fatalf("the button %s orders nothing", name)
		}
	}
	// By the keyboard: the first stop is step.
	b.do(chromedp.KeyEvent("\t"), chromedp.KeyEvent(" "))
	if got := <-s.Orders(); got.String() != "step" {
		t.Errorf("tab and space order %v", got)
	}
	// Nobody takes them: the next is refused, and the page says so.
	for range maxOrders + 1 {
		b.run(`document.querySelector("[data-order=step]").click()`)
	}
	b.until(`document.getElementById("trouble").textContent.startsWith("bedd is busy: press again")`)
}

func TestBrowserIsRefusedControl(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, false)
	b.do(chromedp.Navigate(s.local()))
	b.live()
	if !eval[bool](b, `document.getElementById("orders").hidden && document.getElementById("more").hidden`) {
		t.Error("there are buttons")
	}
	b.run(`fetch("order", {method: "POST", body: "step"}).then(async (a) => { window.answer = a.status + " " + await a.text(); })`)
	b.until(`window.answer === "403 this page may only look: start bedd with --page-control\n"`)
	select {
	case o := <-s.Orders():
		t.Errorf("it ordered %v", o)
	default:
	}
}

func TestBrowserTransposes(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, false)
	b.do(chromedp.Navigate(s.local()))
	b.live()
	b.choose("show", "reading")
	b.choose("transpose", "-3")
	b.reads("chord", "Em7")
	b.reads("next", "Cmaj7/E")
	b.reads("key", "you read in G, it sounds in B♭")
	b.reads("step", "then")
	b.do(chromedp.Reload()) // the device remembers
	b.reads("chord", "Em7")
	b.choose("transpose", "2")
	b.reads("chord", "Am7")
	b.choose("transpose", "0")
	b.reads("chord", "Gm7")
	b.reads("key", "key B♭")
}

var sizes = []struct{ width, height int64 }{{360, 640}, {768, 1024}, {1280, 800}}

// TestBrowserFitsTheScreen measures: nothing needs scrolling, sticks out of the
// window, or is wider than its own box, and no button is smaller than 44 by 44
// (WCAG 2.2, 2.5.8 asks for 24, 2.5.5 for 44).
func TestBrowserFitsTheScreen(t *testing.T) {
	b := newBrowser(t)
	for _, control := range []bool{false, true} {
		s := open(t, thisMachine, control)
		b.do(chromedp.Navigate(s.local()))
		for name, m := range map[string]glance.Model{"sample": sample(), "crowded": crowded()} {
			s.show <- m
			for _, view := range []string{"stage", "reading"} {
				b.choose("show", view)
				for _, size := range sizes {
					b.size(size.width, size.height)
					b.live()
					b.reads("title", m.Title)
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

// TestBrowserPictures makes the README's pictures, where they are wanted.
func TestBrowserPictures(t *testing.T) {
	if *pictures == "" {
		t.Skip("no folder for pictures: run scripts/screenshots")
	}
	b := newBrowser(t)
	s := open(t, thisMachine, true)
	b.size(1280, 800)
	b.do(chromedp.Navigate(s.local()))
	b.live()
	b.until(`Math.abs(document.getElementById("full").clientWidth / document.getElementById("gauge").clientWidth - 0.62) < 0.01`)
	b.picture("page-tablet")
	reads := open(t, thisMachine, false)
	b.size(360, 640)
	b.do(chromedp.Navigate(reads.local()))
	b.live()
	b.choose("show", "reading")
	b.choose("transpose", "-3")
	b.reads("chord", "Em7")
	b.drawn()
	b.picture("page-phone")
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
	b.do(chromedp.Navigate(s.local()))
	b.until(`location.pathname === "/pair"`)
	check("pairing")
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
	b.choose("show", "reading")
	b.choose("transpose", "-3")
	b.reads("chord", "D♯m7♭5/A")
	check("reading")
	s.Close()
	b.until(`document.body.dataset.link === "lost"`)
	check("lost")
}

// TestBrowserAsksNobodyElse: with its policy the page draws itself without a fault,
// and everything that it loads comes from its own address.
func TestBrowserAsksNobodyElse(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, true)
	b.do(chromedp.Navigate(s.local()))
	b.live()
	got := eval[[]string](b, `performance.getEntriesByType("resource").map((e) => new URL(e.name).host)`)
	if len(got) < 3 {
		t.Errorf("it has loaded %q", got)
	}
	for _, host := range got {
		if host != net.JoinHostPort("127.0.0.1", fmt.Sprint(s.Addr().Port)) {
			t.Errorf("it asks %s", host)
		}
	}
	b.run(`document.addEventListener("securitypolicyviolation", (e) => { window.violated = e.violatedDirective; });
		const e = document.createElement("script"); e.textContent = "window.inline = true"; document.body.append(e)`)
	b.until(`window.violated === "script-src-elem" && window.inline === undefined`)
}
