package gathering

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// RigSection is a field of a rig with all its lines; the text begins with the field's
// name and ends its last line.
type RigSection struct{ Name, Text string }

// ReplaceSections gives the text of a rig file with some of its fields written anew, in
// place of the old ones or at the end, and all else, comments among it, as it was. The
// file must be one that [ReadRig] takes, and so is what comes back. The name is for
// errors.
func ReplaceSections(name string, data []byte, sections ...RigSection) ([]byte, error) {
	if _, err := ReadRig(name, data); err != nil {
		return nil, err
	}
	for _, s := range sections {
		var document yaml.Node
		if err := yaml.Unmarshal(data, &document); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		root := document.Content[0]
		if root.Style&yaml.FlowStyle != 0 || root.Content[0].Column != 1 {
			return nil, fmt.Errorf("%s is written in braces or indented as a whole, so it cannot be changed by itself: give each field a line at the left margin, or name a new file", name)
		}
		data = replaced(data, root, s)
	}
	if _, err := ReadRig(name, data); err != nil {
		return nil, fmt.Errorf("what the rig would become is refused: %w", err)
	}
	return data, nil
}

// replaced puts a section where its field was, with the lines that belong to the field
// and those alone: what stands between it and the next is the next one's.
func replaced(data []byte, root *yaml.Node, s RigSection) []byte {
	lines := bytes.SplitAfter(data, []byte("\n"))
	text := s.Text
	if bytes.Contains(data, []byte("\r\n")) {
		text = strings.ReplaceAll(text, "\n", "\r\n")
	}
	key, value := entry(root, s.Name)
	if key == nil {
		text = "\n" + text
		if len(data) > 0 && data[len(data)-1] != '\n' {
			text = "\n" + text
		}
		return append(bytes.Clone(data), text...)
	}
	from, to := key.Line-1, max(lastLine(value), key.Line)
	for to < len(lines) && belongs(lines[to]) {
		to++ // what goes on there, such as a closing bracket or an indented comment
	}
	return slices.Concat(bytes.Join(lines[:from], nil), []byte(text), bytes.Join(lines[to:], nil))
}

// belongs reports whether a line goes on with what stands above it.
func belongs(line []byte) bool {
	return len(bytes.TrimSpace(line)) > 0 && (line[0] == ' ' || line[0] == ']' || line[0] == '}' || line[0] == '-' && !bytes.HasPrefix(line, []byte("---")))
}

// lastLine is the last line on which something of a value begins.
func lastLine(n *yaml.Node) int {
	last := n.Line
	for _, c := range n.Content {
		last = max(last, lastLine(c))
	}
	return last
}
