package sound

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// testLive gives a live synth and the clock that it reads.
func testLive(t testing.TB) (*Live, *time.Duration) {
	t.Helper()
	now := new(time.Duration)
	l, err := newLive(newSynth(t, 48000), nil, func() time.Duration { return *now })
	if err != nil {
		t.Fatal(err)
	}
	return l, now
}

// Blocks that come evenly: what was pushed at a frame sounds a block later, to
// the frame.
func TestMessagesSoundOnTheirFrame(outer *testing.T) {
	oneGoroutine(outer)
	rapid.Check(outer, func(t *rapid.T) {
		block := rapid.SampledFrom([]int{64, 128, 480}).Draw(t, "block")
		blocks := rapid.IntRange(10, 20).Draw(t, "blocks")
		frame := func(n int) time.Duration { // in the middle of it, by the clock
			return time.Duration((float64(n) + 0.5) / 48000 * float64(time.Second))
		}
		live, now := testLive(outer)
		plain := newSynth(outer, 48000)
		var got []float32
		want := make([]float32, 2*block*blocks)
		done := 0
		for n := range blocks {
			pushes := rapid.SliceOfN(rapid.IntRange(n*block, (n+1)*block-1), 0, 3).Draw(t, "at")
			slices.Sort(pushes)
			for _, at := range pushes {
				key := rapid.ByteRange(40, 80).Draw(t, "key")
				*now = frame(at)
				live.Push(0x90, key, 100)
				plain.Render(want[2*done : 2*at])
				plain.Send(0x90, key, 100)
				done = at
			}
			*now = frame((n+1)*block) - frame(0)
			out := make([]float32, 2*block)
			live.Fill(out)
			got = append(got, out...)
		}
		plain.Render(want[2*done:])
		// A block is asked for when what was pushed for it has been pushed.
		for i := range got {
			if got[i] != want[i] {
				t.Fatalf("blocks of %d, sample %d = %v, want %v", block, i, got[i], want[i])
			}
		}
	})
}

// Cards ask late, early and in bursts; the delay from key to frame hardly moves.
func TestUnevenBlocksAreEvenedOut(t *testing.T) {
	const block, rate = 256, 48000
	length := block * time.Second / rate
	for _, c := range []struct {
		name   string
		pace   float64                                // of the card's clock: the time that its blocks take, of a block
		off    func(n int, random *rand.Rand) float64 // blocks late
		spread float64                                // most, in blocks
	}{
		{"evenly", 1, func(int, *rand.Rand) float64 { return 0 }, 0.001},
		{"half a block either way", 1, func(_ int, r *rand.Rand) float64 { return r.Float64() - 0.5 }, 0.4},
		{"two at once", 1, func(n int, _ *rand.Rand) float64 { return float64(1 - n%2) }, 0.1},
		{"eight at once", 1, func(n int, _ *rand.Rand) float64 { return float64(7 - n%8) }, 0.5},
		{"a clock that runs 0.1 % fast", 0.999, func(int, *rand.Rand) float64 { return 0 }, 0.05},
	} {
		random := rand.New(rand.NewPCG(1, 2))
		var clock blockClock
		least, most := math.Inf(1), math.Inf(-1)
		for n := range 4000 {
			now := time.Duration((float64(n)*c.pace + c.off(n, random)) * float64(length))
			from, late := clock.next(now, length)
			if late {
				t.Errorf("%s: block %d counts as late", c.name, n)
			}
			if n > 500 { // where the block's first frame lies, against when it was played
				delay := float64(n)*c.pace - from.Seconds()/length.Seconds()
				least, most = min(least, delay), max(most, delay)
			}
		}
		if most-least > c.spread {
			t.Errorf("%s: the delay moves over %.3f blocks, want at most %g", c.name, most-least, c.spread)
		}
	}
}

func TestUnderrunsAreCounted(t *testing.T) {
	live, now := testLive(t)
	out := make([]float32, 2*480) // 10 ms
	late := 0
	for n := range 100 {
		*now += 10 * time.Millisecond
		if n%25 == 24 {
			*now += 60 * time.Millisecond
			late++
		}
		live.Fill(out)
	}
	if got := live.Underruns(); got != uint64(late) {
		t.Errorf("Underruns = %d, want %d", got, late)
	}
	if live.Blocks() != 100 {
		t.Errorf("Blocks = %d, want 100", live.Blocks())
	}
}

func TestLiveCountsWhatItRefuses(t *testing.T) {
	live, _ := testLive(t)
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
	live, _ := testLive(t)
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

func TestLiveEndsWithoutAClick(t *testing.T) {
	live, _ := testLive(t)
	live.Push(0xC0, 89, 0)
	live.Push(0x90, 48, 100)
	live.Fill(make([]float32, 2*72000))
	out := make([]float32, 2*9600)
	live.Fill(out[:9600])
	live.End()
	live.Fill(out[9600:])
	if got := clickDB(out); got > -70 {
		t.Errorf("the end: %.1f dB above 6 kHz, want at most -70", got)
	}
	for i, x := range out[2*4800+2*3840:] {
		if x != 0 {
			t.Fatalf("80 ms after End sample %d is %v, want silence", i, x)
		}
	}
}

func TestLiveFromTwoGoroutines(t *testing.T) {
	live, _ := testLive(t)
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
