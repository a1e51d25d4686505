package main

import (
	"path/filepath"
	"strings"
	"testing"

	"bedd/internal/midiio"
)

// oneStep is a performance of half a second: the left foot goes down once.
func oneStep(t *testing.T) string {
	path := filepath.Join(t.TempDir(), "step.mid")
	track := midiio.OutTrack{Events: []midiio.Event{{Tick: 10, Data: []byte{0xB0, 80, 127}}, {Tick: 200, Data: []byte{0xB0, 80, 0}}}, End: 480}
	if err := midiio.WriteFile(path, midiio.OutFile{Division: 480, Tracks: []midiio.OutTrack{track}}); err != nil {
		t.Fatal(err)
	}
	return path
}

// A broken plan never stops play: it starts with what is sound and says what was
// left out, where. render, which is no stage, refuses it.
func TestPlayBeginsWithABrokenPlan(t *testing.T) {
	path := file(t, "torn.yaml", `order:
  - song: Lanterns on the Quay
    key: Eb
  - for: a word from Maud
    home: 1 4
    awy: 6m 2m
  - song: Salt on the Window
    key: H
`)
	r := bedd(t, "play", path, "--player", oneStep(t), "--no-sound", "--no-guard", "--moment", "nothing of the kind")
	for _, want := range []string{
		"left out: " + path + ":6: unknown field \"awy\": did you mean \"away\"?\n",
		"left out: " + path + ":8: unknown key \"H\"",
		"it begins with the first moment\n",
		"bedd: a word from Maud, in Eb, then Salt on the Window\n",
		" Eb      1 ",
	} {
		if !strings.Contains(r.stdout, want) {
			t.Errorf("it prints\n%s\nwant in it %q", r.stdout, want)
		}
	}
	if r.code != 0 {
		t.Errorf("exit %d, says %q", r.code, r.stderr)
	}
	if r := bedd(t, "render", path, "--performance", demo, "--report", "-"); r.code != 2 || !strings.Contains(r.stderr, path+":6: ") {
		t.Errorf("render: exit %d, says %q", r.code, r.stderr)
	}
}

func TestPlayBeginsWithAPlanThatIsNone(t *testing.T) {
	path := file(t, "none.yaml", "title: [\n")
	r := bedd(t, "play", path, "--player", oneStep(t), "--no-sound", "--no-guard")
	if r.code != 0 || !strings.Contains(r.stdout, "no moment is left of this plan: one without a plan stands in\n") || !strings.Contains(r.stdout, "bedd: in C\n") {
		t.Errorf("exit %d, prints\n%s\nsays %q", r.code, r.stdout, r.stderr)
	}
}

// A moment that the rig's range has no room for is played by another bed.
func TestPlayFindsRoomForEveryMoment(t *testing.T) {
	rig := file(t, "narrow.yaml", "keys: {a: step, b: fade}\nvoicing: {voices: {thin: 3, usual: 3, full: 3}, range: C4-A4, colours: 0}\n")
	for _, home := range []string{"1 b7", "1 2M", "1 7M"} {
		path := file(t, "tight.yaml", "order:\n  - {for: a silence, key: C, home: "+home+"}\n")
		r := bedd(t, "play", path, "--rig", rig, "--player", oneStep(t), "--no-sound", "--no-guard")
		if strings.Contains(r.stdout, path+":2: no 3-voice voicing of ") && strings.Contains(r.stdout, "stands in\n") && r.code == 0 {
			return
		}
	}
	t.Error("every chord fitted: the range is not small enough to try this")
}
