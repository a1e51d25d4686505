package sound

import (
	"runtime"
	"testing"
)

func TestRingPutsAllOrNothing(t *testing.T) {
	r, err := newRing[int](8)
	if err != nil {
		t.Fatal(err)
	}
	into := make([]int, 8)
	next, want := 0, 0
	for round := range 50 {
		count := round % 9
		values := make([]int, count)
		for i := range values {
			values[i] = next + i
		}
		if !r.putAll(values) {
			t.Fatalf("round %d: no room for %d in an empty ring", round, count)
		}
		next += count
		if r.putAll(make([]int, 9-count)) {
			t.Fatalf("round %d: %d more fit over %d", round, 9-count, count)
		}
		for _, v := range into[:r.takeAll(into)] {
			if v != want {
				t.Fatalf("round %d: took %d, want %d", round, v, want)
			}
			want++
		}
	}
	if want != next {
		t.Errorf("took %d values of %d", want, next)
	}
}

func TestRingBlocksBetweenGoroutines(t *testing.T) {
	r, err := newRing[int](64)
	if err != nil {
		t.Fatal(err)
	}
	const n = 60000
	go func() {
		block := make([]int, 7)
		for i := 0; i < n; i += len(block) {
			for k := range block {
				block[k] = i + k
			}
			for !r.putAll(block) {
				runtime.Gosched()
			}
		}
	}()
	into := make([]int, 10)
	for want := 0; want < n; {
		got := r.takeAll(into)
		if got == 0 {
			runtime.Gosched()
		}
		for _, v := range into[:got] {
			if v != want {
				t.Fatalf("took %d, want %d", v, want)
			}
			want++
		}
	}
}
