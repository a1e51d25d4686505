package sound

import (
	"errors"
	"runtime"
	"testing"
)

func TestRenderToPutsEventsOnTheirFrames(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	for _, cores := range []int{1, 2, 7} {
		runtime.GOMAXPROCS(cores)
		renderSomeEvents(t)
	}
}

func renderSomeEvents(t *testing.T) {
	events := []Event{
		{0, 0xC1, 89, 0}, {0, 0xC2, 88, 0}, {0, 0x91, 60, 90}, {0, 0x92, 72, 90},
		{5000, 0x90, 48, 80}, {5000, 0x90, 52, 80}, {12345, 0x80, 48, 0},
	}
	var got []float32
	var told [][2]int64
	err := newSynth(t, 48000).RenderTo(events, 4000,
		func(block []float32) error { got = append(got, block...); return nil },
		func(done, total int64) { told = append(told, [2]int64{done, total}) })
	if err != nil {
		t.Fatal(err)
	}
	plain := newSynth(t, 48000)
	want := make([]float32, 2*16345)
	now := 0
	for _, e := range events {
		plain.Render(want[2*now : 2*e.Frame])
		now = int(e.Frame)
		plain.Send(e.Status, e.Data1, e.Data2)
	}
	plain.Render(want[2*now:])
	if len(got) != len(want) {
		t.Fatalf("%d samples, want %d", len(got), len(want))
	}
	for i := range want {
		if got[i] != want[i] {
			t.Fatalf("sample %d = %v, want %v", i, got[i], want[i])
		}
	}
	last := int64(0)
	for _, p := range told {
		if p[0] <= last || p[1] != 16345 {
			t.Errorf("progress %v after %d, want rising to 16345", p, last)
		}
		last = p[0]
	}
	if last != 16345 {
		t.Errorf("progress ends at %d, want 16345", last)
	}
}

func TestRenderToNothing(t *testing.T) {
	frames := 0
	sink := func(block []float32) error { frames += len(block) / 2; return nil }
	if err := newSynth(t, 48000).RenderTo(nil, -5, sink, nil); err != nil || frames != 0 {
		t.Errorf("no events: %v, %d frames, want nil and 0", err, frames)
	}
	if err := newSynth(t, 48000).RenderTo(nil, 9000, sink, nil); err != nil || frames != 9000 {
		t.Errorf("tail only: %v, %d frames, want nil and 9000", err, frames)
	}
}

func TestRenderToErrors(t *testing.T) {
	sink := func([]float32) error { return nil }
	err := newSynth(t, 48000).RenderTo([]Event{{Frame: 10}, {Frame: 9}}, 0, sink, nil)
	if want := "event 1 is at frame 9, before frame 10: events must be in order of time"; err == nil || err.Error() != want {
		t.Errorf("error = %v, want %q", err, want)
	}
	err = newSynth(t, 48000).RenderTo([]Event{{Frame: -1}}, 0, sink, nil)
	if want := "event 0 is at frame -1, before frame 0: events must be in order of time"; err == nil || err.Error() != want {
		t.Errorf("error = %v, want %q", err, want)
	}
	blocks := 0
	err = newSynth(t, 48000).RenderTo(nil, 100000, func([]float32) error { blocks++; return errFull }, nil)
	if !errors.Is(err, errFull) || blocks != 1 {
		t.Errorf("error of the sink: %v after %d blocks, want it after 1", err, blocks)
	}
}
