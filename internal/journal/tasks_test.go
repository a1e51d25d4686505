package journal

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestTasksAreReadAsWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dir, err := os.MkdirTemp("", "tasks")
		if err != nil {
			t.Fatal(err)
		}
		defer os.RemoveAll(dir)
		h := Header{Program: "(test)", Began: time.Date(2026, 11, 26, 19, 0, 0, 0, time.UTC), Moments: []Moment{{Key: "C", Home: []string{"C"}}},
			Tasks: []json.RawMessage{[]byte(`{"exercise":"hold"}`), []byte(`{}`), []byte(`{}`)}}
		w := Start(Options{Dir: dir, Header: h, Alone: true})
		var want []Record
		for range rapid.IntRange(0, 6).Draw(t, "records") {
			tried := Tried{Number: rapid.IntRange(0, 2).Draw(t, "n"), Over: rapid.Bool().Draw(t, "over")}
			if tried.Over {
				tried.Whole, tried.Mark, tried.Figure = rapid.Bool().Draw(t, "whole"), rapid.Float64Range(0, 1).Draw(t, "mark"), rapid.String().Draw(t, "figure")
				if json.Valid([]byte(tried.Figure)) || len(tried.Figure) > 1000 { // what is said is short
					tried.Figure = "3 of 4 \"held\""
				}
			}
			at := time.Duration(len(want)) * time.Second
			w.Task(at, tried)
			w.Say(Notice, at, `,"k":"task"`) // words that look like one
			want = append(want, Record{Line: 0, Kind: Task, At: at, Tried: tried})
		}
		if err := w.Close(time.Minute, "asked", 0); err != nil {
			t.Fatal(err)
		}
		list, err := Sessions(dir)
		if err != nil || len(list) != 1 {
			t.Fatal(list, err)
		}
		got, records, err := Tasks(list[0].Path)
		if err != nil || len(got.Tasks) != 3 || len(records) != len(want) {
			t.Fatalf("%d tasks, %d records of %d: %v", len(got.Tasks), len(records), len(want), err)
		}
		for i, r := range records {
			valid, _ := json.Marshal(want[i].Tried.Figure)
			json.Unmarshal(valid, &want[i].Tried.Figure) // what is no UTF-8 is written as the standard library does
			if r.At != want[i].At || r.Tried != want[i].Tried {
				t.Fatalf("%+v instead of %+v", r, want[i])
			}
		}
	})
}

func TestTasksOfWhatIsNoPractice(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.jsonl")
	if err := os.WriteFile(path, append(head(t), `{"t":0,"k":"task","n":0}`+"\n"...), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, list, err := Tasks(path); err != nil || len(list) != 0 {
		t.Error(list, err)
	}
	if _, _, err := Tasks(filepath.Join(t.TempDir(), "none.jsonl")); err == nil {
		t.Error("a file that is not there was read")
	}
}

func TestBadTaskRecordsAreLeftOut(t *testing.T) {
	h := Header{Moments: []Moment{{Key: "C", Home: []string{"C"}}}, Tasks: []json.RawMessage{[]byte(`{}`)}}
	data, err := AppendHeader(nil, h)
	if err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{
		`{"t":0,"k":"task"}`, `{"t":0,"k":"task","n":1}`, `{"t":0,"k":"task","n":-1}`, `{"t":-1,"k":"task","n":0}`,
		`{"t":0,"k":"task","n":0,"over":true,"mark":1.5}`, `{"t":0,"k":"task","n":0,"over":true}`, `{"t":0,"k":"task","n":0`,
	} {
		path := filepath.Join(t.TempDir(), "a.jsonl")
		good := `{"t":5,"k":"task","n":0}`
		if err := os.WriteFile(path, append(append(append([]byte{}, data...), bad...), "\n"+good+"\n"...), 0o600); err != nil {
			t.Fatal(err)
		}
		_, list, err := Tasks(path)
		if err != nil || len(list) != 1 || list[0].At != 5 {
			t.Errorf("%s: %v %v", bad, list, err)
		}
	}
}
