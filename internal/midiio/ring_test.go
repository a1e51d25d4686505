package midiio

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestRingAgainstAQueue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var r Ring
		var model []Message
		var dropped uint64
		next := time.Duration(0)
		push := func() {
			next++
			m := Message{At: next, Len: 3, Data: [6]byte{0x90, byte(next % 128), 1}}
			fits := len(model) < ringSize
			if got := r.Push(m); got != fits {
				t.Fatalf("Push with %d inside = %v", len(model), got)
			}
			if fits {
				model = append(model, m)
			} else {
				dropped++
			}
		}
		pop := func() {
			m, ok := r.Pop()
			if ok != (len(model) > 0) || ok && m != model[0] {
				t.Fatalf("Pop = %v, %v with %d inside", m, ok, len(model))
			}
			if ok {
				model = model[1:]
			}
		}
		t.Repeat(map[string]func(*rapid.T){
			"push": func(*rapid.T) { push() },
			"pop":  func(*rapid.T) { pop() },
			"pushMany": func(t *rapid.T) {
				for range rapid.IntRange(1, ringSize+2).Draw(t, "pushed") {
					push()
				}
			},
			"popMany": func(t *rapid.T) {
				for range rapid.IntRange(1, ringSize+2).Draw(t, "popped") {
					pop()
				}
			},
			"": func(t *rapid.T) {
				first, waits := r.Peek()
				if waits != (len(model) > 0) || waits && first != model[0] {
					t.Fatalf("Peek = %v, %v with %d inside", first, waits, len(model))
				}
				if got := r.Dropped(); got != dropped {
					t.Fatalf("dropped %d, want %d", got, dropped)
				}
			},
		})
	})
}

func TestRingBetweenGoroutines(t *testing.T) {
	const n = 20 * ringSize
	var r Ring
	go func() {
		for i := range n {
			m := Message{At: time.Duration(i), Data: [6]byte{byte(i), byte(i >> 8), byte(i >> 16)}}
			for !r.Push(m) {
			}
		}
	}()
	for i := 0; i < n; {
		m, ok := r.Pop()
		if !ok {
			continue
		}
		want := Message{At: time.Duration(i), Data: [6]byte{byte(i), byte(i >> 8), byte(i >> 16)}}
		if m != want {
			t.Fatalf("message %d is %v, want %v", i, m, want)
		}
		i++
	}
}

func TestRingDoesNotAllocate(t *testing.T) {
	var r Ring
	if n := testing.AllocsPerRun(1000, func() { r.Push(Message{}); r.Pop() }); n != 0 {
		t.Errorf("a push and a pop allocate %v times, want 0", n)
	}
}

func TestMessageBytes(t *testing.T) {
	for _, c := range []struct {
		m    Message
		want int
	}{
		{Message{Len: 1, Data: [6]byte{0xFA}}, 1},
		{Message{Len: 2, Data: [6]byte{0xC0, 5}}, 2},
		{Message{Len: 3, Data: [6]byte{0x90, 60, 1}}, 3},
		{Message{Len: MaxSysEx, Data: [6]byte{0xF0, 0x7D, 1}}, 6},
	} {
		if got := len(c.m.Bytes()); got != c.want {
			t.Errorf("%d bytes of a message of %d, want %d", got, c.m.Len, c.want)
		}
	}
}
