package midiio

import (
	"bytes"
	"math"
	"math/big"
	"slices"
	"testing"
	"time"

	"gitlab.com/gomidi/midi/v2/smf"
	"pgregory.net/rapid"
)

func tempoFile(division int, changes ...Event) *File {
	return &File{Format: 1, Division: division, Tracks: make([]Track, 1), Events: changes}
}

func TestTempoTime(t *testing.T) {
	accelerando := tempoFile(480,
		Event{Tick: 480, Data: TempoMeta(1_000_000)},
		Event{Tick: 480, Data: TempoMeta(250_000)}, // of two at one tick the last counts
		Event{Tick: 960, Data: []byte{metaEvent, tempoChange, 0, 0, 0}},
		Event{Tick: 960, Data: []byte{metaEvent, tempoChange, 1}},
		Event{Tick: 1440, Track: 3, Data: TempoMeta(600_001)})
	for _, c := range []struct {
		file *File
		tick int64
		want time.Duration
	}{
		{tempoFile(480), 480, 500 * time.Millisecond}, // 120 bpm without a tempo event
		{tempoFile(480), 1, 1041667},                  // 1041666.67 ns
		{tempoFile(480), -5, 0},
		{tempoFile(480, Event{Data: TempoMeta(833_333)}), 480, 833333 * time.Microsecond},
		{accelerando, 480, 500 * time.Millisecond},
		{accelerando, 720, 625 * time.Millisecond},
		{accelerando, 1440, time.Second},
		{accelerando, 1441, time.Second + 1250002},
		{tempoFile(1, Event{Data: TempoMeta(1<<24 - 1)}), MaxTick, math.MaxInt64},
		{tempoFile(32767, Event{Data: TempoMeta(1)}), MaxTick, 8388864008},
		{tempoFile(480), math.MaxInt64, 286331153066666667}, // as MaxTick
	} {
		if got := c.file.Tempo().Time(c.tick); got != c.want {
			t.Errorf("division %d: tick %d is at %d ns, want %d", c.file.Division, c.tick, got, c.want)
		}
	}
}

func TestTempoTick(t *testing.T) {
	m := tempoFile(480, Event{Tick: 480, Data: TempoMeta(250_000)}).Tempo()
	for _, c := range []struct {
		at   time.Duration
		want int64
	}{
		{0, 0}, {-time.Second, 0}, {520833, 0}, {520834, 1}, {500 * time.Millisecond, 480},
		{500*time.Millisecond + 260416, 480}, {500*time.Millisecond + 260417, 481},
		{time.Second, 1440}, {math.MaxInt64, MaxTick},
	} {
		if got := m.Tick(c.at); got != c.want {
			t.Errorf("%d ns is tick %d, want %d", c.at, got, c.want)
		}
	}
}

func drawTempoFile(t *rapid.T, slowest int) *File {
	f := tempoFile(rapid.IntRange(1, 32767).Draw(t, "division"))
	tick := int64(0)
	for range rapid.IntRange(0, 6).Draw(t, "changes") {
		tick += rapid.Int64Range(0, 100_000).Draw(t, "gap")
		f.Events = append(f.Events, Event{Tick: tick, Data: TempoMeta(rapid.IntRange(67, slowest).Draw(t, "tempo"))})
	}
	return f
}

// From 67 µs per quarter note at the largest division a tick is over 2 ns.
func TestTempoThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawTempoFile(t, 1<<24-1).Tempo()
		tick := rapid.Int64Range(0, 1_000_000).Draw(t, "tick")
		if at := m.Time(tick); m.Tick(at) != tick {
			t.Fatalf("tick %d is at %v, which is tick %d", tick, at, m.Tick(at))
		}
		a, b := rapid.Int64Range(0, MaxTick).Draw(t, "a"), rapid.Int64Range(0, MaxTick).Draw(t, "b")
		if a > b {
			a, b = b, a
		}
		if m.Time(a) > m.Time(b) {
			t.Fatalf("tick %d is at %v, tick %d at %v", a, m.Time(a), b, m.Time(b))
		}
		if x, y := time.Duration(a), time.Duration(b); m.Tick(x) > m.Tick(y) {
			t.Fatalf("%d ns is tick %d, %d ns tick %d", x, m.Tick(x), y, m.Tick(y))
		}
	})
}

// The sum of the lengths of ticks, one tempo after another, in exact fractions.
func TestTempoTimeAgainstFractions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawTempoFile(t, 1<<24-1)
		tick := rapid.Int64Range(0, 700_000).Draw(t, "tick")
		sum, at, tempo := new(big.Rat), int64(0), int64(500_000)
		for _, e := range append(slices.Clone(f.Events), Event{Tick: tick, Data: TempoMeta(1)}) {
			to := min(e.Tick, tick)
			sum.Add(sum, big.NewRat((to-at)*tempo*1000, int64(f.Division)))
			at, tempo = to, int64(tempoOf(e))
		}
		got := new(big.Rat).SetInt64(int64(f.Tempo().Time(tick)))
		if off := sum.Sub(sum, got); off.Abs(off).Cmp(big.NewRat(1, 2)) > 0 {
			t.Fatalf("tick %d is at %v ns, which is %v ns off", tick, got.Num(), off)
		}
	})
}

// The library's times are whole µs, cut at each tempo change, from tempos that
// went through bpm: they agree to a few µs.
func TestTempoTimeAgainstLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		out := OutFile{Division: rapid.IntRange(24, 960).Draw(t, "division"), Tracks: make([]OutTrack, 1)}
		track := &out.Tracks[0]
		for range rapid.IntRange(1, 5).Draw(t, "changes") {
			tempo := rapid.IntRange(200_000, 2_000_000).Draw(t, "tempo")
			track.Events = append(track.Events, Event{Tick: track.End, Data: TempoMeta(tempo)})
			track.End += rapid.Int64Range(1, 10_000).Draw(t, "gap")
		}
		var file bytes.Buffer
		if err := Write(&file, out); err != nil {
			t.Fatal(err)
		}
		theirs, err := smf.ReadFrom(bytes.NewReader(file.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		f, err := Read("x.mid", bytes.NewReader(file.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		ours, want := f.Tempo().Time(track.End).Microseconds(), theirs.TimeAt(track.End)
		if ours-want > 10 || want-ours > 10 {
			t.Fatalf("tick %d is at %d µs, the library says %d µs", track.End, ours, want)
		}
	})
}
