package sound

import (
	"testing"
	"testing/synctest"

	"go.uber.org/goleak"
)

// A driver whose sound server died never answers a Close: a Card leaves it
// behind.
func TestMain(m *testing.M) {
	goleak.VerifyTestMain(m, goleak.IgnoreTopFunction("github.com/gen2brain/malgo._Cfunc_ma_device_uninit"))
}

func TestTeeDropsWholeBlocksAndCounts(t *testing.T) {
	tee, err := NewTee(16)
	if err != nil {
		t.Fatal(err)
	}
	tee.Write(make([]float32, 2*10))
	tee.Write(make([]float32, 2*10))
	tee.Write(make([]float32, 2*6))
	if got := tee.Dropped(); got != 10 {
		t.Errorf("Dropped = %d frames, want 10", got)
	}
	_, err = NewTee(1000)
	if want := "tee of 1000 frames: the count must be a power of two"; err == nil || err.Error() != want {
		t.Errorf("error = %v, want %q", err, want)
	}
}

func TestRecorderWritesEverything(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := new(memory)
		w, err := NewWAV(m, 48000, 24)
		if err != nil {
			t.Fatal(err)
		}
		tee, err := NewTee(1 << 12)
		if err != nil {
			t.Fatal(err)
		}
		live, err := NewLive(newSynth(t, 48000), tee)
		if err != nil {
			t.Fatal(err)
		}
		recorder := Record(tee, w)
		clock, err := NewClocked(48000, 128, live.Fill)
		if err != nil {
			t.Fatal(err)
		}
		for live.Blocks() < 1000 {
			synctestSleep()
		}
		clock.Close()
		if err := recorder.Close(); err != nil {
			t.Fatal(err)
		}
		if tee.Dropped() != 0 {
			t.Errorf("%d frames dropped, want 0", tee.Dropped())
		}
		if got, want := len(m.bytes)-44, int(live.Blocks())*128*6; got != want {
			t.Errorf("%d bytes of sound recorded, want %d", got, want)
		}
	})
}

func TestRecorderReportsTheFirstError(t *testing.T) {
	m := &memory{room: 44 + 600}
	w, err := NewWAV(m, 48000, 24)
	if err != nil {
		t.Fatal(err)
	}
	tee, err := NewTee(1 << 12)
	if err != nil {
		t.Fatal(err)
	}
	recorder := Record(tee, w)
	for range 5 {
		tee.Write(make([]float32, 2*50))
	}
	err = recorder.Close()
	if want := "WAV samples: disk full"; err == nil || err.Error() != want {
		t.Errorf("Close = %v, want %q", err, want)
	}
}
