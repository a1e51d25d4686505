package page

import (
	"fmt"
	"net"
	"slices"
	"strings"
	"testing"
	"time"

	"bedd/internal/glance"

	"github.com/chromedp/chromedp"
)

func TestBrowserShowsTheModel(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, false)
	b.do(chromedp.Navigate(s.url()))
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
	b.reads("this", "on this 0:41")
	for _, id := range []string{"way", "prompt", "takes", "others", "songs"} {
		b.reads(id, "")
	}
	s.show <- crowded()
	b.reads("chord", "F♯m7♭5/C")
	b.reads("key", "sounds in B♭, hands in C")
	b.reads("time", "66:40 of 5:00 over")
	b.reads("links", "Stage ▸▸ Module✕ Foot controller with a long name LOST ▸")
	b.until(`!document.getElementById("stay").hidden && !document.getElementById("follow").hidden`)
}

// TestBrowserShowsThePlan in the terminal's words: the way into the song, the open
// choice, what it is time for, the songs; and what a song is called is text.
func TestBrowserShowsThePlan(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, true)
	b.do(chromedp.Navigate(s.url()))
	b.live()
	m := choosing()
	s.show <- m
	b.reads("way", "the way: Cm7/E♭ F7sus4 F7 B♭maj7(♯11), by itself")
	b.reads("prompt", "time: "+m.Prompt)
	b.reads("takes", "left foot: take next song ▸ ("+m.Songs[0].Title+" in E♭)")
	b.reads("leads", "take next song ▸ ("+m.Songs[0].Title+" in E♭)")
	b.reads("others", "arm: the next one, <b>Abbey</b> & harbour in F♯m …")
	b.reads("step", "then")
	b.until(`document.getElementById("said").textContent.includes("step takes the next song (The Lights")`)
	b.reads("songs", "("+m.Songs[0].Title+" in E♭) used"+"▸ <b>Abbey</b> & harbour in F♯m, next"+m.Songs[2].Title)
	if n := eval[int](b, `document.querySelectorAll("b").length`); n != 0 {
		t.Error("a title is markup")
	}
	m.Choice = &glance.Choice{What: "key", At: 11, Answers: []string{"C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"}}
	m.Prompt, m.Walks, m.Lands = "expected to end in 0:29", false, false
	s.show <- m
	b.reads("takes", "left foot: take key ▸ B")
	b.reads("others", "arm: the next one, C  D♭  D  E♭  E  F  F♯  G  A♭  A  B♭")
	b.reads("way", "") // the next step does not land
	b.reads("said", "Gm7, then E flat maj7 over G; step takes the key B; expected to end soon")
	b.choose("transpose", "-3")
	b.reads("takes", "left foot: take key ▸ B, as it sounds")
	m.Choice, m.Step, m.Prompt = nil, "land", ""
	s.show <- m
	b.reads("way", "the way: Am7/C D7sus4 D7 Gmaj7♯11")
	b.until(`document.getElementById("choice").hidden`)
	b.reads("step", "left foot: land ▸")
}

// TestBrowserShowsAChordChangeAtOnce measures from the moment in which bedd gives
// a model to the first picture that has its chord.
func TestBrowserShowsAChordChangeAtOnce(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, false)
	b.do(chromedp.Navigate(s.url()))
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
	address := s.local.String()
	b.do(chromedp.Navigate(s.url()))
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

func TestBrowserTransposes(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, false)
	b.do(chromedp.Navigate(s.url()))
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

// TestBrowserForgetsWhatItDoesNotKnow: choices that another bedd has kept, or nonsense,
// leave those that there are.
func TestBrowserForgetsWhatItDoesNotKnow(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, false)
	b.do(chromedp.Navigate(s.url()))
	for kept, chord := range map[string]string{
		`{"show": "reading", "transpose": "99"}`: "Gm7", `{"show": "fog", "transpose": "-3"}`: "Em7",
		`{"transpose": -3}`: "Gm7", `"reading"`: "Gm7", `null`: "Gm7", `{`: "Gm7",
	} {
		b.run(fmt.Sprintf(`localStorage.setItem("bedd", %q)`, kept))
		b.do(chromedp.Reload())
		b.live()
		b.reads("chord", chord)
		if got := eval[string](b, `document.getElementById("show").value + document.body.dataset.view`); got != "stagestage" && got != "readingreading" {
			t.Errorf("%s: it shows %s", kept, got)
		}
	}
}

// TestBrowserThatCannotShowSaysSo: a fault in showing is no picture that looks live.
func TestBrowserThatCannotShowSaysSo(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, false)
	b.do(chromedp.Navigate(s.url()))
	b.live()
	b.run(`window.real = document.getElementById.bind(document);
		document.getElementById = (id) => { if (id === "title") throw new Error("a mishap of the test's"); return window.real(id); }`)
	b.until(`document.body.dataset.link === "lost"`)
	b.run(`document.getElementById = window.real`)
	b.live()
}

// TestBrowserAsksNobodyElse: with its policy the page draws itself without a fault,
// and everything that it loads comes from its own address.
func TestBrowserAsksNobodyElse(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, true)
	b.do(chromedp.Navigate(s.url()))
	b.live()
	got := eval[[]string](b, `performance.getEntriesByType("resource").map((e) => new URL(e.name).host)`)
	if len(got) < 3 {
		t.Errorf("it has loaded %q", got)
	}
	for _, host := range got {
		if host != net.JoinHostPort("127.0.0.1", fmt.Sprint(s.local.Port())) {
			t.Errorf("it asks %s", host)
		}
	}
	b.run(`document.addEventListener("securitypolicyviolation", (e) => { window.violated = e.violatedDirective; });
		const e = document.createElement("script"); e.textContent = "window.inline = true"; document.body.append(e)`)
	b.until(`window.violated === "script-src-elem" && window.inline === undefined`)
}
