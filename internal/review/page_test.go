package review

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// nasty is a journal whose every word wants to be more than a word.
func nasty() string {
	const word = `<script>alert(1)</script>\"'&]]>--><img src=x onerror=alert(2)>\u0000\u001b[2Jend`
	return `{"k":"bedd journal","version":1,"program":"` + word + `","rig":{"name":"` + word + `","text":"x: 1"},"title":"` + word + `",` +
		`"moments":[{"for":"` + word + `","song":"` + word + `","cue":"` + word + `","key":"C","home":["C","F"],"next_key":"C","next_chord":"<b>"}],"ports":[{"way":"out","name":"` + word + `"}]}` + "\n" +
		`{"t":1000000000,"k":"ask","do":"step","i":0.3,"src":"foot","voices":3,"phase":"rising","chord":{"symbol":"<b>","degree":"<i>&","key":"<u>","place":"home","bass":36,"upper":[60,64,67],"struck":[36,60,64,67],"held":[],"released":[]},"a":[["did","bring-in"],["chord","C"],["on",0,36,64],["on",0,60,64]]}` + "\n" +
		`{"t":2000000000,"k":"cue","text":"` + word + `"}` + "\n" + `{"t":2000000000,"k":"notice","text":"` + word + `"}` + "\n" +
		`{"t":3000000000,"k":"port","p":0}` + "\n" + `{"t":3500000000,"k":"flood","p":0,"count":3}` + "\n" + `{"t":4000000000,"k":"wire","p":0,"load":{"baud":31250,"bytes":9,"sent":9}}` + "\n"
}

// tag is an element's beginning in a page.
var tag = regexp.MustCompile(`<([a-z0-9]+)((?:\s+[a-zA-Z-]+(?:="[^"]*")?)*)\s*/?>`)

// The elements and attributes that the page is made of. None of them runs or fetches
// anything.
var elements = strings.Fields("html meta title style main header section div h1 h2 h3 p span ul li table caption tr th td svg path text rect")
var attributes = strings.Fields("lang charset name content http-equiv class scope tabindex aria-hidden aria-label role viewBox d x y width height text-anchor")

// checkPage finds what a page must not have.
func checkPage(t tester, page string) {
	t.Helper()
	body := regexp.MustCompile(`(?s)<style>.*?</style>`).ReplaceAllString(page, "<style></style>")
	for _, m := range tag.FindAllStringSubmatch(body, -1) {
		if !slices.Contains(elements, m[1]) {
			t.Errorf("the page has an element %s", m[0])
		}
		for _, a := range regexp.MustCompile(`([a-zA-Z-]+)="[^"]*"`).FindAllStringSubmatch(m[2], -1) {
			if !slices.Contains(attributes, a[1]) {
				t.Errorf("the page has an attribute %s in %s", a[1], m[0])
			}
		}
	}
	if n := strings.Count(body, "<") - len(tag.FindAllString(body, -1)) - len(regexp.MustCompile(`</[a-z0-9]+>`).FindAllString(body, -1)); n != 1 {
		t.Errorf("%d signs < are no tag's, want 1 for the doctype", n)
	}
	for _, never := range []string{"<script", "<img", "url(", "@import", "javascript:"} {
		if strings.Contains(page, never) {
			t.Errorf("the page has %s", never)
		}
	}
	// Each opened element is closed, in order; HTML lets meta alone be open.
	var open []string
	for _, m := range regexp.MustCompile(`<(/?)([a-z0-9]+)[^>]*?(/?)>`).FindAllStringSubmatch(body, -1) {
		switch {
		case m[2] == "meta" || m[3] == "/":
		case m[1] == "":
			open = append(open, m[2])
		case len(open) == 0 || open[len(open)-1] != m[2]:
			t.Errorf("</%s> closes %v", m[2], open)
			return
		default:
			open = open[:len(open)-1]
		}
	}
	if len(open) > 0 {
		t.Errorf("open to the end: %v", open)
	}
}

