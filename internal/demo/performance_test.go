package demo

import (
	"bytes"
	"flag"
	"os"
	"testing"

	"bedd/internal/midiio"
)

var update = flag.Bool("update", false, "write the file anew")

const path = "../../testdata/winter-lights.mid"

func TestFileIsWhatTheGeneratorMakes(t *testing.T) {
	if *update {
		if err := midiio.WriteFile(path, Performance()); err != nil {
			t.Fatal(err)
		}
	}
	var want bytes.Buffer
	if err := midiio.Write(&want, Performance()); err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want.Bytes()) {
		t.Error("the file differs from what the generator makes: run go test ./internal/demo -update")
	}
}

func TestPerformanceHasTheMessItPromises(t *testing.T) {
	f, err := midiio.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]int{}
	on := map[[2]byte]int{}
	lastPress := map[byte]int64{}
	tempo := f.Tempo()
	for _, e := range f.Events {
		d := e.Data
		switch {
		case d[0] == 0xF0:
			seen["SysEx"]++
		case d[0]&0xF0 == 0x90 && d[2] == 0:
			seen["note-off as velocity 0"]++
			on[[2]byte{d[0] & 15, d[1]}]--
		case d[0]&0xF0 == 0x80:
			seen["note-off"]++
			on[[2]byte{d[0] & 15, d[1]}]--
		case d[0]&0xF0 == 0x90:
			k := [2]byte{d[0] & 15, d[1]}
			if on[k] > 0 {
				seen["struck twice"]++
			}
			if d[0]&15 == 2 {
				seen["stray on a bed channel"]++
			}
			on[k]++
		case d[0] == 0xB0 && d[1] == 39:
			seen["lower half of a pair"]++
		case d[0] == 0xB0 && d[1] == 64:
			seen["damper"]++
		case d[0] == 0xB0 && d[1] == 11:
			seen["pedal"]++
		case d[0] == 0xB0 && d[1] >= 80 && d[1] <= 85:
			gap := tempo.Time(e.Tick) - tempo.Time(lastPress[d[1]])
			if gap.Milliseconds() < 10 {
				seen["bounce"]++
			} else if d[2] >= 64 && gap.Milliseconds() < 200 {
				seen["quick double press"]++
			}
			lastPress[d[1]] = e.Tick
		}
	}
	for _, n := range on {
		if n > 0 {
			seen["left hanging"]++
		}
	}
	for _, want := range []string{"SysEx", "note-off as velocity 0", "note-off", "struck twice", "stray on a bed channel",
		"lower half of a pair", "damper", "pedal", "bounce", "quick double press", "left hanging"} {
		if seen[want] == 0 {
			t.Errorf("the performance has no %s: %v", want, seen)
		}
	}
	if end := tempo.Time(f.Events[len(f.Events)-1].Tick).Seconds(); end < 40 || end > 60 {
		t.Errorf("the performance lasts %.1f s, want 40…60", end)
	}
}
