package gathering

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// docs/plan.md names every field of a plan, and what it shows is read.
func TestDocumentationOfPlansIsTrue(t *testing.T) {
	data, err := os.ReadFile("../../docs/plan.md")
	if err != nil {
		t.Fatal(err)
	}
	text := string(data)
	s := schemaFile{t, "gathering", schemaText(t, "gathering")}
	for _, p := range s.places(s.root, "", func(v any) any { return v }) {
		for _, field := range p.fields {
			if !strings.Contains(text, "`"+field+"`") && !strings.Contains(text, "`"+field+":`") {
				t.Errorf("docs/plan.md does not name %s%s/%s", "plan", p.path, field)
			}
		}
	}
	blocks := regexp.MustCompile("(?s)```yaml\n(.*?)```").FindAllStringSubmatch(text, -1)
	read := 0
	for _, b := range blocks {
		plan := b[1]
		switch {
		case strings.HasPrefix(plan, "#"):
			continue
		case strings.HasPrefix(plan, "- "):
			plan = "order:\n- {song: One, key: C}\n" + plan
		}
		if _, err := ReadGathering("plan.md", []byte(plan), mustLibrary(t)); err != nil {
			t.Errorf("%s\n%v", plan, err)
		}
		read++
	}
	if read < 3 {
		t.Errorf("%d examples read", read)
	}
	for _, order := range regexp.MustCompile("`([a-z-]+\\.(?:yaml|json))`").FindAllStringSubmatch(text, -1) {
		if name := order[1]; strings.HasPrefix(name, "schema-") {
			if _, err := os.Stat(schemaFolder + "/" + name); err != nil {
				t.Error(err)
			}
		}
	}
}
