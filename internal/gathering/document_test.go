package gathering

import (
	"fmt"
	"strings"
	"testing"
)

// brokenFiles are no YAML, or not what is read of it, with what is said of
// them. The names of the faults are from the YAML 1.2 specification; the
// wording is ours.
var brokenFiles = []struct{ text, want string }{
	{"", "w.yaml:1: the file is empty: a plan lists songs and moments under order:"},
	{"# only a comment\n", "w.yaml:1: the file is empty: a plan lists songs and moments under order:"},
	{"---\n...\n", "w.yaml:1: the file is empty: a plan lists songs and moments under order:"},
	{"title: \"Winter\n\norder:\n - song: x\n", "w.yaml:1: a quote is opened and not closed"},
	{"title: Winter\norder:\n  - song: 'A\n    key: C\n  - song: B\n", "w.yaml:3: a quote is opened and not closed"},
	{"title: a: b\n", "w.yaml:1: a second colon, or a line indented too far: put text with a colon in quotes"},
	{"title: a\n  order: b\n", "w.yaml:2: a second colon, or a line indented too far: put text with a colon in quotes"},
	{"title: a\norder\ndefaults:\n", "w.yaml:2: a field without a colon after its name"},
	{"order:\n\t- song: x\n", "w.yaml:2: a tab indents this line: use spaces"},
	{"order:\n  - song: x\n\tkey: C\n", "w.yaml:3: a tab indents this line: use spaces"},
	{"title: x\norder: [a, b\nfoo: 1\n", "w.yaml:2: a bracket [ is opened and not closed"},
	{"order: {a: 1\n", "w.yaml:1: a brace { is opened and not closed"},
	{"title: 'it''s' here\n", "w.yaml:1: this line fits none of the lines before: check its indentation, and quotes in the middle of it"},
	{"order:\n  - song: a\n    key: C\n   tempo: 3\n", "w.yaml:4: this line fits none of the lines before: check its indentation, and quotes in the middle of it"},
	{"order:\n- song: A\n  key: C\n -  song: B\n", "w.yaml:4: this line fits none of the lines before: check its indentation, and quotes in the middle of it"},
	{"title: @x\n", "w.yaml:1: a character that cannot start a text: put the text in quotes"},
	{"title: a\ndefaults: *y\n", "w.yaml:2: a * starts a reference to another place of the file: put the text in quotes"},
	{`title: "\q"` + "\n", "w.yaml:1: a backslash in double quotes that means nothing: use single quotes"},
	{"title: a\ntitle: \x01\n", "w.yaml:2: a character here is none of plain UTF-8 text: save the file as text"},
	{"title: a\n# \xff\n", "w.yaml:2: a character here is none of plain UTF-8 text: save the file as text"},
	{"title: a\n---\ntitle: b\n", "w.yaml:2: a second document starts here: a file holds one"},
	{"title: a\norder: []\n---\n'\n", "w.yaml:4: a quote is opened and not closed"},
	{"%YAML 3\n---\na: 1", "w.yaml:1: not YAML: did not find expected digit or '.' character"},
	{"title: &t a\norder: *t\n", "w.yaml:2: *t repeats another place of the file: write the value itself"},
	{"- a\n", "w.yaml:1: a plan is written as fields with a colon each, not as a list"},
	{"hello\n", `w.yaml:1: a plan is written as fields with a colon each, not as the value "hello"`},
	{"<<: {title: x}\norder: [{for: x, key: C}]\n", `w.yaml:1: unknown field "<<": use one of title, comfort, defaults, order`},
	{"? [a]\n: b\norder: [{for: x, key: C}]\n", "w.yaml:1: a field's name is a word, not a list"},
}

func TestBrokenFilesAreExplained(t *testing.T) {
	for _, b := range brokenFiles {
		if _, err := ReadGathering("w.yaml", []byte(b.text), testLibrary); err == nil || err.Error() != b.want {
			t.Errorf("%q\ngot  %v\nwant %s", b.text, err, b.want)
		}
	}
}

func TestTooLongAFileIsNotParsed(t *testing.T) {
	text := "title: a\n#" + strings.Repeat("x", maxBytes)
	_, err := ReadGathering("w.yaml", []byte(text), nil)
	want := fmt.Sprintf("w.yaml:1: the file is %d bytes long: at most 1048576 are read", len(text))
	if err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

// Ten references a level, nine levels deep, would be a thousand million
// values, the attack known as billion laughs.
func TestReferencesThatMultiplyAreRefused(t *testing.T) {
	text := "a0: &a0 [x,x,x,x,x,x,x,x,x,x]\n"
	for i := 1; i < 10; i++ {
		ref := fmt.Sprintf("*a%d,", i-1)
		text += fmt.Sprintf("a%d: &a%d [%s]\n", i, i, strings.Repeat(ref, 10))
	}
	text += "order: *a9\n"
	_, err := ReadGathering("w.yaml", []byte(text), nil)
	if err == nil || !strings.HasPrefix(err.Error(), "w.yaml:2: *a0 repeats another place of the file: write the value itself\nw.yaml:3: *a1 repeats") {
		t.Errorf("got %v", err)
	}
}

func TestDeepNestingIsRefused(t *testing.T) {
	for _, text := range []string{strings.Repeat("[", 500_000), strings.Repeat("- ", 500_000), "order: " + strings.Repeat("{a: ", 9000) + strings.Repeat("}", 9000)} {
		if _, err := ReadGathering("w.yaml", []byte(text), nil); err == nil {
			t.Errorf("%.20q… was read", text)
		}
	}
}
