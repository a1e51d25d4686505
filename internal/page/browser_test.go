package page

import (
	"context"
	"flag"
	"fmt"
	"os"
	"slices"
	"sync"
	"testing"
	"time"

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
	if len(os.Args) == 2 && os.Args[1] == "page" { // a page's process, see apart
		if Serve(os.Stdin, os.Stdout) != nil {
			os.Exit(1)
		}
		os.Exit(0)
	}
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
		Elapsed: 92, OnThis: 41, Lasts: 300,
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
	plan := choosing()
	m.Landing, m.Lands, m.Walks, m.Prompt, m.Songs, m.Choice = plan.Landing, true, true, plan.Prompt, plan.Songs, plan.Choice
	m.Hears = listens().Hears
	m.News = []string{"what your keys send on the bed's channels is left out where the bed plays"}
	return m
}

// listens is one whose player is listened for, in the most words that there are.
func listens() glance.Model {
	m := sample()
	m.Title, m.Source, m.Hears = "while somebody speaks", "listening", "hears: silence, settles, 0.3, eased 12 dB for the words"
	return m
}

// choosing is one whose player is asked for the next song, with long titles, on a way
// of four chords, at a time for something.
func choosing() glance.Model {
	m := sample()
	m.Landing, m.Lands, m.Walks = []string{"Cm7/Eb", "F7sus4", "F7", "Bbmaj7(#11)"}, true, true
	m.Prompt = "this has gone round long enough: land, or play a chord of your own"
	m.Songs = []glance.Song{{Title: "The Lights Along the Quay and the Boats That Have Come Home Before Nightfall", Key: "Eb", Used: true},
		{Title: "<b>Abbey</b> & harbour", Key: "F#m", Next: true}, {Title: "Nobodyknowsthekeyofthisoneanditstitlehasnotasinglespaceinit"}}
	m.Choice = &glance.Choice{What: "next song", At: 1, Used: []int{1}, Answers: []string{"none",
		m.Songs[0].Title + " in Eb", m.Songs[1].Title + " in F#m", m.Songs[2].Title}}
	return m
}

// open serves a page for a test and shows a model many times a second, as bedd
// does, until the test changes it.
type served struct {
	*Process
	show chan glance.Model
	said chan string
	code chan string
}

func open(t *testing.T, address string, control bool) *served {
	t.Helper()
	o := &served{show: make(chan glance.Model), said: make(chan string, 100), code: make(chan string, 100)}
	o.Process, _ = apart(t, Config{Address: address, Control: control,
		Say: func(line string) { o.said <- line }, NewCode: func(code string) { o.code <- code }})
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

// url is the page's address on this machine.
func (o *served) url() string { return fmt.Sprintf("http://127.0.0.1:%d/", o.local.Port()) }

const (
	thisMachine = "127.0.0.1:0"
	everywhere  = "0.0.0.0:0"
)
