package review

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"
	"time"

	"bedd/internal/journal"
)

// practice is a practice's journal: the second task was cut short, and nobody knows the
// third.
const practice = `{"k":"bedd journal","version":1,"program":"(test)","began":"2026-11-26T19:00:00Z","rig":{"name":"r","text":""},` +
	`"moments":[{"key":"Eb","home":["Eb"]},{"key":"C","home":["C"]},{"key":"C","home":["C"]}],` +
	`"tasks":[{"exercise":"hold","key":"Eb","level":2},{"exercise":"land","key":"C","level":1},7]}` + "\n" +
	`{"t":1000000000,"k":"task","n":0}` + "\n" +
	`{"t":51000000000,"k":"task","n":0,"over":true,"whole":true,"mark":0.75,"figure":"3 of 4 \u001b[2J<b>held</b>"}` + "\n" +
	`{"t":52000000000,"k":"task","n":1}` + "\n" +
	`{"t":60000000000,"k":"task","n":1,"over":true,"mark":0}` + "\n"

func TestPracticesAreTold(t *testing.T) {
	s := readText(t, practice)
	if s.Title != "practice" || s.MomentTitle(0) != "hold in Eb, level 2" || s.MomentTitle(2) != "task 3" {
		t.Errorf("%q, %q, %q", s.Title, s.MomentTitle(0), s.MomentTitle(2))
	}
	want := []Notice{
		{51 * time.Second, practisedKind, "hold in Eb, level 2: 75 %, 3 of 4 \x1b[2J<b>held</b>", false},
		{60 * time.Second, practisedKind, "land in C, level 1: 0 %, cut short", false},
	}
	if !reflect.DeepEqual(s.Notices, want) {
		t.Errorf("%+v", s.Notices)
	}
	lines := linesOf(t, s, View{Width: 80})
	page := pageOf(t, s, nil)
	for _, text := range []string{lines, page} {
		if !strings.Contains(text, "hold in Eb, level 2: 75 %, 3 of 4") || strings.Contains(text, "\x1b") || strings.Contains(text, "<b>") == (text[0] == '<') {
			t.Error(text)
		}
	}
}

// What a device said is not put in the words of a task that came between.
func TestATaskKeepsItsWords(t *testing.T) {
	s := readText(t, strings.Replace(practice, `"tasks"`, `"ports":[{"way":"out","name":"Module"}],"tasks"`, 1)+
		`{"t":61000000000,"k":"port","p":0,"up":false}`+"\n"+
		`{"t":61000000001,"k":"task","n":2,"over":true,"whole":true,"mark":1}`+"\n"+
		`{"t":61000000002,"k":"notice","text":"Module is gone for good"}`+"\n")
	var words []string
	for _, n := range s.Notices[2:] {
		words = append(words, n.Words)
	}
	if want := []string{"out Module is gone", "task 3: 100 %", "Module is gone for good"}; len(words) != 3 || words[1] != want[1] || words[2] != want[2] {
		t.Errorf("%q", words)
	}
}

// A plan's words go before a task's, and a session that is no practice is called
// nothing of the sort.
func TestTitles(t *testing.T) {
	tasks := []json.RawMessage{[]byte(`{"exercise":"hold","key":"C","level":1}`)}
	for _, c := range []struct {
		header journal.Header
		title  string
	}{{journal.Header{}, ""}, {journal.Header{Title: "Sunday"}, "Sunday"}, {journal.Header{Tasks: tasks}, "practice"}, {journal.Header{Title: "Sunday", Tasks: tasks}, "Sunday"}} {
		if got := Title(c.header); got != c.title {
			t.Errorf("%+v: %q", c.header, got)
		}
	}
	h := journal.Header{Tasks: tasks, Moments: []journal.Moment{{For: "welcome"}}}
	if got := newGatherer("a", &h).s.MomentTitle(0); got != "welcome" {
		t.Error(got)
	}
}
