package page

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"

	"github.com/chromedp/chromedp"
)

func TestBrowserPairs(t *testing.T) {
	b := newBrowser(t)
	s := open(t, everywhere, false)
	code := s.Code()
	b.do(chromedp.Navigate(s.url()))
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
	address := s.local.String()
	s.Close()
	again := open(t, address, false)
	b.until(`location.pathname === "/pair"`)
	b.do(chromedp.SendKeys("#code", again.Code()+"\r"))
	b.live()
}

func TestBrowserGivesOrdersWhereItMay(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, true)
	b.do(chromedp.Navigate(s.url()))
	b.live()
	b.until(`!document.getElementById("orders").hidden`)
	names := eval[[]string](b, `[...document.querySelectorAll("[data-order]")].map((e) => e.dataset.order)`)
	for c := bed.NoCommand + 1; c < bed.NumCommands; c++ {
		if c != bed.KeyTo && !slices.Contains(names, c.String()) { // choose-key leads to every key
			t.Errorf("no button orders %s", c)
		}
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
	for range maxOrders + 3 { // two are on their way
		b.run(`document.querySelector("[data-order=step]").click()`)
	}
	b.until(`document.getElementById("trouble").textContent.startsWith("bedd is busy: press again")`)
}

func TestBrowserIsRefusedControl(t *testing.T) {
	b := newBrowser(t)
	s := open(t, thisMachine, false)
	b.do(chromedp.Navigate(s.url()))
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
