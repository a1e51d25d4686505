package journal

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

const example = "../../testdata/winter-lights.jsonl"

func exampleFile(t testing.TB) []byte {
	t.Helper()
	data, err := os.ReadFile(example)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// The example is read whole, line by line, and the standard library's JSON reader
// finds the same kinds and times there.
func TestExampleIsRead(t *testing.T) {
	data := exampleFile(t)
	list, r := readAll(t, data)
	if r.Torn() != 0 || r.Offset() != int64(len(data)) {
		t.Errorf("%d bytes are torn, %d of %d read", r.Torn(), r.Offset(), len(data))
	}
	lines := bytes.Split(bytes.TrimSuffix(data, []byte("\n")), []byte("\n"))[1:]
	if len(list) != len(lines) {
		t.Fatalf("%d records, want %d", len(list), len(lines))
	}
	for i, line := range lines {
		var want struct {
			T int64
			K string
		}
		if err := json.Unmarshal(line, &want); err != nil {
			t.Fatalf("line %d: %v", i+2, err)
		}
		kind := string(list[i].Kind)
		if list[i].Kind == Called {
			if kind = eventNames[list[i].Event.Kind]; kind == "tick" {
				kind = ""
			}
		}
		if int64(list[i].At) != want.T || kind != want.K || list[i].Line != i+2 {
			t.Fatalf("line %d is %q at %d, want %q at %d", list[i].Line, kind, list[i].At, want.K, want.T)
		}
	}
}

// whole counts the whole lines of a torn file but the first.
func whole(data []byte) int { return bytes.Count(data, []byte("\n")) - 1 }

// Torn at a random byte, all records before are read, and what is left of the last
// is told.
func TestTornAnywhere(t *testing.T) {
	data := exampleFile(t)
	first := bytes.IndexByte(data, '\n') + 1
	full, _ := readAll(t, data)
	dir := t.TempDir()
	for range 500 {
		n := first + rand.IntN(len(data)-first+1)
		torn := data[:n]
		list, r := readAll(t, torn)
		if len(list) != whole(torn) {
			t.Fatalf("torn at %d: %d records, want %d", n, len(list), whole(torn))
		}
		if left := int64(n - 1 - bytes.LastIndexByte(torn, '\n')); r.Torn() != left {
			t.Fatalf("torn at %d: %d bytes left, want %d", n, r.Torn(), left)
		}
		path := filepath.Join(dir, "torn.jsonl")
		if err := os.WriteFile(path, torn, 0o600); err != nil {
			t.Fatal(err)
		}
		last, err := ReadLast(path)
		if err != nil {
			t.Fatalf("torn at %d: %v", n, err)
		}
		// The state is the last that stands before the tear.
		state := -1
		for i, rec := range full[:len(list)] {
			if rec.Kind == Stands {
				state = i
			}
		}
		switch {
		case state < 0 && last.State != nil, state >= 0 && last.State == nil:
			t.Fatalf("torn at %d: a state %v, want that of record %d", n, last.State, state)
		case state >= 0:
			want := *full[state].State
			want.Intensity = last.State.Intensity // that of a later call
			if *last.State != want {
				t.Fatalf("torn at %d: %+v, want %+v", n, *last.State, want)
			}
		}
		if last.Closed != (n == len(data)) || len(list) > 0 && last.At != full[len(list)-1].At && last.At < full[len(list)-1].At {
			t.Fatalf("torn at %d: %+v", n, last)
		}
	}
}

// Torn within its first line there is no journal, and it says so.
func TestTornHeader(t *testing.T) {
	data := exampleFile(t)
	for _, n := range []int{0, 1, 100, bytes.IndexByte(data, '\n')} {
		_, err := NewReader("a.jsonl", bytes.NewReader(data[:n]))
		var fault *Fault
		if !errors.As(err, &fault) || !strings.HasPrefix(err.Error(), "a.jsonl:1: it ends before its first record") {
			t.Errorf("torn at %d: %v", n, err)
		}
	}
}

// What a power cut leaves of a block is nothing, or a gap where more follows.
func TestDamagedLines(t *testing.T) {
	first := string(head(t))
	good := `{"t":5,"k":"finish"}` + "\n"
	for name, c := range map[string]struct {
		text string
		want []Kind
		torn int64
	}{
		"noughts at the end":    {good + strings.Repeat("\x00", 100) + "\n", []Kind{Finished}, 101},
		"noughts, then more":    {good + strings.Repeat("\x00", 100) + "\n" + good, []Kind{Finished, Gap, Finished}, 0},
		"two bad lines between": {"{\n{}\n" + good + good, []Kind{Gap, Finished, Finished}, 0},
		"bad, good, bad":        {"x\n" + good + "y\n", []Kind{Gap, Finished}, 2},
		"an empty line":         {"\n" + good, []Kind{Gap, Finished}, 0},
		"a very long line":      {`{"t":1,"k":"cue","text":"` + strings.Repeat("a", maxLine) + "\"}\n" + good, []Kind{Gap, Finished}, 0},
		"an unknown kind":       {`{"t":1,"k":"weather","wind":3}` + "\n" + good, []Kind{"weather", Finished}, 0},
		"an unknown field":      {`{"t":1,"k":"finish","why":{"a":[1,null]}}` + "\n", []Kind{Finished}, 0},
		"a time that is none":   {`{"t":-1,"k":"finish"}` + "\n" + `{"t":1e9,"k":"finish"}` + "\n" + `{"k":"finish"}` + "\n" + good, []Kind{Gap, Finished}, 0},
		"a time of years":       {`{"t":9000000000000000000,"k":"finish"}` + "\n", nil, 39},
		"a port that is none":   {`{"t":1,"k":"port","p":2}` + "\n" + `{"t":1,"k":"port"}` + "\n" + good, []Kind{Gap, Finished}, 0},
		"a note that is none":   {`{"t":1,"k":"on","n":128,"v":1}` + "\n" + good, []Kind{Gap, Finished}, 0},
		"an action that is none": {`{"t":1,"a":[["on",2,60,64]]}` + "\n" + `{"t":1,"a":[["on",0,60]]}` + "\n" + `{"t":1,"a":[[]]}` + "\n" +
			`{"t":1,"a":[["chord","Hx"]]}` + "\n" + `{"t":1,"a":[["did"]]}` + "\n" + good, []Kind{Gap, Finished}, 0},
		"a deep line": {strings.Repeat("[", 100_000) + "\n" + good, []Kind{Gap, Finished}, 0},
	} {
		list, r := readAll(t, []byte(first+c.text))
		var got []Kind
		for _, rec := range list {
			got = append(got, rec.Kind)
		}
		if len(got) != len(c.want) || r.Torn() != c.torn {
			t.Errorf("%s: %q, %d bytes torn, want %q, %d", name, got, r.Torn(), c.want, c.torn)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: %q, want %q", name, got, c.want)
			}
		}
	}
}

