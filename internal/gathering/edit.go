package gathering

import (
	"bytes"
	"fmt"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Setting is one value that a rig file is to have, such as ceiling in level.
type Setting struct {
	Section, Field string
	Value          string // as the file writes it
	Why            string // a comment beside a line that is new; may be empty
}

// EditRig gives the text of a rig file with some settings changed or added, and all
// else, comments and blank lines among it, as it was. The file must be one that
// [ReadRig] takes, and so is what comes back. The name is for errors.
func EditRig(name string, data []byte, settings ...Setting) ([]byte, error) {
	if _, err := ReadRig(name, data); err != nil {
		return nil, err
	}
	for _, s := range settings {
		var document yaml.Node
		if err := yaml.Unmarshal(data, &document); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		e := editor{newline: "\n", data: data}
		if bytes.Contains(data, []byte("\r\n")) {
			e.newline = "\r\n"
		}
		edited := e.set(document.Content[0], s)
		if got, err := readBack(edited, s); err != nil || got != s.Value {
			return nil, fmt.Errorf("%s cannot be changed by itself: write %s: {%s: %s} into it", name, s.Section, s.Field, s.Value)
		}
		data = edited
	}
	if _, err := ReadRig(name, data); err != nil {
		return nil, fmt.Errorf("what the rig would become is refused: %w", err)
	}
	return data, nil
}

// readBack gives what a file says of a setting.
func readBack(data []byte, s Setting) (string, error) {
	var document yaml.Node
	if err := yaml.Unmarshal(data, &document); err != nil || len(document.Content) == 0 {
		return "", fmt.Errorf("unreadable: %w", err)
	}
	_, section := entry(document.Content[0], s.Section)
	_, value := entry(section, s.Field)
	if value == nil {
		return "", fmt.Errorf("%s is missing", s.Field)
	}
	return value.Value, nil
}

// editor changes a text at the places that its nodes tell.
type editor struct {
	data    []byte
	newline string
}

func (e *editor) set(root *yaml.Node, s Setting) []byte {
	key, section := entry(root, s.Section)
	_, value := entry(section, s.Field)
	line := s.Field + ": " + s.Value
	why := ""
	if s.Why != "" {
		why = " # " + s.Why
	}
	switch {
	case value != nil:
		at := e.offset(value.Line, value.Column)
		return e.splice(at, at+e.length(at, value), s.Value)
	case section == nil && root.Style&yaml.FlowStyle != 0:
		return e.first(root, s.Section+": {"+line+"}")
	case section == nil:
		text := e.data
		if len(text) > 0 && text[len(text)-1] != '\n' {
			text = append(bytes.Clone(text), e.newline...)
		}
		indent := strings.Repeat(" ", root.Content[0].Column-1)
		return append(bytes.Clone(text), indent+s.Section+":"+e.newline+indent+"  "+line+why+e.newline...)
	case section.Style&yaml.FlowStyle != 0:
		return e.first(section, line)
	}
	at := e.offset(key.Line+1, 1)
	indent := strings.Repeat(" ", section.Content[0].Column-1)
	return e.splice(at, at, indent+line+why+e.newline)
}

// first puts a field in front of those of a mapping in braces.
func (e *editor) first(n *yaml.Node, text string) []byte {
	at := e.offset(n.Line, n.Column) + 1
	if len(n.Content) > 0 {
		text += ", "
	}
	return e.splice(at, at, text)
}

func (e *editor) splice(from, to int, text string) []byte {
	from, to = min(from, len(e.data)), min(to, len(e.data))
	return append(append(bytes.Clone(e.data[:from]), text...), e.data[to:]...)
}

// offset gives where a line and column of the parser's are, in bytes; both count
// from 1, columns in characters.
func (e *editor) offset(line, column int) int {
	at := 0
	for ; line > 1; line-- {
		next := bytes.IndexByte(e.data[at:], '\n')
		if next < 0 {
			return len(e.data)
		}
		at += next + 1
	}
	if at == 0 {
		at = len(e.data) - len(bytes.TrimPrefix(e.data, []byte("\uFEFF")))
	}
	for i := range string(e.data[at:]) {
		if column--; column == 0 {
			return at + i
		}
	}
	return len(e.data)
}

// length gives how long the text of a value is: with its quotes, if it has some.
func (e *editor) length(at int, n *yaml.Node) int {
	text := e.data[at:]
	switch n.Style {
	case yaml.DoubleQuotedStyle:
		for i := 1; i < len(text); i++ {
			switch text[i] {
			case '\\':
				i++
			case '"':
				return i + 1
			}
		}
	case yaml.SingleQuotedStyle:
		for i := 1; i < len(text); i++ {
			if text[i] == '\'' {
				if i+1 == len(text) || text[i+1] != '\'' {
					return i + 1
				}
				i++
			}
		}
	}
	return len(n.Value)
}

// entry finds a field of a mapping, nil where there is none.
func entry(n *yaml.Node, name string) (key, value *yaml.Node) {
	if n == nil || n.Kind != yaml.MappingNode {
		return nil, nil
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value == name {
			return n.Content[i], n.Content[i+1]
		}
	}
	return nil, nil
}
