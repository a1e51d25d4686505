package gathering

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"go.yaml.in/yaml/v3"
)

// maxBytes bounds a file: a plan of a thousand items needs a tenth of it.
const maxBytes = 1 << 20

// document parses a file of one YAML document and gives its root, or nil with
// the reason among the faults. Nothing in it refers to anything else in it, so
// what the readers do is bounded by the size of the file.
func (r *reader) document(data []byte, hint string) *yaml.Node {
	if len(data) > maxBytes {
		r.fault(1, "the file is %d bytes long: at most %d are read", len(data), maxBytes)
		return nil
	}
	d := yaml.NewDecoder(bytes.NewReader(data))
	var first, second yaml.Node
	switch err := d.Decode(&first); {
	case errors.Is(err, io.EOF) || err == nil && isNull(first.Content[0]):
		r.fault(1, "the file is empty: %s", hint)
		return nil
	case err != nil:
		r.syntax(data, err)
		return nil
	}
	switch err := d.Decode(&second); {
	case err == nil:
		r.fault(second.Line, "a second document starts here: a file holds one")
		return nil
	case !errors.Is(err, io.EOF):
		r.syntax(data, err)
		return nil
	}
	if !r.standsAlone(&first) {
		return nil
	}
	return first.Content[0]
}

// standsAlone refuses references to other places of the file.
func (r *reader) standsAlone(n *yaml.Node) bool {
	if n.Kind == yaml.AliasNode {
		r.fault(n.Line, "*%s repeats another place of the file: write the value itself", n.Value)
		return false
	}
	alone := true
	for _, c := range n.Content {
		alone = r.standsAlone(c) && alone
	}
	return alone
}

func isNull(n *yaml.Node) bool { return n.Kind == yaml.ScalarNode && n.Tag == "!!null" }

// syntax puts what the YAML parser said into words for people.
func (r *reader) syntax(data []byte, err error) {
	said := strings.TrimPrefix(err.Error(), "yaml: ")
	line := 1
	if n, scanErr := fmt.Sscanf(said, "line %d: ", &line); n == 1 && scanErr == nil {
		_, said, _ = strings.Cut(said, ": ")
	}
	lines := bytes.SplitAfter(data, []byte("\n"))
	line = min(max(1, firstBroken(lines, len(data), line)), len(lines))
	text := string(lines[line-1])
	indent := text[:len(text)-len(strings.TrimLeft(text, " \t"))]
	switch has := func(s string) bool { return strings.Contains(said, s) }; {
	case has("UTF-8"), has("UTF-16"), has("Unicode"), has("control characters"):
		r.fault(line, "a character here is none of plain UTF-8 text: save the file as text")
	case strings.Contains(indent, "\t"):
		r.fault(line, "a tab indents this line: use spaces")
	case has("mapping values are not allowed"):
		r.fault(line, "a second colon, or a line indented too far: put text with a colon in quotes")
	case has("could not find expected ':'"):
		r.fault(line, "a field without a colon after its name")
	case has("end of stream"), has("document indicator"):
		r.fault(line, "a quote is opened and not closed")
	case has("',' or ']'"):
		r.fault(line, "a bracket [ is opened and not closed")
	case has("',' or '}'"):
		r.fault(line, "a brace { is opened and not closed")
	case has("did not find expected key"), has("'-' indicator"):
		r.fault(line, "this line fits none of the lines before: check its indentation, and quotes in the middle of it")
	case has("cannot start any token"):
		r.fault(line, "a character that cannot start a text: put the text in quotes")
	case has("unknown anchor"):
		r.fault(line, "a * starts a reference to another place of the file: put the text in quotes")
	case has("escape"):
		r.fault(line, `a backslash in double quotes that means nothing: use single quotes`)
	default:
		r.fault(line, "not YAML: %s", said)
	}
}

// firstBroken finds the line that broke the file: the one after the longest
// beginning of the file that is whole. The parser's own line is where it gave
// up, for an open quote the end. It is given back where the search would read
// more than some megabytes.
func firstBroken(lines [][]byte, size, parserLine int) int {
	const mostRead = 8 << 20
	if len(lines)*size > mostRead {
		return parserLine
	}
	var rest yaml.Node
	for ; len(lines) > 0; lines = lines[:len(lines)-1] {
		if yaml.Unmarshal(bytes.Join(lines[:len(lines)-1], nil), &rest) == nil {
			return len(lines)
		}
	}
	return 1
}
