package gathering

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// schemaFile makes files out of a schema.
type schemaFile struct {
	t    testing.TB
	kind string
	root map[string]any
}

// resolved follows references, also to the rig's schema.
func (s schemaFile) resolved(at map[string]any) map[string]any {
	for {
		ref, ok := at["$ref"].(string)
		if !ok {
			return at
		}
		file, path, _ := strings.Cut(ref, "#/")
		from := s.root
		if file != "" {
			from = schemaText(s.t, strings.TrimSuffix(strings.TrimPrefix(file, "schema-"), ".json"))
		}
		for _, step := range strings.Split(path, "/") {
			from = from[step].(map[string]any)
		}
		if file != "" { // its own references are to itself
			s.root["$defs"] = schemaText(s.t, "rig")["$defs"]
		}
		at = from
	}
}

// branches are the alternatives of which a value is one, if there are any.
func (s schemaFile) branches(at map[string]any) (found []map[string]any) {
	for _, name := range []string{"then", "else"} {
		if one, ok := at[name].(map[string]any); ok {
			found = append(found, s.resolved(one))
		}
	}
	for _, one := range list(at["anyOf"]) {
		if one := one.(map[string]any); one["required"] == nil {
			found = append(found, s.resolved(one))
		}
	}
	return found
}

func list(v any) []any {
	l, _ := v.([]any)
	return l
}

func wordsOf(v any) (words []string) {
	for _, w := range list(v) {
		words = append(words, w.(string))
	}
	return words
}

// draw makes a value that keeps to a schema.
func (s schemaFile) draw(t *rapid.T, at map[string]any, label string) any {
	at = s.resolved(at)
	if c, ok := at["const"]; ok {
		return c
	}
	if enum := list(at["enum"]); enum != nil {
		return rapid.SampledFrom(enum).Draw(t, label)
	}
	if all := s.branches(at); all != nil {
		return s.draw(t, rapid.SampledFrom(all).Draw(t, label+" kind"), label)
	}
	kind, ok := at["type"].(string)
	if !ok {
		kind = rapid.SampledFrom(wordsOf(at["type"])).Draw(t, label+" type")
	}
	switch kind {
	case "object":
		return s.object(t, at, label)
	case "array":
		few, most := 0, 4
		if least, ok := at["minItems"].(float64); ok {
			few = int(least)
		}
		items := at["items"].(map[string]any)
		if enum := list(items["enum"]); enum != nil {
			return rapid.SliceOfNDistinct(rapid.SampledFrom(enum), few, most, rapid.ID[any]).Draw(t, label)
		}
		out := []any{}
		for range rapid.IntRange(few, most).Draw(t, label+" items") {
			out = append(out, s.draw(t, items, label+" item"))
		}
		return out
	case "integer":
		return rapid.IntRange(int(at["minimum"].(float64)), int(at["maximum"].(float64))).Draw(t, label)
	case "boolean":
		return rapid.Bool().Draw(t, label)
	case "number":
		least, bounded := at["minimum"].(float64)
		if !bounded {
			return rapid.IntRange(1, 7).Draw(t, label)
		}
		return rapid.Float64Range(least, at["maximum"].(float64)).Draw(t, label)
	}
	examples := slices.DeleteFunc(slices.Clone(list(at["examples"])), func(e any) bool { _, text := e.(string); return !text })
	if len(examples) == 0 {
		t.Fatalf("%s has no examples", label)
	}
	return rapid.SampledFrom(examples).Draw(t, label)
}

func (s schemaFile) object(t *rapid.T, at map[string]any, label string) any {
	out := map[string]any{}
	if names, ok := at["propertyNames"].(map[string]any); ok {
		for _, name := range rapid.SliceOfNDistinct(rapid.SampledFrom(list(names["examples"])), 0, 3, rapid.ID[any]).Draw(t, label) {
			out[name.(string)] = s.draw(t, at["additionalProperties"].(map[string]any), label)
		}
		return out
	}
	props := at["properties"].(map[string]any)
	wanted := map[string]bool{}
	for _, name := range wordsOf(at["required"]) {
		wanted[name] = true
	}
	if some := list(at["anyOf"]); some != nil {
		for _, name := range wordsOf(rapid.SampledFrom(some).Draw(t, label+" needs").(map[string]any)["required"]) {
			wanted[name] = true
		}
	}
	for _, name := range slices.Sorted(maps.Keys(props)) {
		if wanted[name] || rapid.IntRange(0, 2).Draw(t, name+"?") == 0 {
			wanted[name] = true
		}
	}
	dependent, _ := at["dependentRequired"].(map[string]any)
	for name, needs := range dependent {
		for _, other := range wordsOf(needs) {
			wanted[other] = wanted[other] || wanted[name]
		}
	}
	for _, name := range slices.Sorted(maps.Keys(wanted)) {
		if wanted[name] {
			out[name] = s.draw(t, props[name].(map[string]any), name)
		}
	}
	return out
}
