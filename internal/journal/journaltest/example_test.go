package journaltest_test

import (
	"bytes"
	"flag"
	"os"
	"testing"

	"bedd/internal/journal/journaltest"
)

var update = flag.Bool("update", false, "write the example anew")

const example = "../../../testdata/winter-lights.jsonl"

// The example is what bedd writes today.
func TestExampleIsWhatIsWritten(t *testing.T) {
	written, err := os.ReadFile(journaltest.Evening(t, t.TempDir(), "../../../testdata/winter-lights.mid"))
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.WriteFile(example, written, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(example)
	if err != nil {
		t.Fatal(err)
	}
	lines, wanted := bytes.Split(written, []byte("\n")), bytes.Split(want, []byte("\n"))
	for i := range min(len(lines), len(wanted)) {
		if !bytes.Equal(lines[i], wanted[i]) {
			t.Fatalf("line %d is\n%s\nwant\n%s\nwrite the example anew with go test ./internal/journal/journaltest -update", i+1, lines[i], wanted[i])
		}
	}
	if len(lines) != len(wanted) {
		t.Errorf("%d lines, want %d", len(lines), len(wanted))
	}
}
