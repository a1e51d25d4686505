package gathering

import (
	"fmt"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"
)

// reader collects the faults of one file. Its methods that return a
// func(*yaml.Node) read one value into the place they are given, or leave it
// alone and note a fault.
type reader struct {
	faults []Fault
	breath time.Duration // what a time in breaths counts in
}

func (r *reader) fault(line int, format string, args ...any) {
	r.faults = append(r.faults, Fault{max(line, 1), fmt.Sprintf(format, args...)})
}

// field is one thing that a mapping may say.
type field struct {
	name string
	read func(*yaml.Node)
}

// fields has the values that a mapping gave, by name.
type fields map[string]*yaml.Node

// line is where the field was given, or 0.
func (f fields) line(name string) int {
	if n := f[name]; n != nil {
		return n.Line
	}
	return 0
}

func (f fields) has(name string) bool { return f[name] != nil }

// mapping reads the fields of a mapping, in the order of the accepted ones,
// and gives what was there, or nil when n is no mapping. What is the mapping in
// words.
func (r *reader) mapping(n *yaml.Node, what string, accepted ...field) fields {
	if n.Kind != yaml.MappingNode {
		r.fault(n.Line, "%s is written as fields with a colon each, not as %s", what, kindOf(n))
		return nil
	}
	said := fields{}
	names := make([]string, len(accepted))
	for i, f := range accepted {
		names[i] = f.name
	}
	r.each(n, func(name string, key, value *yaml.Node) {
		for _, f := range accepted {
			if f.name == name {
				if isNull(value) && value.LineComment == "" {
					value.LineComment = key.LineComment // where the parser puts it
				}
				said[name] = value
				return
			}
		}
		r.fault(key.Line, "unknown field %q: %s", clip(name), advice(name, names))
	})
	for _, f := range accepted {
		n := said[f.name]
		switch {
		case n == nil:
		case isNull(n) && comments(n):
			r.fault(n.Line, "%q has no value: %s reads as a comment, so put it in quotes", f.name, clip(n.LineComment))
		case isNull(n):
			r.fault(n.Line, "%q has no value", f.name)
		default:
			f.read(n)
		}
	}
	return said
}

// ahead reads one field of a mapping before the others, whose values hang on it.
func (r *reader) ahead(n *yaml.Node, name string, read func(*yaml.Node)) {
	for i := 0; n.Kind == yaml.MappingNode && i+1 < len(n.Content); i += 2 {
		if key, value := n.Content[i], n.Content[i+1]; key.Value == name && !isNull(value) {
			read(value)
			return
		}
	}
}

// each calls f for every field of a mapping, once a name.
func (r *reader) each(n *yaml.Node, f func(name string, key, value *yaml.Node)) {
	first := map[string]int{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		if key.Kind != yaml.ScalarNode {
			r.fault(key.Line, "a field's name is a word, not %s", kindOf(key))
			continue
		}
		if line, twice := first[key.Value]; twice {
			r.fault(key.Line, "%q is here twice: it is already on line %d", clip(key.Value), line)
			continue
		}
		first[key.Value] = key.Line
		f(key.Value, key, value)
	}
}

// need notes a fault when a mapping lacks a field.
func (r *reader) need(n *yaml.Node, said fields, name, rule string) {
	if said != nil && !said.has(name) {
		r.fault(n.Line, "%s %q is missing", rule, name)
	}
}

// list gives the items of a list of at most most, or nothing.
func (r *reader) list(n *yaml.Node, what string, most int) []*yaml.Node {
	switch {
	case n.Kind != yaml.SequenceNode:
		r.fault(n.Line, "%s is a list with a dash before each item, not %s", what, kindOf(n))
	case len(n.Content) > most:
		r.fault(n.Line, "%s has %d items: at most %d are read", what, len(n.Content), most)
	default:
		return n.Content
	}
	return nil
}

// kindOf is a node's kind in words.
func kindOf(n *yaml.Node) string {
	switch {
	case n.Kind == yaml.MappingNode:
		return "fields"
	case n.Kind == yaml.SequenceNode:
		return "a list"
	case isNull(n):
		return "nothing"
	}
	return fmt.Sprintf("the value %q", clip(strings.TrimSpace(n.Value)))
}

// clip shortens a text for quoting.
func clip(s string) string {
	const most = 40
	count := 0
	for i := range s {
		if count == most {
			return s[:i] + "…"
		}
		count++
	}
	return s
}
