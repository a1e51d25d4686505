package review

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"
)

// luminance is WCAG 2.2's relative luminance of a colour such as #c8964a or #bbb.
func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	if len(hex) == 4 {
		hex = fmt.Sprintf("#%c%c%c%c%c%c", hex[1], hex[1], hex[2], hex[2], hex[3], hex[3])
	}
	var c [3]int
	if _, err := fmt.Sscanf(hex, "#%02x%02x%02x", &c[0], &c[1], &c[2]); err != nil {
		t.Fatalf("%q: %v", hex, err)
	}
	l := 0.0
	for i, part := range []float64{0.2126, 0.7152, 0.0722} {
		v := float64(c[i]) / 255
		if v <= 0.04045 {
			v /= 12.92
		} else {
			v = math.Pow((v+0.055)/1.055, 2.4)
		}
		l += part * v
	}
	return l
}

// Text has a contrast of at least 4.5 : 1 and what is drawn of 3 : 1 (WCAG 2.2, 1.4.3
// and 1.4.11), on a screen and on paper, on the ground and in the strips.
func TestPageColoursAreReadable(t *testing.T) {
	screen, paper, found := strings.Cut(pageStyle, "@media print")
	if !found {
		t.Fatal("there is no style for paper")
	}
	for name, style := range map[string]string{"screen": screen, "paper": paper} {
		colours := map[string]string{}
		for _, m := range regexp.MustCompile(`--([a-z]+): (#[0-9a-f]+);`).FindAllStringSubmatch(style, -1) {
			colours[m[1]] = m[2]
		}
		contrast := func(front, back string, least float64) {
			t.Helper()
			a, b := luminance(t, colours[front]), luminance(t, colours[back])
			if got := (max(a, b) + 0.05) / (min(a, b) + 0.05); got < least {
				t.Errorf("on %s %s on %s has a contrast of %.2f : 1, want %.1f", name, front, back, got, least)
			}
		}
		for _, text := range []string{"plain", "strong", "dim", "alarm"} {
			contrast(text, "ground", 4.5)
		}
		for _, drawn := range []string{"moved", "held", "level"} {
			contrast(drawn, "ground", 3)
		}
		for _, strip := range []string{"home", "away", "landing", "hand"} {
			contrast("strong", strip, 4.5)
		}
	}
}
