package sound

import (
	"runtime"
	"testing"

	"pgregory.net/rapid"
)

func TestQueueKeepsOrderAndCountsWhatItRefuses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const capacity = 8
		q, err := newQueue(capacity)
		if err != nil {
			t.Fatal(err)
		}
		var model []stamped
		refused := uint64(0)
		t.Repeat(map[string]func(*rapid.T){
			"push": func(t *rapid.T) {
				m := stamped{Message: Message{rapid.Byte().Draw(t, "status"), rapid.Byte().Draw(t, "data1"), 0}}
				room := len(model) < capacity
				if got := q.push(m); got != room {
					t.Fatalf("push with %d waiting = %v, want %v", len(model), got, room)
				}
				if room {
					model = append(model, m)
				} else {
					refused++
				}
			},
			"pop": func(t *rapid.T) {
				m, ok := q.pop()
				if ok != (len(model) > 0) || ok && m != model[0] {
					t.Fatalf("pop = %v %v with %v waiting", m, ok, model)
				}
				if ok {
					model = model[1:]
				}
			},
			"": func(t *rapid.T) {
				if got := q.dropped(); got != refused {
					t.Fatalf("dropped = %d, want %d", got, refused)
				}
			},
		})
	})
}

func TestQueueBetweenGoroutines(t *testing.T) {
	q, err := newQueue(16)
	if err != nil {
		t.Fatal(err)
	}
	const n = 100000
	go func() {
		for i := range n {
			for !q.push(stamped{Message: Message{byte(i >> 16), byte(i >> 8), byte(i)}}) {
				runtime.Gosched()
			}
		}
	}()
	for i := 0; i < n; {
		m, ok := q.pop()
		if !ok {
			runtime.Gosched()
			continue
		}
		if got := int(m.Status)<<16 | int(m.Data1)<<8 | int(m.Data2); got != i {
			t.Fatalf("message %d arrives as %d", i, got)
		}
		i++
	}
}

func TestQueueDoesNotAllocate(t *testing.T) {
	q, err := newQueue(4)
	if err != nil {
		t.Fatal(err)
	}
	if n := testing.AllocsPerRun(1000, func() { q.push(stamped{}); q.pop() }); n != 0 {
		t.Errorf("push and pop allocate %v times, want 0", n)
	}
}

func TestQueueNeedsAPowerOfTwo(t *testing.T) {
	for capacity, want := range map[int]string{
		0:  "message queue: ring capacity 0 is not a power of two from 2 up",
		1:  "message queue: ring capacity 1 is not a power of two from 2 up",
		12: "message queue: ring capacity 12 is not a power of two from 2 up",
		-4: "message queue: ring capacity -4 is not a power of two from 2 up",
	} {
		if _, err := newQueue(capacity); err == nil || err.Error() != want {
			t.Errorf("newQueue(%d) error = %v, want %q", capacity, err, want)
		}
	}
}
