package review

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bedd/internal/journal"

	"github.com/charmbracelet/x/ansi"
)

var update = flag.Bool("update", false, "write the golden files anew")

// tester is what *testing.T and *rapid.T have in common.
type tester interface {
	Helper()
	Error(...any)
	Errorf(string, ...any)
	Fatal(...any)
	Fatalf(string, ...any)
}

// evening is the demo's journal.
const evening = "../../testdata/winter-lights.jsonl"

// reviewed reads a journal.
func reviewed(t tester, path string) *Session {
	t.Helper()
	s, err := Read(path, nil)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// readText reads a journal that is written out.
func readText(t tester, text string) *Session {
	t.Helper()
	r, err := journal.NewReader("a journal", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	s, err := read("a journal", r, false, func(int64) {})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// linesOf gives the timeline as a terminal without looks shows it.
func linesOf(t tester, s *Session, v View) string {
	t.Helper()
	var out strings.Builder
	if err := s.Lines(&out, v); err != nil {
		t.Fatal(err)
	}
	return ansi.Strip(out.String())
}

// pageOf gives the page.
func pageOf(t tester, s, other *Session) string {
	t.Helper()
	var out strings.Builder
	if err := s.Page(&out, other); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// golden compares with a file of testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs: look at the difference, then -update:\n%s", path, got)
	}
}
