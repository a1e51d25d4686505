package sound

import (
	"runtime"
	"sync/atomic"
	"testing"
)

func newLive(t testing.TB) *Live {
	t.Helper()
	l, err := NewLive(newSynth(t, 48000), nil)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestLivePlaysWhatIsPushed(t *testing.T) {
	live, plain := newLive(t), newSynth(t, 48000)
	got, want := make([]float32, 2*9600), make([]float32, 2*9600)
	if !live.Push(0x90, 60, 100) {
		t.Fatal("Push into an empty queue was refused")
	}
	live.Fill(got)
	plain.Send(0x90, 60, 100)
	plain.Render(want)
	for i := range want {
		if got[i] != want[i] {
			t.Fatalf("sample %d = %v, want %v as from the synth itself", i, got[i], want[i])
		}
	}
	if live.Blocks() != 1 {
		t.Errorf("Blocks = %d, want 1", live.Blocks())
	}
}

func TestLiveCountsWhatItRefuses(t *testing.T) {
	live := newLive(t)
	for range liveQueue {
		if !live.Push(0xB0, 7, 100) {
			t.Fatal("refused before the queue was full")
		}
	}
	if live.Push(0x90, 60, 100) || live.Refused() != 1 {
		t.Errorf("one message too many: Refused = %d, want 1", live.Refused())
	}
	live.Fill(make([]float32, 128))
	if !live.Push(0x90, 60, 100) {
		t.Error("still full after a block")
	}
}

func TestLiveRestartFadesIn(t *testing.T) {
	live := newLive(t)
	live.Push(0x90, 60, 110)
	live.Fill(make([]float32, 2*9600))
	before, after := make([]float32, 2*480), make([]float32, 2*480)
	live.Fill(before)
	live.Restart()
	live.Fill(after)
	if a, b := levelDB(after), levelDB(before); a > b-20 {
		t.Errorf("10 ms after Restart: %.1f dB, before %.1f: want 20 dB less", a, b)
	}
}

func TestLiveFromTwoGoroutines(t *testing.T) {
	live := newLive(t)
	var done atomic.Bool
	go func() {
		defer done.Store(true)
		for i := range 5000 {
			live.Push(0x90, byte(i%88+21), byte(i%100))
			if i%50 == 0 {
				live.Restart()
				runtime.Gosched()
			}
		}
	}()
	out := make([]float32, 2*64)
	for !done.Load() {
		live.Fill(out)
		checkNumbers(t, out)
	}
}

func TestLiveDoesNotAllocate(t *testing.T) {
	tee, err := NewTee(1 << 10)
	if err != nil {
		t.Fatal(err)
	}
	live, err := NewLive(newSynth(t, 48000), tee)
	if err != nil {
		t.Fatal(err)
	}
	out := make([]float32, 256)
	if n := testing.AllocsPerRun(200, func() { live.Push(0x90, 60, 90); live.Fill(out) }); n != 0 {
		t.Errorf("Push and Fill allocate %v times, want 0", n)
	}
}

func TestLiveNeedsASynth(t *testing.T) {
	if _, err := NewLive(nil, nil); err == nil || err.Error() != "live sound needs a synth" {
		t.Errorf("error = %v", err)
	}
}
