package gathering

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bedd/configs"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v3"
	"pgregory.net/rapid"
)

const schemaFolder = "../../configs"

// readers has what reads the files of each schema.
var readers = map[string]func([]byte) error{
	"gathering":    func(b []byte) error { _, err := ReadGathering("w.yaml", b, testLibrary); return err },
	"progressions": func(b []byte) error { _, err := ReadLibrary("w.yaml", b); return err },
	"rig":          func(b []byte) error { _, err := ReadRig("w.yaml", b); return err },
	"feels":        func(b []byte) error { _, err := readFeels("w.yaml", b); return err },
}

// schemas compiles every schema with an independent validator, which checks them
// against the metaschema of JSON Schema draft 2020-12 too.
func schemas(t testing.TB) map[string]*jsonschema.Schema {
	t.Helper()
	c := jsonschema.NewCompiler()
	for name := range readers {
		if err := c.AddResource(schemaURL(name), schemaText(t, name)); err != nil {
			t.Fatal(err)
		}
	}
	compiled := map[string]*jsonschema.Schema{}
	for name := range readers {
		s, err := c.Compile(schemaURL(name))
		if err != nil {
			t.Fatal(err)
		}
		compiled[name] = s
	}
	return compiled
}

func schemaURL(name string) string { return "file:///schema-" + name + ".json" }