func TestNoJournals(t *testing.T) {
	for text, want := range map[string]string{
		"a song\n":                        "a.jsonl:1: this is no journal of bedd's: its first line is not a header",
		`{"k":"finish"}` + "\n":           "a.jsonl:1: this is no journal",
		`{"k":"bedd journal"` + "\n":      "a.jsonl:1: this is no journal",
		strings.Repeat("a", 9<<20) + "\n": "a.jsonl:1: this is no journal",
		`{"k":"bedd journal","version":2,"program":"v9"}` + "\n":                                                 "a.jsonl:1: the journal is of version 2, and this bedd reads version 1: use the bedd that wrote it (\"v9\")",
		`{"k":"bedd journal","version":1}` + "\n":                                                                "a.jsonl:1: the journal has no moments",
		`{"k":"bedd journal","version":1,"moments":[{}],"first":1}` + "\n":                                       "a.jsonl:1: first moment 1 is out of range 0…0",
		`{"k":"bedd journal","version":1,"moments":[{}],"resume":{"session":"x","state":{"moment":1}}}` + "\n":   "a.jsonl:1: where it went on from cannot be read",
		`{"k":"bedd journal","version":1,"moments":[{}],"resume":{"session":"x"}}` + "\n":                        "a.jsonl:1: where it went on from cannot be read",
		`{"k":"bedd journal","version":1,"moments":[{}],"ports":[` + strings.Repeat("{},", 1024) + "{}]}" + "\n": "a.jsonl:1: 1025 ports are more than 1024",
	} {
		_, err := NewReader("a.jsonl", strings.NewReader(text))
		var fault *Fault
		if !errors.As(err, &fault) || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%.80q: %v, want %s", text, err, want)
		}
	}
}