// drawings gives the page's drawings, which must be XML.
func drawings(t tester, page string) (list []string) {
	t.Helper()
	list = regexp.MustCompile(`(?s)<svg .*?</svg>`).FindAllString(page, -1)
	for _, svg := range list {
		d := xml.NewDecoder(strings.NewReader(svg))
		for {
			token, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Errorf("a drawing is no XML: %v\n%s", err, svg)
				break
			}
			if e, ok := token.(xml.StartElement); ok {
				inside(t, svg, e)
			}
		}
	}
	return list
}

// inside reports what stands outside its drawing.
func inside(t tester, svg string, e xml.StartElement) {
	t.Helper()
	var wide, high float64
	fmt.Sscanf(svg, `<svg viewBox="0 0 %f %f"`, &wide, &high)
	for _, a := range e.Attr {
		most := wide
		switch a.Name.Local {
		case "y":
			most = high
		case "x":
		default:
			continue
		}
		if v, err := strconv.ParseFloat(a.Value, 64); err != nil || math.IsNaN(v) || v < 0 || v > most {
			t.Errorf("%s stands at %s %s of %v", e.Name.Local, a.Name.Local, a.Value, most)
		}
	}
}

func TestPageIsWhole(t *testing.T) {
	s := reviewed(t, evening)
	page := pageOf(t, s, nil)
	checkPage(t, page)
	if n := len(drawings(t, page)); n < 4 {
		t.Errorf("%d drawings", n)
	}
	for _, want := range []string{"<h1>Winter Lights in the net loft</h1>", "Content-Security-Policy", "the last words of Maud Terrick&#39;s talk", ">Bbmaj7</text>", "And that is why we light them.", "in Stage: the device is gone",
		"<caption>landings</caption>", `content="default-src 'none'; style-src 'unsafe-inline'"`} {
		if !strings.Contains(page, want) {
			t.Errorf("the page has no %s", want)
		}
	}
	both := pageOf(t, s, s)
	checkPage(t, both)
	if !strings.Contains(both, "<h2>Beside Winter Lights in the net loft</h2>") || strings.Contains(page, "Beside") {
		t.Error("the other session is missing, or on the page of one")
	}
	if size := len(page); size > 100<<10 {
		t.Errorf("the page of a minute has %d bytes", size)
	}
}

// No word of a plan, a rig, a port or a cue is more than a word, wherever it is told.
func TestNastyWordsStayWords(t *testing.T) {
	s := readText(t, nasty())
	if len(s.Chords) != 1 || len(s.Cues) != 1 || len(s.Notices) < 2 || len(s.Wires) != 1 {
		t.Fatalf("it reads as %+v", s)
	}
	page := pageOf(t, s, s)
	checkPage(t, page)
	drawings(t, page)
	lines := linesOf(t, s, View{Width: 80}) + linesOf(t, s, View{Width: 80, Chords: true})
	var beside strings.Builder
	if err := Beside(&beside, s, s, 80); err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{lines, beside.String()} {
		if strings.Contains(text, "\x00") || strings.Contains(text, "\x1b[2J") {
			t.Errorf("a word steers the terminal:\n%q", text)
		}
		if !strings.Contains(text, "<script>alert(1)</script>") {
			t.Error("the words are missing")
		}
	}
}

// The lines of the score cover all that sounded, and are few however long it was and
// however often the bed came in.
func TestScoreCoversWhatSounded(t *testing.T) {
	for _, minutes := range []int{1, 7, 55, 600, 60000} {
		for _, beds := range []int{1, 3, 500} {
			length := time.Duration(minutes) * time.Minute
			s := &Session{Length: length, Visits: []Visit{{To: length}}}
			each := length / time.Duration(beds)
			for i := range time.Duration(beds) {
				s.Beds = append(s.Beds, Stretch{From: i * each, To: i*each + each*2/3})
			}
			c := newScore(s)
			lines, covered := 0, map[int]bool{}
			for _, x := range c.passages(s.Visits[0]) {
				lines += len(c.draw(x))
				for i, b := range s.Beds {
					if b.From >= x.from && b.To <= x.to {
						covered[i] = true
					}
				}
			}
			if n := c.lines(); n != lines || n > mostLines || len(covered) != beds {
				t.Errorf("%d minutes and %d beds are %d lines, counted as %d, with %d of the beds", minutes, beds, lines, n, len(covered))
			}
		}
	}
}
