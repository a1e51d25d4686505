package review

import (
	"strings"
	"testing"

	"github.com/charmbracelet/x/ansi"
)

func TestTimelineOfTheDemo(t *testing.T) {
	s := reviewed(t, evening)
	golden(t, "winter-lights-100.txt", linesOf(t, s, View{Width: 100}))
	golden(t, "winter-lights-chords.txt", linesOf(t, s, View{Width: 80, Chords: true}))
}

// Lines fit whatever letters a plan is written in: some are two columns wide.
func TestWideLettersFit(t *testing.T) {
	s := reviewed(t, evening)
	s.Title = strings.Repeat("冬の灯り ", 30)
	s.Moments[0].Title = strings.Repeat("長い話の最後の言葉", 12)
	s.Cues[0].Words = strings.Repeat("最後のページ ", 40)
	for _, width := range []int{60, 80, 119} {
		for _, line := range strings.Split(linesOf(t, s, View{Width: width}), "\n") {
			if n := ansi.StringWidth(line); n > width {
				t.Errorf("a line is %d columns wide, of %d: %s", n, width, line)
			}
		}
	}
}