func schemaText(t testing.TB, name string) map[string]any {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(schemaFolder, "schema-"+name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	var doc map[string]any
	if err := json.Unmarshal(data, &doc); err != nil {
		t.Fatal(err)
	}
	if doc["$schema"] != "https://json-schema.org/draft/2020-12/schema" {
		t.Errorf("schema-%s.json is of %v", name, doc["$schema"])
	}
	return doc
}

// instance is a YAML file as the JSON that editors take it for, by the core
// schema of YAML 1.2, in which a date is a string.
func instance(data []byte) (any, error) {
	var root yaml.Node
	if err := yaml.Unmarshal(data, &root); err != nil {
		return nil, err
	}
	if len(root.Content) == 0 {
		return nil, nil
	}
	return plainValue(root.Content[0])
}

func plainValue(n *yaml.Node) (any, error) {
	switch n.Kind {
	case yaml.MappingNode:
		m := map[string]any{}
		for i := 0; i < len(n.Content); i += 2 {
			v, err := plainValue(n.Content[i+1])
			if err != nil {
				return nil, err
			}
			m[n.Content[i].Value] = v
		}
		return m, nil
	case yaml.SequenceNode:
		list := []any{}
		for _, c := range n.Content {
			v, err := plainValue(c)
			if err != nil {
				return nil, err
			}
			list = append(list, v)
		}
		return list, nil
	case yaml.AliasNode:
		return nil, errors.New("an alias")
	}
	switch n.Tag {
	case "!!null":
		return nil, nil
	case "!!bool":
		return n.Value == "true", nil
	case "!!int", "!!float":
		if _, err := strconv.ParseFloat(n.Value, 64); err == nil && json.Valid([]byte(n.Value)) {
			return json.Number(n.Value), nil
		}
	}
	return n.Value, nil
}

var (
	wantsSchema  = regexp.MustCompile(`^# yaml-language-server: \$schema=(schema-([a-z]+)\.json)\n`)
	kindOfConfig = regexp.MustCompile(`^(gathering|rig)(-.*)?\.yaml$`)
)

func TestBuiltInFilesKeepToTheirSchema(t *testing.T) {
	all := schemas(t)
	files, err := fs.Glob(configs.FS, "*.yaml")
	if err != nil || len(files) < 10 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	for _, name := range files {
		data, err := configs.FS.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		kind := strings.TrimSuffix(name, ".yaml")
		if m := kindOfConfig.FindStringSubmatch(name); m != nil {
			kind = m[1]
		}
		// By that line editors find the schema: a path from the file itself.
		said := wantsSchema.FindSubmatch(data)
		if said == nil || string(said[2]) != kind {
			t.Errorf("%s does not begin with # yaml-language-server: $schema=schema-%s.json", name, kind)
			continue
		}
		if _, err := os.Stat(filepath.Join(schemaFolder, string(said[1]))); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		v, err := instance(data)
		if err != nil {
			t.Fatal(err)
		}
		if err := all[kind].Validate(v); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// goodFiles are read without a fault.
var goodFiles = map[string][]string{
	"gathering": {
		fullPlan,
		"order:\n- {song: A, key: C}\n- {song: B, key: Eb}\n",
		"order: [{for: 3, key: F# major, home: 1, minutes: 0.5}]\n",
		"title: 2026-11-26\norder: [{song: true, key: C, first: 1/3, figure: 'C4 D E'}]\n",
	},
	"rig": {"keys: {a: step, b: fade}\n", "keys: {\"1\": key-to Db, b: fade, c: step}\npedal: none\n"},
}

func TestWhatTheReaderTakesTheSchemaTakes(t *testing.T) {
	all := schemas(t)
	for kind, texts := range goodFiles {
		for _, text := range texts {
			if err := readers[kind]([]byte(text)); err != nil {
				t.Errorf("%s\n%v", text, err)
			}
			v, err := instance([]byte(text))
			if err != nil {
				t.Fatal(err)
			}
			if err := all[kind].Validate(v); err != nil {
				t.Errorf("%s\n%v", text, err)
			}
		}
	}
}

// structural are the faults that a schema knows of.
var structural = regexp.MustCompile(`unknown field|is one value, not|is not a (whole )?number|out of range|is a list with|(is|are) written as|is missing$|is empty|has no value|is not known|is not a time|longer than \d+ characters|neither yes nor no|unknown command|unknown key|neither a song`)

// beyondSchema are faults that look structural and hang on more than one value, or on what a
// schema does not say: how long a time is, the range of one MIDI value in a text.
var beyondSchema = regexp.MustCompile(`reads as a comment|pedal (heel|toe) \d+ is out of range|^controller |its lists are empty| (-?\d+(\.\d+)?(ms|s|m|h|dB|dB/s| breaths?)) is out of range|^(centre|bass|note|range|split|brightness|program|[a-z]+ bank|an item of aside)\b.* is out of range|has a character|note ".*" is out of range|is empty: save|YAML|key ".*"$`)

func TestWhatTheReaderRefusesTheSchemaRefuses(t *testing.T) {
	all := schemas(t)
	bad := map[string][]struct{ text, want string }{
		"gathering": slices.Concat(badPlans, badSongs), "progressions": badLibraries, "rig": badRigs,
	}
	for kind, files := range bad {
		refused := 0
		for _, b := range files {
			v, err := instance([]byte(b.text))
			if err != nil {
				continue
			}
			bySchema := all[kind].Validate(v) != nil
			if bySchema {
				refused++
			}
			for _, line := range strings.Split(b.want, "\n") {
				_, said, _ := strings.Cut(strings.SplitN(line, ":", 2)[1], ": ")
				if structural.MatchString(said) && !beyondSchema.MatchString(said) && !bySchema {
					t.Errorf("the schema takes what is refused with %q\n%s", said, b.text)
				}
			}
		}
		if t.Logf("%s: the schema refuses %d of %d", kind, refused, len(files)); refused*4 < len(files) {
			t.Errorf("%s: the schema refuses %d of %d bad files, want a quarter at least", kind, refused, len(files))
		}
	}
}

// place is an object in a schema, and a file that reaches it with these fields.
type place struct {
	path   string
	fields []string
	file   func(inner map[string]any) any
	inner  map[string]any
}

// places finds the objects whose fields a schema lists.
func (s schemaFile) places(at map[string]any, path string, file func(any) any) (found []place) {
	at = s.resolved(at)
	if props, ok := at["properties"].(map[string]any); ok {
		inner := map[string]any{}
		for _, name := range wordsOf(at["required"]) {
			inner[name] = "x"
		}
		found = append(found, place{path, slices.Sorted(maps.Keys(props)), func(m map[string]any) any { return file(m) }, inner})
		for name, prop := range props {
			found = append(found, s.places(prop.(map[string]any), path+"/"+name, func(v any) any {
				outer := maps.Clone(inner)
				outer[name] = v
				return file(outer)
			})...)
		}
	}
	if items, ok := at["items"].(map[string]any); ok {
		found = append(found, s.places(items, path+"/0", func(v any) any { return file([]any{v}) })...)
	}
	for _, one := range s.branches(at) {
		found = append(found, s.places(one, path, file)...)
	}
	return found
}

// Every mapping that the reader knows lists its fields when one is unknown: these
// are the schema's, no more and no fewer.
func TestSchemaAndReaderKnowTheSameFields(t *testing.T) {
	const foreign = "qqqqqq"
	said := regexp.MustCompile(`unknown field "` + foreign + `": use (?:one of )?(.*)`)
	for kind, read := range readers {
		s := schemaFile{t, kind, schemaText(t, kind)}
		places := s.places(s.root, "", func(v any) any { return v })
		if len(places) < 2 {
			t.Errorf("%s: %d objects", kind, len(places))
		}
		for _, p := range places {
			inner := maps.Clone(p.inner)
			inner[foreign] = 1
			text, err := yaml.Marshal(p.file(inner))
			if err != nil {
				t.Fatal(err)
			}
			m := said.FindStringSubmatch(fmt.Sprint(read(text)))
			if m == nil {
				t.Errorf("%s%s: the reader does not know this mapping:\n%s%v", kind, p.path, text, read(text))
				continue
			}
			known := strings.Split(m[1], ", ")
			if slices.Sort(known); !slices.Equal(known, p.fields) {
				t.Errorf("%s%s: the reader knows\n%q, the schema\n%q", kind, p.path, known, p.fields)
			}
		}
	}
}

func TestSchemaListsTheOrdersThatThereAre(t *testing.T) {
	s := schemaFile{t, "rig", schemaText(t, "rig")}
	order := s.resolved(map[string]any{"$ref": "#/$defs/order"})
	listed := wordsOf(order["anyOf"].([]any)[0].(map[string]any)["enum"])
	want := slices.DeleteFunc(commands(), func(c string) bool { return c == "key-to" })
	if !slices.Equal(listed, want) {
		t.Errorf("schema-rig.json lists the orders\n%q, there are\n%q", listed, want)
	}
}

// Whatever a schema takes, the reader understands: it knows the fields, and every
// value is of the right kind and in its range.
func TestWhatTheSchemaTakesTheReaderKnows(t *testing.T) {
	all := schemas(t)
	for kind, read := range readers {
		t.Run(kind, func(t *testing.T) {
			s := schemaFile{t, kind, schemaText(t, kind)}
			rapid.Check(t, func(t *rapid.T) {
				v := s.draw(t, s.root, kind)
				text, err := yaml.Marshal(v)
				if err != nil {
					t.Fatal(err)
				}
				read2, err := instance(text)
				if err != nil {
					t.Fatal(err)
				}
				if err := all[kind].Validate(read2); err != nil {
					t.Fatalf("the file made by the schema does not keep to it:\n%s%v", text, err)
				}
				var fe *FileError
				if !errors.As(read(text), &fe) {
					return
				}
				for _, f := range fe.Faults {
					if structural.MatchString(f.Text) && !beyondSchema.MatchString(f.Text) {
						t.Fatalf("line %d: %s, in\n%s", f.Line, f.Text, text)
					}
				}
			})
		})
	}
}

func TestSchemasAreWrittenPlainly(t *testing.T) {
	for kind := range readers {
		data, err := os.ReadFile(filepath.Join(schemaFolder, "schema-"+kind+".json"))
		if err != nil {
			t.Fatal(err)
		}
		var again bytes.Buffer
		if err := json.Indent(&again, data, "", "  "); err != nil || again.String() != string(data) {
			t.Errorf("schema-%s.json is not indented by two blanks: %v", kind, err)
		}
	}
}
