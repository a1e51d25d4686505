package midiio

import (
	"math"
	"math/bits"
	"sort"
	"time"
)

// defaultTempo is 120 bpm in µs per quarter note, which holds until a file says
// otherwise (Standard MIDI Files 1.0).
const defaultTempo = 500_000

// TempoMap tells the time of ticks and back. The zero value is not usable.
type TempoMap struct {
	division uint64
	stretch  []stretch
}

// stretch is a run of ticks of one tempo, maybe of no tick at all.
type stretch struct {
	tick  int64
	sum   uint64 // Σ ticks · µs per quarter note up to here, below 2^62
	tempo uint64 // µs per quarter note, 1…2^24-1
}

// Tempo is the map of all tempo events of the file, in whatever track they
// stand; of several at one tick the last counts. Tempo events that do not hold
// 1…16777215 µs in three bytes are passed over.
func (f *File) Tempo() TempoMap {
	changes := 0
	for _, e := range f.Events {
		if tempoOf(e) > 0 {
			changes++
		}
	}
	m := TempoMap{division: uint64(f.Division), stretch: make([]stretch, 1, 1+changes)}
	m.stretch[0].tempo = defaultTempo
	for _, e := range f.Events {
		if tempo := tempoOf(e); tempo > 0 {
			last := m.stretch[len(m.stretch)-1]
			sum := last.sum + uint64(e.Tick-last.tick)*last.tempo
			m.stretch = append(m.stretch, stretch{e.Tick, sum, tempo})
		}
	}
	return m
}

// tempoOf is the tempo of a tempo event, and 0 for anything else.
func tempoOf(e Event) uint64 {
	kind, data, ok := e.Meta()
	if !ok || kind != tempoChange || len(data) != 3 {
		return 0
	}
	return uint64(data[0])<<16 | uint64(data[1])<<8 | uint64(data[2])
}

// Time is when a tick is, to the nearest ns. Ticks are clamped to 0…MaxTick,
// times to what a Duration holds (292 years).
func (m TempoMap) Time(tick int64) time.Duration {
	tick = min(max(tick, 0), MaxTick)
	i := sort.Search(len(m.stretch), func(i int) bool { return m.stretch[i].tick > tick }) - 1
	s := m.stretch[i]
	// µs·ticks per quarter, times 1000 and over the division, are ns.
	hi, lo := bits.Mul64(s.sum+uint64(tick-s.tick)*s.tempo, 1000)
	return time.Duration(divide(hi, lo, m.division))
}

// Tick is the tick nearest to a time, within 0…MaxTick. Tick(Time(t)) is t as
// long as a tick is longer than 1 ns, which only tempos above 1.8 million bpm
// undercut.
func (m TempoMap) Tick(at time.Duration) int64 {
	hi, lo := bits.Mul64(uint64(max(at, 0)), m.division)
	i := sort.Search(len(m.stretch), func(i int) bool {
		shi, slo := bits.Mul64(m.stretch[i].sum, 1000)
		return shi > hi || shi == hi && slo > lo
	}) - 1
	s := m.stretch[i]
	shi, slo := bits.Mul64(s.sum, 1000)
	lo, borrow := bits.Sub64(lo, slo, 0)
	hi, _ = bits.Sub64(hi, shi, borrow)
	ticks := divide(hi, lo, s.tempo*1000)
	return min(s.tick+min(ticks, MaxTick), MaxTick)
}

// divide is hi·2^64+lo over d, to the nearest, at most MaxInt64.
func divide(hi, lo, d uint64) int64 {
	lo, carry := bits.Add64(lo, d/2, 0)
	hi += carry
	if hi >= d {
		return math.MaxInt64
	}
	q, _ := bits.Div64(hi, lo, d)
	return int64(min(q, math.MaxInt64))
}
