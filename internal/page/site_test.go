package page

import (
	"fmt"
	"io/fs"
	"math"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"bedd/internal/glance"
)

// most is how much the whole page may weigh, with the form that pairs a device.
const most = 60 << 10

func TestThePageIsSmall(t *testing.T) {
	total := 0
	err := fs.WalkDir(site, "site", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := site.ReadFile(name)
		total += len(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("the page is %d bytes", total)
	if total > most || total < 1000 {
		t.Errorf("the page is %d bytes, at most %d", total, most)
	}
}

// TestThePageStandsByItself: it names no other site, and has no script or style but
// its own files, as its policy demands.
func TestThePageStandsByItself(t *testing.T) {
	for _, name := range []string{"index.html", "pair.html", "style.css", "page.js", "icon.svg"} {
		text := strings.ReplaceAll(string(asset(name)), "http://www.w3.org/2000/svg", "")
		for _, bad := range []string{"://", "//cdn", "url(", "@import", "<style", "style=", "onclick", "innerHTML", "eval(", "import "} {
			if strings.Contains(text, bad) {
				t.Errorf("%s has %q in it", name, bad)
			}
		}
	}
	for _, script := range regexp.MustCompile(`<script[^>]*>[^<]*`).FindAllString(string(asset("index.html")), -1) {
		if script != `<script src="page.js" type="module">` {
			t.Errorf("there is a script %q", script)
		}
	}
	w := ask(hall(t, loopback, false), loopback, "GET", "/", "", nil)
	for header, want := range map[string]string{
		"Content-Security-Policy": policy, "X-Content-Type-Options": "nosniff", "Cache-Control": "no-store",
		"Referrer-Policy": "same-origin", "Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin",
		"Content-Type": "text/html; charset=utf-8",
	} {
		if got := w.Header().Get(header); got != want {
			t.Errorf("%s: %q, want %q", header, got, want)
		}
	}
	for _, word := range []string{"default-src 'none'", "base-uri 'none'", "frame-ancestors 'none'", "form-action 'self'"} {
		if !strings.Contains(policy, word) {
			t.Errorf("the policy lacks %s", word)
		}
	}
	if strings.Contains(policy, "unsafe") || strings.Contains(policy, "*") {
		t.Errorf("the policy is %s", policy)
	}
}

func TestTheFilesAreServedAsWhatTheyAre(t *testing.T) {
	s := hall(t, network, false) // unpaired: the form needs its style
	for name, kind := range map[string]string{"style.css": "text/css", "page.js": "text/javascript", "icon.svg": "image/svg+xml"} {
		w := ask(s, network, "GET", "/"+name, "", nil)
		if w.Code != http.StatusOK || w.Header().Get("Content-Type") != kind+"; charset=utf-8" || w.Body.String() != string(asset(name)) {
			t.Errorf("%s: %d, %v", name, w.Code, w.Header())
		}
	}
}

// TestColoursCanBeReadInTheDark: every colour of text has a contrast of at least
// 4.5 : 1 on every ground that it may stand on (WCAG 2.2, 1.4.3).
func TestColoursCanBeReadInTheDark(t *testing.T) {
	style := string(asset("style.css"))
	colours := map[string]string{}
	for _, m := range regexp.MustCompile(`--([a-z]+): (#[0-9a-f]{3,6});`).FindAllStringSubmatch(style[:strings.Index(style, "}")], -1) {
		colours[m[1]] = m[2]
	}
	if len(colours) != 8 {
		t.Errorf("found the colours %v", colours)
	}
	for _, ground := range []string{"ground", "raised"} {
		for name, colour := range colours {
			if name == "ground" || name == "raised" {
				continue
			}
			if c := contrast(t, colour, colours[ground]); c < 4.5 {
				t.Errorf("%s on %s has a contrast of %.2f : 1", name, ground, c)
			}
		}
	}
}

// TestThePageHasTheTerminalsColours: what is amber in one is amber in the other.
func TestThePageHasTheTerminalsColours(t *testing.T) {
	style := string(asset("style.css"))
	for name, want := range map[string]string{
		"ground": glance.Dark.Ground, "plain": glance.Dark.Plain, "strong": glance.Dark.Strong, "dim": glance.Dark.Dim,
		"next": glance.Dark.Next, "alarm": glance.Dark.Alarm, "safe": glance.Dark.Safe,
	} {
		if want = strings.ToLower(want); want == "#000000" {
			want = "#000"
		}
		if !strings.Contains(style, "--"+name+": "+want+";") {
			t.Errorf("%s is not %s", name, want)
		}
	}
}

// contrast is that of WCAG 2.2, from the relative luminances.
func contrast(t *testing.T, a, b string) float64 {
	x, y := luminance(t, a), luminance(t, b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func luminance(t *testing.T, colour string) (sum float64) {
	t.Helper()
	digits := strings.TrimPrefix(colour, "#")
	if len(digits) == 3 {
		digits = fmt.Sprintf("%[1]c%[1]c%[2]c%[2]c%[3]c%[3]c", digits[0], digits[1], digits[2])
	}
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		n, err := strconv.ParseUint(digits[2*i:2*i+2], 16, 8)
		if err != nil {
			t.Fatal(err)
		}
		part := float64(n) / 255
		if part <= 0.04045 {
			part /= 12.92
		} else {
			part = math.Pow((part+0.055)/1.055, 2.4)
		}
		sum += weight * part
	}
	return sum
}

func TestAddresses(t *testing.T) {
	for given, want := range map[string]string{
		"127.0.0.1:62333": "127.0.0.1:62333", "localhost:8080": "127.0.0.1:8080", ":8080": "0.0.0.0:8080",
		"0.0.0.0:62333": "0.0.0.0:62333", "[::]:62333": "[::]:62333", "[::1]:1": "[::1]:1",
		"": "", "62333": "", "127.0.0.1": "", "stage.local:62333": "", "127.0.0.1:0": "", "127.0.0.1:65536": "", "224.0.0.1:80": "", ":": "", "1.2.3.400:5": "",
	} {
		got, err := ParseAddress(given)
		if got != want || (err != nil) != (want == "") {
			t.Errorf("%q is %q, %v; want %q", given, got, err, want)
		}
	}
	_, err := ParseAddress("stage.local:62333")
	if want := `--page "stage.local:62333" is no address: write it as ADDRESS:PORT in numbers, as in 127.0.0.1:62333, or 0.0.0.0:62333 for the whole network`; err.Error() != want {
		t.Errorf("%v", err)
	}
}

func FuzzAddress(f *testing.F) {
	for _, s := range []string{":1", "localhost:1", "[::1%eth0]:1", "127.0.0.1:62333", "x"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, given string) {
		if a, err := ParseAddress(given); err == nil {
			if again, err := ParseAddress(a); err != nil || again != a {
				t.Errorf("%q is %q, which is %q, %v", given, a, again, err)
			}
		}
	})
}