// endless is a file of one line that never ends.
type endless struct{ left int64 }

func (e *endless) Read(p []byte) (int, error) {
	if e.left <= 0 {
		return 0, io.EOF
	}
	n := min(int64(len(p)), e.left)
	for i := range p[:n] {
		p[i] = 'a'
	}
	e.left -= n
	return int(n), nil
}

// A line of 256 MiB takes the memory of a line that is read.
func TestEndlessLineTakesNoMemory(t *testing.T) {
	r, err := NewReader("a.jsonl", io.MultiReader(bytes.NewReader(head(t)), &endless{1 << 28}))
	if err != nil {
		t.Fatal(err)
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	var rec Record
	if err := r.Next(&rec); !errors.Is(err, io.EOF) || r.Torn() != 1<<28 {
		t.Errorf("%v, %d bytes torn", err, r.Torn())
	}
	runtime.ReadMemStats(&after)
	if n := after.TotalAlloc - before.TotalAlloc; n > 4<<20 {
		t.Errorf("%d bytes were taken", n)
	}
}

// failing is a disk that cannot be read on.
type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errors.New("the disk is gone") }

func TestReadErrorsAreTold(t *testing.T) {
	r, err := NewReader("a.jsonl", io.MultiReader(bytes.NewReader(head(t)), failing{}))
	if err != nil {
		t.Fatal(err)
	}
	var rec Record
	if err := r.Next(&rec); err == nil || err.Error() != "a.jsonl: the disk is gone" {
		t.Errorf("%v", err)
	}
}

// Whatever a file holds, reading it ends, and what is read can be written.
func FuzzReader(f *testing.F) {
	first := string(head(f))
	data := string(exampleFile(f))
	f.Add(data[:len(data)/3])
	for _, text := range []string{"", "\n", "{\"t\":1}\n", `{"t":1,"k":"ask","do":"key-to","tonic":11,"a":[["due",0],["did","key-up","Eb"],["moment",255]]}` + "\n",
		`{"t":1,"k":"state","moment":0,"phase":"silent","place":"home","group":"home","index":0,"key":"C","plan":"C","chord":"C","route":["C"],"i":0.5}` + "\n",
		`{"t":1,"k":"late","delays":{"due":{"n":1}}}` + "\n" + `{"t":1,"k":"wire","p":1,"load":{}}` + "\n", "\x00\n{\"t\":0,\"k\":\"gap\",\"calls\":18446744073709551615}\n"} {
		f.Add(first + text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		r, err := NewReader("a.jsonl", strings.NewReader(text))
		if err != nil {
			return
		}
		if _, err := AppendHeader(nil, r.Header()); err != nil {
			t.Errorf("the header cannot be written: %v", err)
		}
		var rec Record
		for n := 0; ; n++ {
			if err := r.Next(&rec); err != nil {
				break
			}
			if n > len(text) {
				t.Fatal("more records than bytes")
			}
			if rec.Kind == Called {
				appendCall(nil, rec.At, &rec.Event, rec.Actions, nil, nil)
			}
		}
		if r.Offset()+r.Torn() < int64(len(text)) && r.damaged == 0 {
			t.Errorf("%d bytes read and %d torn of %d", r.Offset(), r.Torn(), len(text))
		}
	})
}
