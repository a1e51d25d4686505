package internal_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// may lists what each package may import of bedd. What is not listed may
// import nothing of bedd; nothing imports cmd.
var may = map[string][]string{
	"pitch":                 {},
	"harmony":               {"pitch"},
	"voicing":               {"pitch", "harmony"},
	"dynamics":              {},
	"bed":                   {"pitch", "harmony", "voicing", "dynamics"},
	"bed/bedtest":           {"bed", "voicing"},
	"wholefile":             {},
	"midiio":                {"wholefile"},
	"midiio/porttest":       {"midiio"},
	"midiio/readback":       {},
	"guard":                 {"midiio"},
	"loudness":              {},
	"sound":                 {"loudness"},
	"gathering":             {"pitch", "harmony", "voicing", "dynamics", "bed", "midiio", "listening"},
	"journal":               {"pitch", "harmony", "voicing", "dynamics", "bed"},
	"journal/journaltest":   {"bed", "gathering", "journal", "midiio", "session"},
	"session":               {"pitch", "harmony", "voicing", "bed", "gathering", "journal", "midiio"},
	"glance":                {"pitch", "harmony", "voicing", "bed"},
	"page":                  {"pitch", "harmony", "gathering", "glance"},
	"review":                {"pitch", "dynamics", "bed", "gathering", "journal", "session", "midiio", "glance"},
	"curve":                 {"dynamics", "bed", "gathering", "session", "glance", "listening"},
	"demo":                  {"midiio"},
	"score":                 {"pitch", "harmony", "midiio"},
	"chart":                 {"pitch", "harmony", "voicing", "gathering"},
	"clarity":               {},
	"soundcheck":            {"wholefile", "pitch", "harmony", "loudness", "clarity", "dynamics", "bed", "midiio", "gathering", "linecheck", "session", "sound"},
	"linecheck":             {"pitch", "midiio"},
	"practice":              {"pitch", "harmony", "voicing", "bed"},
	"practice/practicetest": {"pitch", "harmony", "bed", "gathering", "session", "practice"},
	"recall":                {"pitch"},
	"progress":              {"journal", "recall", "glance"},
	"listening":             {"loudness", "clarity"},
	"listening/talks":       {},
}

// pure packages have no goroutines, no clock, no I/O, no logging and no global
// randomness.
var pure = []string{"pitch", "harmony", "voicing", "dynamics", "bed", "loudness", "clarity", "linecheck", "practice", "recall", "listening"}

var impureImports = []string{"os", "log", "log/slog", "sync", "sync/atomic", "net", "io/fs", "os/exec", "context"}

var impureCalls = map[string][]string{
	"time":         {"Now", "Sleep", "Since", "Until", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker"},
	"math/rand":    {"Int", "Intn", "Float64", "Perm", "Shuffle", "Seed"},
	"math/rand/v2": {"Int", "IntN", "N", "Float64", "Perm", "Shuffle", "Uint32", "Uint64"},
}

// sources parses every Go file below internal that is not a test, by package.
func sources(t *testing.T) map[string][]*ast.File {
	t.Helper()
	files := map[string][]*ast.File{}
	fset := token.NewFileSet()
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		f, err := parser.ParseFile(fset, path, nil, parser.ParseComments)
		if err != nil {
			return err
		}
		dir := filepath.ToSlash(filepath.Dir(path))
		files[dir] = append(files[dir], f)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

func imports(f *ast.File) (paths []string) {
	for _, i := range f.Imports {
		path, _ := strconv.Unquote(i.Path.Value)
		paths = append(paths, path)
	}
	return paths
}

func TestPackagesImportWhatTheyMay(t *testing.T) {
	for pkg, files := range sources(t) {
		allowed, listed := may[pkg]
		if !listed {
			t.Errorf("internal/%s is not in the list of packages", pkg)
		}
		for _, f := range files {
			for _, path := range imports(f) {
				inner, ours := strings.CutPrefix(path, "bedd/")
				if !ours {
					continue
				}
				inner = strings.TrimPrefix(inner, "internal/")
				if !slices.Contains(allowed, inner) && !(pkg == "gathering" && inner == "configs") {
					t.Errorf("internal/%s imports %s", pkg, path)
				}
			}
		}
	}
}

func TestCoreIsPure(t *testing.T) {
	all := sources(t)
	for _, pkg := range pure {
		if len(all[pkg]) == 0 {
			t.Errorf("internal/%s has no sources", pkg)
		}
		for _, f := range all[pkg] {
			if bad := impurities(f); len(bad) > 0 {
				t.Errorf("internal/%s: %v", pkg, bad)
			}
		}
	}
}

// impurities lists what a pure package may not have.
func impurities(f *ast.File) (found []string) {
	names := map[string]string{} // by the name used in the file
	for _, i := range f.Imports {
		path, _ := strconv.Unquote(i.Path.Value)
		if slices.Contains(impureImports, path) || strings.HasPrefix(path, "net/") {
			found = append(found, "imports "+path)
		}
		name := strings.TrimSuffix(path, "/v2")
		name = name[strings.LastIndex(name, "/")+1:]
		if i.Name != nil {
			name = i.Name.Name
		}
		names[name] = path
	}
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GoStmt:
			found = append(found, "has a go statement")
		case *ast.SelectorExpr:
			if x, ok := n.X.(*ast.Ident); ok && slices.Contains(impureCalls[names[x.Name]], n.Sel.Name) {
				found = append(found, "calls "+x.Name+"."+n.Sel.Name)
			}
		}
		return true
	})
	return found
}

func TestImpuritiesAreFound(t *testing.T) {
	source := `package p
import ("os"; "time"; r "math/rand/v2")
func f() { go f(); _ = time.Now(); _ = r.IntN(3); _ = time.Second }`
	f, err := parser.ParseFile(token.NewFileSet(), "p.go", source, 0)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"imports os", "has a go statement", "calls time.Now", "calls r.IntN"}
	if got := impurities(f); !slices.Equal(got, want) {
		t.Errorf("found %q, want %q", got, want)
	}
}

func TestEveryPackageSaysWhatItIsForInOneSentence(t *testing.T) {
	for pkg, files := range sources(t) {
		doc := ""
		for _, f := range files {
			if f.Doc != nil {
				doc += f.Doc.Text()
			}
		}
		first, _, _ := strings.Cut(doc, "\n\n")
		first = strings.TrimSpace(strings.ReplaceAll(first, "\n", " "))
		if !strings.HasPrefix(first, "Package ") || strings.Count(first, ". ") > 0 || !strings.HasSuffix(first, ".") {
			t.Errorf("internal/%s begins with %q, want one sentence that starts with Package", pkg, first)
		}
	}
}
