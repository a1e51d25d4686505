package review

import (
	"io"
	"os"
	"strings"
	"testing"

	"bedd/internal/journal"
)

// Whatever a file says, it is refused or told of: nothing panics, nothing hangs, no
// time goes back, and the page is a page.
func FuzzReview(f *testing.F) {
	text, err := os.ReadFile(evening)
	if err != nil {
		f.Fatal(err)
	}
	head, rest, _ := strings.Cut(string(text), "\n")
	bare := `{"k":"bedd journal","version":1,"moments":[{"key":"C","home":["C","F"],"next_chord":"G"}],"ports":[{"way":"out","name":"Module"}]}` + "\n"
	f.Add(head + "\n" + rest[:len(rest)/40])
	f.Add(bare + rest[:len(rest)/40])
	f.Add(nasty())
	f.Add(bare + `{"t":5,"chord":{"symbol":"G","place":"landing"},"a":[["did","land"],["chord","G"]]}` + "\n" + `{"t":3,"i":1,"src":"foot","voices":9,"phase":"silent","a":[["silence"],["moment",200]]}` + "\n")
	f.Add(bare + `{"t":0,"i":0.5,"src":"stay","voices":1,"phase":"holding","a":[["chord","C"]],"chord":{"symbol":"C","place":"home","upper":[127,0]}}` + "\n" + `{"t":3600000000000000,"k":"closed"}` + "\n")
	f.Add(bare + `{"t":9,"k":"port","p":5}` + "\n" + `{"t":1,"k":"gap","calls":1}` + "\n" + `{"t":1,"k":"flood","p":0,"count":18446744073709551615}` + "\n")
	f.Fuzz(func(t *testing.T, text string) {
		r, err := journal.NewReader("x", strings.NewReader(text))
		if err != nil {
			return
		}
		s, err := read("x", r, false, func(int64) {})
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range s.Chords {
			if c.To < c.From || i > 0 && c.From < s.Chords[i-1].To {
				t.Errorf("chord %d sounds from %v to %v", i, c.From, c.To)
			}
		}
		for _, list := range [][]Note{s.Struck, s.Played} {
			for _, n := range list {
				if n.To < n.From || n.To > s.Length {
					t.Errorf("a note sounds from %v to %v of %v", n.From, n.To, s.Length)
				}
			}
		}
		linesOf(t, s, View{Width: 80})
		linesOf(t, s, View{Width: 60, Chords: true})
		page := pageOf(t, s, s)
		checkPage(t, page)
		drawings(t, page)
		for _, write := range []func(io.Writer) error{s.CSV, func(w io.Writer) error { return s.JSON(w, s) }} {
			if err := write(io.Discard); err != nil {
				t.Error(err)
			}
		}
	})
}
