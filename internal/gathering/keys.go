package gathering

import (
	"slices"
	"unicode"
	"unicode/utf8"

	"bedd/internal/bed"

	"go.yaml.in/yaml/v3"
)

// KeyNames lists the computer keys that have more than one letter to their
// name. Every other key goes by the character it types.
func KeyNames() []string {
	return []string{
		"space", "enter", "tab", "esc", "backspace", "up", "down", "left", "right",
		"pageup", "pagedown", "home", "end",
		"f1", "f2", "f3", "f4", "f5", "f6", "f7", "f8", "f9", "f10", "f11", "f12",
	}
}

// maxKeys is more than any keyboard has.
const maxKeys = 256

func (r *reader) keys(rig *Rig) func(*yaml.Node) {
	return func(n *yaml.Node) {
		switch {
		case n.Kind != yaml.MappingNode:
			r.fault(n.Line, "keys is written as fields with a colon each, as in space: step, not as %s", kindOf(n))
			return
		case len(n.Content) > 2*maxKeys:
			r.fault(n.Line, "keys has %d keys: at most %d are read", len(n.Content)/2, maxKeys)
			return
		}
		rig.Keys = map[string]Order{}
		r.each(n, func(name string, key, value *yaml.Node) {
			if !isKey(name) {
				r.fault(key.Line, "unknown key %q: %s", clip(name), advice(name, append(KeyNames(), "a single character")))
				return
			}
			var o Order
			r.order("key "+name, &o)(value)
			if o.Command != bed.NoCommand {
				rig.Keys[name] = o
			}
		})
	}
}

func isKey(name string) bool {
	if utf8.RuneCountInString(name) == 1 {
		c, _ := utf8.DecodeRuneInString(name)
		return unicode.IsGraphic(c) && !unicode.IsSpace(c)
	}
	return slices.Contains(KeyNames(), name)
}
