package glance

import (
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"bedd/internal/bed"

	"github.com/charmbracelet/x/ansi"
)

// hostileNames are names that would do something to a terminal: clear it, rename its
// window, write backwards, begin a row.
var hostileNames = map[string]string{
	"\x1b[2JStage": "\uFFFD[2JStage", "\x1b]0;x\aStage": "\uFFFD]0;x\uFFFDStage", "\u009b2J": "\uFFFD2J", "a\u202Eb": "a\uFFFDb",
	"two\nrows\r": "two\uFFFDrows\uFFFD", "\xff": "\uFFFD", "\u2028": "\uFFFD", "\x00\x7f\t": "\uFFFD\uFFFD\uFFFD",
}

func TestPlainKeepsOnlyWhatCanBeShown(t *testing.T) {
	for given, want := range hostileNames {
		if got := Plain(given); got != want {
			t.Errorf("%q becomes %q, want %q", given, got, want)
		}
	}
	for _, fine := range []string{"", "the prayer, then The Lights Along the Quay", "E♭maj7/G ▸ ●", "Übung 灯台 👩‍🎤"} {
		if got := Plain(fine); got != fine {
			t.Errorf("%q becomes %q", fine, got)
		}
	}
}

// TestNoNameIsObeyed: whatever titles, devices and news are called, the model has
// nothing but text.
func TestNoNameIsObeyed(t *testing.T) {
	for name := range hostileNames {
		var w Watch
		w.Moment(name, 0, 0)
		w.Say(0, name)
		m := w.Model(time.Second, bed.View{}, []Link{{name, "in", true}}, 60, 84, 0)
		for _, text := range []string{m.Title, m.Links[0].Name, m.News[0]} {
			if text != Plain(name) {
				t.Errorf("%q is shown as %q", name, text)
			}
		}
		picture := Draw(m, 80, 24)
		if strings.ContainsAny(ansi.Strip(picture), "\x1b\r\a\x00\u009b") || strings.Count(picture, "\n") >= 24 {
			t.Errorf("%q: the picture is %q", name, picture)
		}
	}
}

func FuzzPlain(f *testing.F) {
	for name := range hostileNames {
		f.Add(name)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got := Plain(s)
		if !utf8.ValidString(got) || ansi.Strip(got) != got || Plain(got) != got || utf8.RuneCountInString(got) != len([]rune(s)) {
			t.Errorf("%q becomes %q", s, got)
		}
	})
}
